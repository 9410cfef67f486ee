"""Faces of other people in a clip made unrecognisable in pictures that leave the machine.

Pictures a quarter of a second apart are scanned in two ways: the pose model finds people by their bodies, and the
face detector packaged with OpenCV (P. Viola and M. Jones, "Rapid object detection using a boosted cascade of simple
features", CVPR 2001) finds faces without one, such as at the edge of the picture. Neither finds every face: small,
turned away, half hidden, badly lit or in a mirror, one can stay sharp. `head_cover.PROMISE` says so wherever it is
offered.
"""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache, partial
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from formcheck.core.atomic_write import replace_file
from formcheck.core.errors import FILE, ClipError, OutputError
from formcheck.core.model import Array, LandmarkRecording
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.model_bundle import read_expected_sha256
from formcheck.privacy import head_cover
from formcheck.privacy.head_cover import Circle, Cover, find_heads, make_head_cover
from formcheck.sandbox.sandboxed_tracking import call_in_sandbox
from formcheck.video.clip_file import make_changed_error
from formcheck.video.orientation import Rgb
from formcheck.video.reader import ClipReader

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

SCAN_EVERY_S = 0.25
HOLD_S = 0.8
"""So long before and after the scan that found it a face is covered, so that one scan that misses it does no harm."""
_GROWS = 0.5
"""By so much of its radius a cover has grown at the end of that time; the person may have moved."""
_DETECTOR_EVERY = 2
"""The face detector, which costs ten times the pose model, sees every second picture."""
_FARTHEST_STEP = 6.0
"""A face this many radii away in the next picture is another one: 0.7 m in a quarter of a second is running."""
_SCAN_SIDE = 800
_SMALLEST_FACE_PX = 20
"""The cascades were trained on faces of this size and find no smaller ones in the picture scanned."""
_RADIUS_TO_BOX = 0.9
"""A detected box spans brows to chin; a circle of this share of its side reaches over hair and ears. Our choice."""
_NEIGHBOURS = 3
_CASCADES = ("haarcascade_frontalface_alt2.xml", "haarcascade_profileface.xml")

FORMAT = "formcheck-faces-1"
LARGEST = 64 * 1024**2
"""A file larger than this is not read."""


@dataclass(frozen=True, eq=False)
class OtherFaces(Cover):
    """Where faces were found in a clip, pixels of the upright clip.

    Parameters
    ----------
    t : (n,) seconds of the picture each was found in, in order.
    circles : (n, 3) x, y and radius of what covers it.
    """

    t: Array
    circles: Array

    def covers(self, t: float) -> list[Circle]:
        """What is to be covered at t seconds; a cover grows with the time to the picture it was found in."""
        first, last = np.searchsorted(self.t, [t - HOLD_S, t + HOLD_S], side="left")
        grown = 1.0 + _GROWS * np.abs(self.t[first:last] - t) / HOLD_S
        return [(x, y, radius * by) for (x, y, radius), by in zip(self.circles[first:last], grown, strict=True)]


def find_covers(clip: str | Path, recording: LandmarkRecording, *, faces_file: Path | None = None) -> tuple[Cover, ...]:
    """What hides every face of a clip: that of the lifter, then those found; as `find_other_faces`."""
    return make_head_cover(recording), find_other_faces(clip, faces_file=faces_file)


def find_other_faces(clip: str | Path, *, faces_file: Path | None = None) -> OtherFaces:
    """Scan a clip for faces, the lifter's among them; once for every file (ClipError, PoseModelError).

    Parameters
    ----------
    faces_file : where what was found is stored, for other processes and later days; its folder must be there.
    """
    stamp = _read_stamp(clip)
    if stamp is None:
        return _scan_in_sandbox(Path(clip))  # says in a sentence what is wrong with it
    return _find_cached(str(clip), stamp, faces_file)


def _read_stamp(path: str | Path) -> tuple[int, int] | None:
    """Time of the last change in nanoseconds, and size; None when it is gone."""
    try:
        found = Path(path).stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


@lru_cache(maxsize=32)
def _find_cached(path: str, stamp: tuple[int, int], faces_file: Path | None) -> OtherFaces:
    made_from = {"changed_ns": stamp[0], "bytes": stamp[1], **_detection_settings()}
    if faces_file is not None and (found := _read_faces(faces_file, made_from)) is not None:
        return OtherFaces(*found)
    faces = _scan_in_sandbox(Path(path))
    if _read_stamp(path) != stamp:
        raise make_changed_error(Path(path))
    if faces_file is not None:
        _write_faces(faces_file, made_from, faces.t, faces.circles)
    return faces


def _read_faces(path: Path, made_from: Mapping[str, Any]) -> tuple[Array, Array] | None:
    """What was stored.

    Parameters
    ----------
    made_from : what the faces depend on: the clip and the detection.

    Returns
    -------
    (n,) seconds in order and (n, 3) x, y and radius in pixels; None where nothing made from the same is stored.
    """
    try:
        if path.stat().st_size > LARGEST:
            return None
        stored = json.loads(path.read_text(encoding="utf-8"))
        if stored["format"] != FORMAT or stored["made_from"] != made_from:
            return None
        t = np.array(stored["t"], dtype=float)
        circles = np.array(stored["circles"], dtype=float).reshape(-1, 3)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    whole = t.shape == (len(circles),) and np.isfinite(t).all() and np.isfinite(circles).all()
    return (t, circles) if whole and (np.diff(t) >= 0).all() else None


def _write_faces(path: Path, made_from: Mapping[str, Any], t: Array, circles: Array) -> None:
    """Store them in one step; where the folder is missing or cannot be written to, nothing is stored."""
    if not path.parent.is_dir():
        return
    text = json.dumps({"format": FORMAT, "made_from": made_from, "t": t.tolist(), "circles": circles.tolist()})
    with suppress(OSError):
        replace_file(path, text)


@lru_cache(maxsize=1)
def _detection_settings() -> dict[str, str]:
    """What decides, beside the clip, which faces are found."""
    import cv2

    own = Path(__file__)
    code = hashlib.sha256(own.read_bytes() + Path(head_cover.__file__).read_bytes()).hexdigest()
    return {"code": code, "opencv": cv2.__version__, "mediapipe": version("mediapipe"), "model": read_expected_sha256()}


def _scan_in_sandbox(clip: Path) -> OtherFaces:
    """Scan a clip in a process of its own, as for tracking."""
    found = call_in_sandbox(clip, partial(_scan, FaceFinder, clip))
    t, circles = found.get("t"), found.get("circles")
    if t is None or circles is None or circles.shape != (*t.shape, 3) or not np.isfinite(circles).all():
        raise ClipError(f"Looking for faces in {FILE} made the video reader break down; it may be damaged.", path=clip)
    return OtherFaces(np.asarray(t, dtype=float), np.asarray(circles, dtype=float))


def _scan(make_finder: Callable[[], "FaceFinder"], clip: Path, report_alive: Callable[[], None]) -> dict[str, Array]:
    with make_finder() as finder:
        return vars(scan_clip(clip, finder, report_alive=report_alive))


def scan_clip(clip: Path, finder: "FaceFinder", *, report_alive: Callable[[], None] = lambda: None) -> OtherFaces:
    """Find the faces in a picture every `SCAN_EVERY_S` of a clip (ClipError); `report_alive` is called at each."""
    found: list[Array] = []
    before = np.empty((0, 4))
    with ClipReader(clip, max_side=_SCAN_SIDE) as reader:
        for number, (t, picture) in enumerate(_select_pictures(reader.pictures())):
            rgb = reader.rgb(picture)
            scale = reader.width / rgb.shape[1]
            circles = finder.faces(rgb, bodies_only=number % _DETECTOR_EVERY > 0)
            now = np.array([(t, x * scale, y * scale, radius * scale) for x, y, radius in circles]).reshape(-1, 4)
            found += [*(_interpolate_covers(before, cover) for cover in now), now]
            before = now
            report_alive()
    covers = np.concatenate([before[:0], *found])
    covers = covers[np.argsort(covers[:, 0], kind="stable")]
    return OtherFaces(covers[:, 0], covers[:, 1:])


def _select_pictures(pictures: Iterable[tuple[float, "VideoFrame"]]) -> Iterator[tuple[float, "VideoFrame"]]:
    """The pictures that are scanned: one every `SCAN_EVERY_S`, and the last."""
    due, last = float("-inf"), None
    for t, picture in pictures:
        last = (t, picture)
        if t >= due:
            due, last = t + SCAN_EVERY_S, None
            yield t, picture
    if last is not None:
        yield last


def _interpolate_covers(before: Array, cover: Array) -> Array:
    """Covers between the nearest face of the scan before and this one, so that who walks is not seen meanwhile.

    Parameters
    ----------
    before : (n, 4) time, x, y and radius of the faces in the picture before.
    cover : (4,) the same of one face in this picture.
    """
    distances = np.hypot(*(before[:, 1:3] - cover[1:3]).T)
    if not len(before) or distances.min() > _FARTHEST_STEP * max(cover[3], before[distances.argmin(), 3]):
        return before[:0]
    start = before[distances.argmin()]
    count = int(distances.min() / (0.5 * min(cover[3], start[3])))
    return np.asarray(start + (cover - start) * np.linspace(0.0, 1.0, count + 2)[1:-1, None])


class FaceFinder:
    """The pose model and the packaged face detector together; a context manager."""

    def __init__(self) -> None:
        """Load the face detector (OutputError when it is missing)."""
        self._cascades = [_load_cascade(name) for name in _CASCADES]
        self._model = MediaPipeEstimator()

    def __enter__(self) -> Self:
        """Get the pose model ready (PoseModelError)."""
        self._model.__enter__()
        return self

    def __exit__(self, *error: Any) -> None:
        self._model.__exit__(*error)

    def faces(self, rgb: Rgb, *, bodies_only: bool = False) -> list[Circle]:
        """What covers each face: of everybody whose body is seen, and of faces alone unless told otherwise."""
        people = [pose.pixels for pose in self._model.find_people(rgb)]
        heads = [find_heads(pixels[None], rgb.shape[1], rgb.shape[0]) for pixels in people]
        found = [(float(x), float(y), float(radius[0])) for _, centre, radius in heads for x, y in centre]
        return found if bodies_only else found + self._detect_faces(rgb)

    def _detect_faces(self, rgb: Rgb) -> list[Circle]:
        import cv2

        grey = cv2.equalizeHist(cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2GRAY))
        width, found = grey.shape[1], []
        frontal, profile = self._cascades
        # the profile cascade knows faces turned to one side only
        for cascade, turned in ((frontal, False), (profile, False), (profile, True)):
            picture = cv2.flip(grey, 1) if turned else grey
            boxes = cascade.detectMultiScale(
                picture,
                scaleFactor=1.2,
                minNeighbors=_NEIGHBOURS,
                minSize=(_SMALLEST_FACE_PX, _SMALLEST_FACE_PX),
                maxSize=(max(grey.shape) // 3,) * 2,
            )
            for x, y, wide, high in boxes:
                middle = x + wide / 2
                found.append((float(width - middle if turned else middle), y + high / 2.0, _RADIUS_TO_BOX * wide))
        return found


def _load_cascade(name: str) -> Any:
    import cv2

    with suppress(AttributeError, cv2.error):
        made = cv2.CascadeClassifier(str(Path(cv2.__file__).parent / "data" / name))
        if not made.empty():
            return made
    raise OutputError("The face detector that comes with OpenCV is missing, so faces cannot be covered.")
