"""Finds cuts in a clip: jumps to another scene, or over a stretch of time with the camera standing still.

Either way one picture changes far more than the few before and after it; a lifter who moves, a pan of the camera or
somebody who walks past changes several in a row. A lamp that goes on changes brightness and leaves the picture alike.
The figures are from 16 rendered clips, the same with two pieces cut out of each, and pairs of them behind one another:
within the uncut ones a picture's change is at most 0.012 and 1.0 times that of its neighbours. What of such cuts is
found, `tools/benchmarks/cuts.py` prints; those missed hardly move the body, or the compression is too heavy.
"""

import numpy as np

from formcheck.core.model import SIDES, Array
from formcheck.signals.lengths import measure_trunk, select_both_sides
from formcheck.signals.skeleton import get_index

NEIGHBOURS = (2, 3, 4)
"""How many pictures before and after are compared; not the next, which a cut between two rates blends in."""
BODY_NEIGHBOURS_S = (0.05, 0.14)
"""How far before and after a picture others are with whose movement of the body its own is compared, seconds: a squat
that is dropped into begins within three pictures at 15 a second."""
SCENE_CHANGE, SCENE_SUDDEN, SCENE_LIKENESS = 0.04, 3.0, 0.93
"""Another scene: mean change of brightness, 0..1, how many times the neighbours' it is, and the correlation below."""
JUMP_SUDDEN = 1.4
"""Time cut out: the change of the picture against the neighbours', ..."""
BODY_SUDDEN, BODY_MOVED = 2.0, 0.1
"""... that of the body's landmarks, and their way, in trunk lengths; a smaller jump leaves every angle as it is."""
PICTURE_FLOOR, BODY_FLOOR = 1e-3, 0.01
"""Changes that still pictures and landmarks have too."""
STILL = 3e-4
"""A picture that changes less is the one before shown again, or heavy compression lets old blocks stand until a key
picture renews all: what the next one changes took as long."""
FLASH_S = 0.15
"""Two jumps nearer than this are a flash, or a hand before the lens."""

LOST_S = 1.0
"""The lifter may be found again so late after a jump."""

_BODY = [get_index(part, side) for part in ("shoulder", "elbow", "wrist", "hip", "knee") for side in SIDES]


def find_cuts(t: Array, observations: Array, pixels: Array) -> tuple[float, ...]:
    """Times of the first picture after each jump, seconds.

    Parameters
    ----------
    t : (n,) seconds.
    observations : (n, 2 or more) mean change of brightness, 0..1, and correlation with the picture before
        (`formcheck.pose.frame_observations.FrameObserver`); (n, 0) without an observer, which finds none.
    pixels : (n, 33, 2) landmarks; NaN where nobody was found.
    """
    if len(t) < 3 or observations.shape[1] < 2:
        return ()
    change, likeness = observations[:, 0], observations[:, 1]
    took = _compute_change_times(t, change)
    picture = _divide_by_neighbours(change / took, PICTURE_FLOOR)
    body = _BodyMotion(t, pixels)
    scene = (change > SCENE_CHANGE) & (likeness < SCENE_LIKENESS) & (picture > SCENE_SUDDEN)
    found: list[int] = []
    for index in np.flatnonzero(scene | (picture > JUMP_SUDDEN)).tolist():
        # Of two pictures in a row the first is the cut, the second its blend.
        if index < 1 or (found and index - found[-1] == 1):
            continue
        if scene[index] or body.jumps(index, float(took[index])):
            found.append(index)
    times = [round(float(t[index]), 4) for index in found]
    return tuple(one for one in times if not any(0 < abs(one - other) < FLASH_S for other in times))


def _compute_change_times(t: Array, change: Array) -> Array:
    """(n,) how long each picture's change took, in usual steps of time, at least 1."""
    steps = np.diff(t)
    since = np.arange(len(t)) - 1
    for index in range(2, len(t)):
        if change[index - 1] < STILL:
            since[index] = since[index - 1]
    took = t - t[np.maximum(since, 0)]
    return np.asarray(np.maximum(took / max(float(np.median(steps)), 1e-9), 1.0))


class _BodyMotion:
    """How the body's landmarks move from picture to picture, in trunk lengths."""

    def __init__(self, t: Array, pixels: Array) -> None:
        trunk = measure_trunk(select_both_sides(pixels, "shoulder"), select_both_sides(pixels, "hip"))
        self._t, self._seen = t, np.flatnonzero(np.isfinite(trunk))
        self._points = pixels[:, _BODY] / max(float(np.median(trunk[self._seen])) if len(self._seen) else 1.0, 1e-9)
        moved = np.zeros(len(t))
        moved[1:] = np.nan_to_num(_compute_distance(self._points[:-1], self._points[1:]))
        self._step = float(np.median(np.diff(t)))
        self._usual = _find_largest_around(t, moved, *BODY_NEIGHBOURS_S)

    def jumps(self, at: int, took: float) -> bool:
        """Whether the body is elsewhere from this picture on, which took so many usual steps of time to change."""
        now = int(np.searchsorted(self._seen, at))
        if not 0 < now < len(self._seen):
            return False
        before, after = self._seen[now - 1], self._seen[now]
        apart = float(self._t[after] - self._t[before])
        if apart > LOST_S:
            return False
        distance = float(_compute_distance(self._points[before], self._points[after]))
        steps = max(took, apart / max(self._step, 1e-9), 1.0)
        return bool(distance > max(BODY_MOVED, BODY_SUDDEN * (steps * self._usual[at] + BODY_FLOOR)))


def _compute_distance(before: Array, after: Array) -> Array:
    """(...) root mean square distance of points (..., k, 2)."""
    return np.asarray(np.sqrt(((after - before) ** 2).sum(axis=-1).mean(axis=-1)))


def _divide_by_neighbours(values: Array, floor: float) -> Array:
    """(n,) each value over the largest of its neighbours and the floor."""
    return np.asarray(values / (_find_largest_neighbour(values) + floor))


def _find_largest_neighbour(values: Array) -> Array:
    """(n,) the largest value among each one's `NEIGHBOURS`."""
    largest = np.zeros(len(values))
    for step in NEIGHBOURS:
        largest[step:] = np.maximum(largest[step:], values[:-step])
        largest[:-step] = np.maximum(largest[:-step], values[step:])
    return largest


def _find_largest_around(t: Array, values: Array, nearest_s: float, farthest_s: float) -> Array:
    """(n,) the largest value among those so many seconds before and after each one, rounded to milliseconds."""
    largest = np.zeros(len(values))
    for step in range(1, min(len(t), 1 + max(NEIGHBOURS))):
        apart = np.round(t[step:] - t[:-step], 3)
        near = (apart >= nearest_s) & (apart <= farthest_s)
        largest[step:] = np.maximum(largest[step:], np.where(near, values[:-step], 0.0))
        largest[:-step] = np.maximum(largest[:-step], np.where(near, values[step:], 0.0))
    return largest
