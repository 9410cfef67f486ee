"""Observations of each picture beside the landmarks: change from the one before (for cuts), and camera movement.

Both come from a small copy of the picture. Camera movement is found by following corners of the background from a
reference picture on and fitting a turn and a shift to them (RANSAC, so that what moves by itself does not count).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Array
from formcheck.pose.estimator import Pose
from formcheck.pose.person_selection import Box, make_person
from formcheck.video.orientation import Rgb, fit_size

Grey = NDArray[np.uint8]

SMALL_SIDE = 160
"""Longer side, in pixels, of the small copy of a picture that is observed."""
ROUGH_ROWS = 2
"""Rows of the picture that are averaged into one of a rough copy, at least. Of 1280 × 720 a mean is then of 16 pixels:
grain of 4 levels moves it by one, and a cut to another scene changes it by ten (`formcheck.pose.cuts`)."""
OBSERVATION_COUNT = 5
"""Numbers observed per picture: change of brightness, correlation, roll, shift right, shift down."""

CORNERS = 120
LEAST_CORNERS = 12
BODY_ROOM = 0.35
"""Room around the lifter, in sizes, in which nothing counts as background."""
SWAY_SHIFT = 0.006
"""Shift of the background within a survey span, as a share of the longer side, from which the camera sways, ..."""
SWAY_ROLL = np.radians(0.35)
"""... or its roll."""


@dataclass(slots=True)
class FrameObserver:
    """Observes the pictures of one chunk beside the pose model.

    Parameters
    ----------
    sways : whether the camera's movement is to be followed.
    width : pixels of the upright full-size picture.
    """

    sways: bool
    width: int
    _before: Grey | None = field(default=None, init=False)
    _reference: "tuple[Grey, Array] | None" = field(default=None, init=False)
    _moved: Array = field(default_factory=lambda: np.zeros(3), init=False)

    def observe(self, rgb: Rgb, pose: Pose | None) -> Sequence[float]:
        """`OBSERVATION_COUNT` numbers; roll and shift since the chunk's first picture, shift in full-size pixels.

        Parameters
        ----------
        rgb : (h, w, 3) the picture after the one before; a chunk's warm-up is observed too.
        pose : what the pose model found, pixels of this picture.
        """
        import cv2

        small = make_small_copy(rgb) if self.sways else make_rough_copy(rgb)
        grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
        change, likeness = (0.0, 1.0) if self._before is None else compare_pictures(self._before, grey)
        self._before = grey
        if self.sways:
            if pose is not None:
                pose = replace(pose, pixels=pose.pixels * (small.shape[1] / rgb.shape[1]))
            self._follow_camera(grey, pose)
        return (change, likeness, *(float(value) for value in self._moved))

    def _follow_camera(self, grey: Grey, pose: Pose | None) -> None:
        if self._reference is None:
            corners = find_background_corners(grey, () if pose is None else (make_person(pose).expand_box(BODY_ROOM),))
            if len(corners) >= LEAST_CORNERS:
                self._reference = (grey, corners)
            return
        found = measure_camera_motion(self._reference[0], grey, self._reference[1])
        if found is not None:
            self._moved = found * (1.0, self.width / grey.shape[1], self.width / grey.shape[1])


def make_small_copy(rgb: Rgb) -> Rgb:
    """The picture scaled down to `SMALL_SIDE`, each pixel the mean of those it stands for."""
    import cv2

    height, width = rgb.shape[:2]
    return np.asarray(
        cv2.resize(rgb, fit_size(width, height, SMALL_SIDE), interpolation=cv2.INTER_AREA), dtype=np.uint8
    )


def make_rough_copy(rgb: Rgb) -> Rgb:
    """As `make_small_copy`, but only some of the rows are averaged: enough to see a cut, in a third of the time."""
    import cv2

    height, width = rgb.shape[:2]
    size = fit_size(width, height, SMALL_SIDE)
    rows = rgb[:: max(1, height // (ROUGH_ROWS * size[1]))]
    return np.asarray(cv2.resize(rows, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def make_small_grey(rgb: Rgb) -> Grey:
    """The small copy in shades of grey."""
    import cv2

    return np.asarray(cv2.cvtColor(make_small_copy(rgb), cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def compare_pictures(before: Grey, after: Grey) -> tuple[float, float]:
    """Mean change of brightness, 0..1, and correlation of two pictures of one size."""
    a, b = before.astype(np.float64).ravel(), after.astype(np.float64).ravel()
    change = float(np.abs(a - b).mean()) / 255.0
    a, b = a - a.mean(), b - b.mean()
    # Sums, not products of vectors: those wake a second thread that then burns a core between two pictures.
    norm = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return change, float((a * b).sum()) / norm if norm > 0 else 1.0


def find_background_corners(grey: Grey, boxes: Sequence[Box]) -> Array:
    """(k, 2) corners of a picture worth following, outside the boxes (left, top, right, bottom)."""
    import cv2

    mask = np.full(grey.shape, 255, dtype=np.uint8)
    for left, top, right, bottom in boxes:
        mask[max(0, int(top)) : max(0, int(bottom) + 1), max(0, int(left)) : max(0, int(right) + 1)] = 0
    corners: Any = cv2.goodFeaturesToTrack(grey, CORNERS, 0.01, 3, mask=mask)
    return np.empty((0, 2)) if corners is None else np.asarray(corners, dtype=np.float64).reshape(-1, 2)


def measure_camera_motion(reference: Grey, grey: Grey, corners: Array) -> Array | None:
    """(3,) roll in radians, shift right and down in pixels of these pictures; None when it cannot be measured.

    A point of the reference at q lies at R(roll)·q + shift, with x right and y down from the picture's corner.
    """
    import cv2

    start = corners.astype(np.float32).reshape(-1, 1, 2)
    end, status, _ = cv2.calcOpticalFlowPyrLK(reference, grey, start, None, winSize=(15, 15), maxLevel=3)
    good = status.ravel() == 1
    if good.sum() < LEAST_CORNERS:
        return None
    cv2.setRNGSeed(1)  # the same picture always gives the same answer
    matrix, inliers = cv2.estimateAffinePartial2D(start[good], end[good], method=cv2.RANSAC, ransacReprojThreshold=0.6)
    if matrix is None or inliers is None or inliers.sum() < max(LEAST_CORNERS, 0.4 * good.sum()):
        return None
    return np.array([np.arctan2(matrix[1, 0], matrix[0, 0]), matrix[0, 2], matrix[1, 2]])


def join_sway(parts: Sequence[Array]) -> Array | None:
    """(n, 3) the camera's movement through a clip, None when it stood still or was not observed.

    Parameters
    ----------
    parts : (k, `OBSERVATION_COUNT`) of each chunk; between two chunks the camera is taken to stand still.
    """
    moves = [part[:, 2:] for part in parts if part.shape[1] == OBSERVATION_COUNT and len(part)]
    if not moves or not any(move.any() for move in moves):
        return None
    joined = [moves[0]]
    for move in moves[1:]:
        joined.append(_compose_motion(move, move[0], joined[-1][-1]))
    return np.concatenate(joined)


def _compose_motion(move: Array, first: Array, last: Array) -> Array:
    """A chunk's own movement, of which `first` is its beginning, on top of `last`."""
    made = np.empty_like(move)
    roll = move[:, 0] - first[0]
    cos, sin = np.cos(roll), np.sin(roll)
    # what this chunk saw since its beginning, on top of where the camera was then
    shift = move[:, 1:] - np.stack([cos * first[1] - sin * first[2], sin * first[1] + cos * first[2]], axis=1)
    made[:, 0] = roll + last[0]
    made[:, 1] = cos * last[1] - sin * last[2] + shift[:, 0]
    made[:, 2] = sin * last[1] + cos * last[2] + shift[:, 1]
    return made
