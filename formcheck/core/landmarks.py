"""The result of tracking a clip: facts about the file, and the lifter's landmarks in every picture.

The conventions are those of `formcheck.core.model`, which hands these names on.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LANDMARK_COUNT = 33
"""Landmarks a pose of the model has; their names are in `formcheck.signals.skeleton`."""


@dataclass(frozen=True, slots=True)
class ClipInfo:
    """The facts about a clip's file and its pictures' times."""

    name: str
    sha256: str
    width: int
    """Pixels of the upright picture with square pixels."""
    height: int
    duration_s: float
    frames: int
    frame_rate: float
    """Mean frames a second, from the true presentation times."""
    variable_rate: bool
    codec: str


@dataclass(frozen=True, slots=True)
class PoseModelInfo:
    """Which pose model tracked the clip, and how."""

    name: str
    sha256: str
    every_picture: bool = False
    """Whether all pictures were tracked, also those that a review does not need."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What was seen of a clip beside the lifter."""

    others: bool = False
    """Other people are in view."""
    doubtful: bool = False
    """Somebody else could as well be the lifter."""
    cuts: tuple[float, ...] = ()
    """Times at which the clip jumps to another picture, seconds."""


@dataclass(frozen=True, slots=True)
class ClipDamage:
    """How much of a damaged clip could be read, seconds."""

    read_s: float
    length_s: float
    """Of the whole film, as far as its header, its packets or its bytes say."""


@dataclass(frozen=True, eq=False)
class LandmarkRecording:
    """All landmarks of one clip, n frames.

    Parameters
    ----------
    t : (n,) seconds, strictly increasing; true presentation times.
    pixels : (n, 33, 2) pixels of the upright clip; NaN where no person was found.
    world : (n, 33, 3) metres, the pose model's own guess; NaN where no person was found.
    visibility : (n, 33) 0..1; 0 where no person was found.

    Raises ValueError when a shape is wrong or times do not increase. Arrays are read-only copies.
    """

    clip: ClipInfo
    pose_model: PoseModelInfo
    t: Array
    pixels: Array
    world: Array
    visibility: Array
    scene: Scene = Scene()
    sway: Array | None = None
    """(n, 3) how the camera had moved since the first picture, None where it stood still: roll in radians, shift
    right and down in pixels. A point of the scene at q then lies at R(roll)·q + shift."""
    damage: ClipDamage | None = None
    """What the clip lost, None for a whole one. Pictures that were damaged are not among the frames."""

    def __post_init__(self) -> None:
        n = np.shape(self.t)[0] if np.ndim(self.t) == 1 else -1
        shapes = {
            "t": (n,),
            "pixels": (n, LANDMARK_COUNT, 2),
            "world": (n, LANDMARK_COUNT, 3),
            "visibility": (n, LANDMARK_COUNT),
        }
        if self.sway is not None:
            shapes["sway"] = (n, 3)
        for name, shape in shapes.items():
            object.__setattr__(self, name, make_read_only(getattr(self, name), shape, name))
        if n > 1 and not np.all(np.diff(self.t) > 0):
            raise ValueError("t must increase strictly")


def make_read_only(values: object, shape: tuple[int, ...], name: str) -> Array:
    """The values as an array of numbers of their own that nobody can change; ValueError for a wrong shape."""
    array = np.array(values, dtype=np.float64)
    if array.shape != shape:
        raise ValueError(f"{name} has shape {array.shape}, expected {shape}")
    array.setflags(write=False)
    return array
