"""A small picture of the lifter for lists: of a review, beside what is drawn for it; of a clip handed in, beside it."""

import base64
import binascii
import io
from contextlib import suppress
from pathlib import Path

from formcheck.core.atomic_write import replace_file
from formcheck.core.model import LandmarkRecording
from formcheck.storage.data_folder import Artifacts

SIZE = (112, 96)
"""Width and height in pixels: twice what a list shows."""
_START = "data:image/jpeg;base64,"


def make_thumbnail(drawn: Artifacts) -> Path | None:
    """The file with the small picture, made where it is missing; None where there is no still to make it of.

    The still is that of the middle rep, which is cut to the lifter already.
    """
    if drawn.thumbnail.is_file():
        return drawn.thumbnail
    stills = drawn.top_pictures()
    if not stills:
        return None
    numbers = sorted(stills)
    picture = shrink_picture(stills[numbers[len(numbers) // 2]])
    if picture is None:
        return None
    with suppress(OSError):  # a list goes on without it
        replace_file(drawn.thumbnail, picture)
    return drawn.thumbnail if drawn.thumbnail.is_file() else None


def load_thumbnail(drawn: Artifacts) -> str:
    """The small picture of a review as a data address; empty where there is none."""
    path = make_thumbnail(drawn)
    return "" if path is None else read_picture(path)


def read_picture(path: Path) -> str:
    """A small picture as a data address; empty where there is none."""
    try:
        return _START + base64.b64encode(path.read_bytes()).decode("ascii")
    except OSError:
        return ""


def make_clip_thumbnail(clip: Path, recording: LandmarkRecording, target: Path) -> None:
    """Write a small picture from the middle of a clip, cut to the lifter (ClipError, OSError)."""
    from formcheck.report.figures import encode_jpeg, find_crop_window
    from formcheck.report.overlay import read_key_frames

    (frame,) = read_key_frames(clip, [recording.clip.duration_s / 2])
    scale = frame.shape[1] / recording.clip.width
    left, top, right, bottom = (round(edge * scale) for edge in find_crop_window(recording))
    picture = shrink_picture(encode_jpeg(frame[top:bottom, left:right], 2 * SIZE[1]))
    if picture is not None:
        replace_file(target, picture)


def shrink_picture(address: str) -> bytes | None:
    """A JPEG given as a data address, cut and shrunk to `SIZE`, as JPEG; None when it is none."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    if not address.startswith(_START):
        return None
    try:
        with Image.open(io.BytesIO(base64.b64decode(address[len(_START) :])), formats=["JPEG"]) as whole:
            small = ImageOps.fit(whole.convert("RGB"), SIZE, Image.Resampling.LANCZOS, centering=(0.5, 0.3))
    except (binascii.Error, UnidentifiedImageError, OSError, ValueError):
        return None
    out = io.BytesIO()
    small.save(out, "JPEG", quality=80)
    return out.getvalue()
