"""The pose model: one picture in, 33 landmarks out.

How the model is run was chosen by measurement, on rendered sets with exactly known joint angles (three clips, arm
raise, both arms; root mean square error after the same 6 Hz zero-phase low-pass, lag by best shift, time a frame):

======================================  ============  ============  =====
mode                                    error, deg    lag, frames   ms
======================================  ============  ============  =====
video, true time stamps                 2.0 to 3.2    +0.3 to +0.5  17
video, time stamps stretched (in use)   1.9 to 2.8    -0.1 to +0.1  17
image                                   2.3 to 7.8    -0.8 to 0.0   29
======================================  ============  ============  =====

In video mode the model's graph smooths the landmarks with a one-euro filter (G. Casiez, N. Roussel, D. Vogel,
"1 € Filter", CHI 2012), whose smoothing vanishes as the time between samples grows. Stretched time stamps so
switch it off at no cost, and formcheck's own zero-phase filter, which has no lag, is the only smoothing. Image mode
has no lag either, but searches the person anew in every picture, which is slower and at times finds them differently.
"""

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType, TracebackType
from typing import Any, Protocol, Self, runtime_checkable

import numpy as np

from formcheck.core.errors import PoseModelError
from formcheck.core.model import LANDMARK_COUNT, Array, PoseModelInfo
from formcheck.core.seccomp import are_sockets_denied
from formcheck.pose.model_bundle import (
    BUNDLE_NAME,
    BUNDLE_PATH,
    compute_model_sha256,
    find_packaged_bundle,
    read_expected_sha256,
)
from formcheck.pose.native_log import silence_native_log
from formcheck.video.orientation import Rgb

MOST_PEOPLE = 4
"""People looked for in one picture; each costs a run of the landmark model."""
TIME_STRETCH = 100_000
"""Milliseconds passed to the model for each true one; a second becomes a day, and its smoothing filter passes all."""


UNUSED = ("matplotlib", "matplotlib.pyplot", "sounddevice")
"""What MediaPipe imports at its top and uses in none of the functions called here."""
REPORTING_SINCE = (0, 10, 33)
"""From this version on MediaPipe holds code that reports its use over the network (NOTICE)."""


@dataclass(frozen=True, eq=False, slots=True)
class Pose:
    """The landmarks of one person in one picture.

    Parameters
    ----------
    pixels : (33, 2) pixels of the picture given, x right, y down; may lie outside it.
    world : (33, 3) metres from the middle of the hips, x image-right, y down, z away from the camera; a guess.
    visibility : (33,) 0..1, the model's guess whether the landmark can be seen.
    """

    pixels: Array
    world: Array
    visibility: Array


class PoseEstimator(Protocol):
    """What tracking needs of a pose model; a context manager that follows one person through one chunk of a clip."""

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """The pose in one picture, or None; times in seconds must increase from call to call."""

    @property
    def info(self) -> PoseModelInfo:
        """Name and checksum, known before the model is loaded."""

    def __enter__(self) -> Self:
        """Get ready; PoseModelError comes from here or from the first picture, at which a model may be loaded."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the model."""


EstimatorFactory = Callable[[], PoseEstimator]


@runtime_checkable
class PeopleFinder(Protocol):
    """A pose model that can also find all people in one picture."""

    def find_people(self, rgb: Rgb) -> tuple[Pose, ...]:
        """The poses of all people found in a picture, independent of earlier pictures."""


class MediaPipeEstimator:
    """MediaPipe's pose landmarker, one person, video mode without its smoothing.

    Parameters
    ----------
    model_path : a pose landmarker bundle (``.task``); None: the one that ships with formcheck.

    Raises PoseModelError when `info` is asked for or the model is entered and the bundle is missing or not the one that
    ships; at the first picture, when the bundle is none. Following one person and finding several people each have a
    landmarker of their own, loaded at first use: whoever does but one pays for one.
    """

    def __init__(self, model_path: str | Path | None = None):
        self._path = None if model_path is None else Path(model_path)
        self._stack = ExitStack()
        self._bundle: Path | None = None
        self._landmarker: Any = None
        self._finder: Any = None
        self._media: Any = None
        self._tasks: Any = None
        self._last_stamp = -1

    @property
    def info(self) -> PoseModelInfo:
        """Name and checksum of the bundle; does not load it."""
        if self._path is None:
            return PoseModelInfo(BUNDLE_NAME, read_expected_sha256())
        return PoseModelInfo(self._path.stem, compute_model_sha256(self._path))

    def __enter__(self) -> Self:
        if self._path is None:
            path, _ = find_packaged_bundle()
        else:
            path = self._path
            compute_model_sha256(path)  # one clear sentence when it is missing
        with ExitStack() as stack:
            stack.enter_context(silence_native_log())
            self._media, self._tasks = _import_checked()
            self._bundle = path
            stack.callback(self._close)
            self._stack = stack.pop_all()
        self._last_stamp = -1
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stack.close()

    def _close(self) -> None:
        # a landmarker that is still alive when the interpreter ends prints an exception
        self._bundle = None
        if self._landmarker is not None:
            self._landmarker.close()
            self._landmarker = None
        if self._finder is not None:
            self._finder.close()
            self._finder = None

    def _load(self, *, people: int) -> Any:
        if self._bundle is None:
            raise ValueError("the estimator is used inside its with block only")
        return _create_landmarker(self._tasks, self._bundle, people)

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        """The pose in one picture, or None when nobody is found.

        Parameters
        ----------
        rgb : (h, w, 3) upright picture.
        t_s : seconds from the first picture, later than in the call before.
        """
        if self._landmarker is None:
            self._landmarker = self._load(people=1)
        height, width = rgb.shape[:2]
        stamp = max(round(t_s * 1000 * TIME_STRETCH), self._last_stamp + 1)
        self._last_stamp = stamp
        # the native side ignores strides: a padded view would be read as noise
        image = self._media.Image(self._media.ImageFormat.SRGB, np.ascontiguousarray(rgb))
        result = self._landmarker.detect_for_video(image, stamp)
        return next(iter(_read_poses(result, width, height)), None)

    def find_people(self, rgb: Rgb) -> tuple[Pose, ...]:
        """The poses of all people found in one picture, `MOST_PEOPLE` at most, independent of earlier pictures.

        Parameters
        ----------
        rgb : (h, w, 3) upright picture.
        """
        if self._finder is None:
            self._finder = self._load(people=MOST_PEOPLE)
        height, width = rgb.shape[:2]
        image = self._media.Image(self._media.ImageFormat.SRGB, np.ascontiguousarray(rgb))
        return _read_poses(self._finder.detect(image), width, height)


def _read_poses(result: Any, width: int, height: int) -> tuple[Pose, ...]:
    poses = []
    for flat, world in zip(result.pose_landmarks, result.pose_world_landmarks, strict=True):
        if len(flat) != LANDMARK_COUNT:
            raise PoseModelError(f"The pose model gives {len(flat)} landmarks, and formcheck reads {LANDMARK_COUNT}.")
        poses.append(
            Pose(
                np.array([(point.x * width, point.y * height) for point in flat], dtype=np.float64),
                np.array([(point.x, point.y, point.z) for point in world], dtype=np.float64),
                np.array([point.visibility for point in flat], dtype=np.float64),
            )
        )
    return tuple(poses)


def reports_use(version: str) -> bool:
    """Whether this version of MediaPipe holds code that reports its use; one that cannot be read counts as such."""
    numbers = re.match(r"(\d+)\.(\d+)\.(\d+)", version)
    return numbers is None or tuple(map(int, numbers.groups())) >= REPORTING_SINCE


def _import_checked() -> tuple[Any, Any]:
    """The mediapipe package and its tasks, where it may be used; PoseModelError else."""
    try:
        mediapipe, tasks = load_mediapipe()
    except (ImportError, OSError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise PoseModelError(
            f"MediaPipe cannot be loaded ({reason}); on Debian it needs libegl1 libgles2 libgl1 libglib2.0-0."
        ) from error
    if reports_use(mediapipe.__version__) and not are_sockets_denied():
        raise PoseModelError(
            f"MediaPipe {mediapipe.__version__} reports its use over the network, so formcheck loads it only in a "
            "process that can open no connection, and this one can; install MediaPipe 0.10.32 where it can be had."
        )
    return mediapipe, tasks


def _create_landmarker(tasks: Any, path: Path, people: int) -> Any:
    """A landmarker: one that follows one person, or one that finds several in a picture."""
    vision = tasks.vision
    options = vision.PoseLandmarkerOptions(
        base_options=tasks.BaseOptions(model_asset_path=str(path)),
        running_mode=vision.RunningMode.VIDEO if people == 1 else vision.RunningMode.IMAGE,
        num_poses=people,
    )
    try:
        return vision.PoseLandmarker.create_from_options(options)
    except (RuntimeError, ValueError, OSError) as error:
        if path == BUNDLE_PATH:  # its checksum was right, so it is not the file: the library says nothing of memory
            raise MemoryError from error
        raise PoseModelError(f"The pose model {path} is not a pose landmarker bundle, or it is damaged.") from error


def load_mediapipe() -> tuple[Any, Any]:
    """The mediapipe package and its tasks, without what it only draws charts and records sound with.

    That takes four fifths of the time its import takes, in each process that tracks a clip, and a third of its memory.
    Raises what the import raises.
    """
    with _leave_out(UNUSED):
        import mediapipe
        from mediapipe.tasks import python

    return mediapipe, python


@contextmanager
def _leave_out(names: tuple[str, ...]) -> Iterator[None]:
    """Empty modules in the place of these, where they are not loaded already; whoever imports them later gets them."""
    stands_in = {name: ModuleType(name) for name in names if name not in sys.modules}
    sys.modules.update(stands_in)
    try:
        yield
    finally:
        for name, module in stands_in.items():
            if sys.modules.get(name) is module:
                del sys.modules[name]
