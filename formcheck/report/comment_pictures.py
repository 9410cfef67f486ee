"""The pictures a coach drew on: the clip's picture of the moment, with the pen's strokes."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from formcheck.coaching.comment import CoachComment, Stroke
from formcheck.core.model import LandmarkRecording
from formcheck.report import wording
from formcheck.report.figures import KeyPicture, encode_jpeg
from formcheck.video.drawing import INK
from formcheck.video.orientation import Rgb

_PEN = (255, 210, 74)
_HEIGHT = 480


def draw_comment_pictures(
    clip: Path,
    recording: LandmarkRecording,
    comments: Sequence[CoachComment],
    *,
    blur_faces: bool = False,
    faces_file: Path | None = None,
) -> dict[int, KeyPicture]:
    """Place of a comment in the list → its picture, of those that have strokes.

    Parameters and errors as for `formcheck.report.figures.draw_key_pictures`.
    """
    from formcheck.privacy.other_faces import find_covers
    from formcheck.report.overlay import read_key_frames

    marked = [(place, item) for place, item in enumerate(comments) if item.strokes]
    if not marked:
        return {}
    times = [item.at_s or 0.0 for _, item in marked]
    covers = find_covers(clip, recording, faces_file=faces_file) if blur_faces else ()
    found = {}
    for (place, item), at_s, frame in zip(marked, times, read_key_frames(clip, times), strict=True):
        scale = frame.shape[1] / recording.clip.width
        picture = np.array(frame)
        for cover in covers:
            cover.hide(picture, at_s, scale=scale)
        draw_strokes(picture, item.strokes, scale)
        alt = f"{wording.format_moment(at_s)} in the clip, with what the coach drew on it"
        ratio = picture.shape[1] / picture.shape[0]
        found[place] = KeyPicture(0, "coach", at_s, encode_jpeg(picture, _HEIGHT), alt, ratio)
    return found


def draw_strokes(rgb: Rgb, strokes: Sequence[Stroke], scale: float = 1.0) -> Rgb:
    """Draw pen strokes onto a picture, in place, each with a dark rim, and return the picture.

    scale : pixels of the picture for one of the clip.
    """
    import cv2

    wide = max(2, round(max(rgb.shape[:2]) / 160))
    for colour, width in ((INK, round(1.9 * wide)), (_PEN, wide)):
        for stroke in strokes:
            points = np.round(np.asarray([*stroke, stroke[-1]]) * scale * 8).astype(np.int32)
            cv2.polylines(rgb, [points], False, colour, width, cv2.LINE_AA, 3)
    return rgb
