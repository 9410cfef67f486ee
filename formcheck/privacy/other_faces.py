"""Faces of other people in a clip made unrecognisable in pictures that leave the machine.

Pictures a quarter of a second apart are looked at in two ways: the pose model finds people by their bodies, and the
face detector packaged with OpenCV (P. Viola and M. Jones, "Rapid object detection using a boosted cascade of simple
features", CVPR 2001) finds faces without one, such as at the edge of the picture. Neither finds every face: small,
turned away, half hidden, badly lit or in a mirror, one can stay sharp. `head_cover.PROMISE` says so wherever it is
offered.
"""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from functools import lru_cache, partial
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, Self

import numpy as np

from formcheck.core.errors import FILE, ClipError, OutputError
from formcheck.core.model import Array
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.model_bundle import read_expected_sha256
from formcheck.privacy import head_cover
from formcheck.privacy.face_cache import read_faces, write_faces
from formcheck.privacy.head_cover import head_of, hide_circle
from formcheck.sandbox.sandboxed_tracking import call_in_sandbox
from formcheck.video.clip_file import ClipLimits, make_changed_error
from formcheck.video.drawing import Rgb
from formcheck.video.reader import ClipReader

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

LOOK_EVERY_S = 0.25
HOLD_S = 0.8
"""So long before and after the look that found it a face is covered, so that one look that misses it does no harm."""
_GROWS = 0.5
"""By so much of its radius a cover has grown at the end of that time; the person may have moved."""
_DETECTOR_EVERY = 2
"""The face detector, which costs ten times the pose model, sees every second look."""
_FARTHEST_STEP = 6.0
"""A face this many radii away in the next look is another one: 0.7 m in a quarter of a second is running."""
_LOOK_SIDE = 800
_SMALLEST_FACE_PX = 20
"""The cascades were trained on faces of this size and find no smaller ones in the picture looked at."""
_RADIUS_TO_BOX = 0.9
"""A detected box spans brows to chin; a circle of this share of its side reaches over hair and ears. Our choice."""
_NEIGHBOURS = 3
_CASCADES = ("haarcascade_frontalface_alt2.xml", "haarcascade_profileface.xml")

Circle = tuple[float, float, float]
"""x, y and radius in pixels."""


class FaceDetector(Protocol):
    """Finds the faces in one picture."""

    def faces(self, rgb: Rgb, *, bodies_only: bool = False) -> list[Circle]:
        """What covers each face, pixels of the picture given; perhaps only of those whose body is seen."""


@dataclass(frozen=True, eq=False)
class OtherFaces:
    """Where faces were found in a clip, pixels of the upright clip.

    Parameters
    ----------
    t : (n,) seconds of the picture each was found in, in order.
    circles : (n, 3) x, y and radius of what covers it.
    """

    t: Array
    circles: Array

    def hide(self, rgb: Rgb, t: float, *, scale: float = 1.0) -> Rgb:
        """Make the faces coarse beyond recognition, in place, and return the picture.

        Parameters
        ----------
        rgb : (h, w, 3) writable picture.
        t : when it is shown, seconds of the clip.
        scale : pixels of this picture a pixel of the clip.
        """
        first, last = np.searchsorted(self.t, [t - HOLD_S, t + HOLD_S], side="left")
        for when, (x, y, radius) in zip(self.t[first:last], self.circles[first:last], strict=True):
            grown = radius * (1.0 + _GROWS * abs(when - t) / HOLD_S)
            hide_circle(rgb, x * scale, y * scale, grown * scale)
        return rgb


def find_other_faces(clip: str | Path, *, limits: ClipLimits | None = None, kept: Path | None = None) -> OtherFaces:
    """Look through a clip for faces, the lifter's among them; once for every file (ClipError, PoseModelError).

    Parameters
    ----------
    kept : a file in which what was found is kept, for other processes and later days; its folder must be there.
    """
    path = Path(clip)
    try:
        stamp = path.stat()
    except OSError:
        return _found(path, limits)  # says in a sentence what is wrong with it
    return _find_cached(str(path), stamp.st_mtime_ns, stamp.st_size, limits, kept)


def _stamp(path: str) -> tuple[int, int] | None:
    """Time of the last change in nanoseconds, and size; None when it is gone."""
    try:
        found = Path(path).stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


@lru_cache(maxsize=32)
def _find_cached(path: str, changed: int, size: int, limits: ClipLimits | None, kept: Path | None) -> OtherFaces:
    made_from = {"changed_ns": changed, "bytes": size, **_detection_settings()}
    if kept is not None and (found := read_faces(kept, made_from)) is not None:
        return OtherFaces(*found)
    faces = _found(Path(path), limits)
    if _stamp(path) != (changed, size):
        raise make_changed_error(Path(path))
    if kept is not None:
        write_faces(kept, made_from, faces.t, faces.circles)
    return faces


@lru_cache(maxsize=1)
def _detection_settings() -> dict[str, str]:
    """What decides, beside the clip, which faces are found."""
    import cv2

    own = Path(__file__)
    code = hashlib.sha256(own.read_bytes() + Path(head_cover.__file__).read_bytes()).hexdigest()
    return {"code": code, "opencv": cv2.__version__, "mediapipe": version("mediapipe"), "model": read_expected_sha256()}


def _found(clip: Path, limits: ClipLimits | None) -> OtherFaces:
    """Look through a clip in a process of its own, as for tracking."""
    said = call_in_sandbox(clip, partial(_look, FaceFinder, clip, limits))
    t, circles = said.get("t"), said.get("circles")
    if t is None or circles is None or circles.shape != (*t.shape, 3) or not np.isfinite(circles).all():
        raise ClipError(f"Looking for faces in {FILE} made the video reader break down; it may be damaged.", path=clip)
    return OtherFaces(np.asarray(t, dtype=float), np.asarray(circles, dtype=float))


def _look(
    make_finder: Callable[[], "FaceFinder"], clip: Path, limits: ClipLimits | None, sign: Callable[[], None]
) -> dict[str, Array]:
    with make_finder() as finder:
        faces = look_through(clip, finder, limits=limits, sign_of_life=sign)
    return {"t": faces.t, "circles": faces.circles}


def look_through(
    clip: Path,
    finder: FaceDetector,
    *,
    limits: ClipLimits | None = None,
    sign_of_life: Callable[[], None] = lambda: None,
) -> OtherFaces:
    """Look for faces in a picture every `LOOK_EVERY_S` of a clip (ClipError); `sign_of_life` is called at each."""
    found: list[tuple[float, Circle]] = []
    before: list[tuple[float, Circle]] = []
    looks = 0
    with ClipReader(clip, max_side=_LOOK_SIDE, limits=limits) as reader:
        for t, picture in _due(reader.pictures()):
            rgb = reader.rgb(picture)
            scale = reader.width / rgb.shape[1]
            circles = finder.faces(rgb, bodies_only=looks % _DETECTOR_EVERY > 0)
            now = [(t, (x * scale, y * scale, radius * scale)) for x, y, radius in circles]
            found += [step for one in now for step in _way(before, one)] + now
            before, looks = now, looks + 1
            sign_of_life()
    found.sort(key=lambda item: item[0])
    return OtherFaces(
        np.array([t for t, _ in found]), np.array([circle for _, circle in found], dtype=float).reshape(-1, 3)
    )


def _due(pictures: Iterable[tuple[float, "VideoFrame"]]) -> Iterator[tuple[float, "VideoFrame"]]:
    """The pictures that are looked at: one every `LOOK_EVERY_S`, and the last."""
    due, last = float("-inf"), None
    for t, picture in pictures:
        last = (t, picture)
        if t >= due:
            due, last = t + LOOK_EVERY_S, None
            yield t, picture
    if last is not None:
        yield last


def _way(before: list[tuple[float, Circle]], now: tuple[float, Circle]) -> list[tuple[float, Circle]]:
    """Covers on the way from the nearest face of the look before, so that who walks is not seen between two looks."""
    t, (x, y, radius) = now
    near = min(before, key=lambda item: np.hypot(item[1][0] - x, item[1][1] - y), default=None)
    if near is None:
        return []
    then, (from_x, from_y, from_radius) = near
    distance = float(np.hypot(from_x - x, from_y - y))
    if distance > _FARTHEST_STEP * max(radius, from_radius):
        return []
    count = int(distance / (0.5 * min(radius, from_radius)))
    shares = np.linspace(0.0, 1.0, count + 2)[1:-1]
    start, end = np.array([then, *near[1]]), np.array([t, x, y, radius])
    steps = (start + (end - start) * share for share in shares)
    return [(float(when), (float(a), float(b), float(c))) for when, a, b, c in steps]


class FaceFinder:
    """The pose model and the packaged face detector together; a context manager."""

    def __init__(self) -> None:
        self._stack = ExitStack()
        self._model: MediaPipeEstimator | None = None
        self._cascades: list[Any] = []

    def __enter__(self) -> Self:
        """Load both; raises PoseModelError or OutputError when that fails."""
        self._cascades = [_cascade(name) for name in _CASCADES]
        with ExitStack() as stack:
            self._model = stack.enter_context(MediaPipeEstimator())
            self._stack = stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def faces(self, rgb: Rgb, *, bodies_only: bool = False) -> list[Circle]:
        """What covers each face: of everybody whose body is seen, and of faces alone unless told otherwise."""
        assert self._model is not None
        height, width = rgb.shape[:2]
        heads = (head_of(pose.pixels, width, height) for pose in self._model.find_people(rgb))
        found = [head for head in heads if head is not None]
        return found if bodies_only else found + self._by_cascades(rgb)

    def _by_cascades(self, rgb: Rgb) -> list[Circle]:
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


def _cascade(name: str) -> Any:
    import cv2

    try:
        made = cv2.CascadeClassifier(str(Path(cv2.__file__).parent / "data" / name))
        ready = not made.empty()
    except (AttributeError, cv2.error):
        ready = False
    if not ready:
        raise OutputError("The face detector that comes with OpenCV is missing, so faces cannot be covered.")
    return made
