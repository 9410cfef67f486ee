"""Where the lifter is while a clip plays: a window around the body that moves only when the lifter does."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from formcheck.core.model import Array, LandmarkRecording, Rep

Json = dict[str, Any]
_STEP_S = 0.5
_REACH_S = 1.5
"""So long before and after a moment the body's reach counts: most of a rep, so that the window does not go up and down
with it."""
_SPARE = (0.05, 0.1, 0.05)
"""Room at the sides, above the eyes and below the feet, shares of the body's longer side."""
_DEAD_SHARE = 0.08
"""A lifter who moves by less than this share of the window leaves it where it is."""
_VISIBLE = 0.3


def find_lifter_window(recording: LandmarkRecording, reps: Sequence[Rep] = ()) -> Json | None:
    """Width and height of the window in pixels, and its middle over time; None where nobody was seen.

    Parameters
    ----------
    reps : what the lifter reaches in them is all inside; none: in the whole clip.
    """
    t = recording.t
    boxes = _find_boxes(recording)
    known = np.isfinite(boxes).all(axis=1)
    inside = known & (t >= reps[0].start_s) & (t <= reps[-1].end_s) if reps else known
    inside = inside if inside.any() else known
    if not inside.any():
        return None
    steps = np.arange(t[known][0], t[known][-1] + _STEP_S, _STEP_S)
    reach = np.array([_find_reach(boxes[known], np.abs(t[known] - step) <= _REACH_S) for step in steps])
    during = (steps >= t[inside][0] - _STEP_S) & (steps <= t[inside][-1] + _STEP_S)
    sizes = (reach[:, 2:] - reach[:, :2])[during if during.any() else slice(None)]
    width, height = np.nanmax(sizes, axis=0)
    side, above, below = (share * max(width, height) for share in _SPARE)
    middles = (reach[:, :2] + reach[:, 2:]) / 2 + (0.0, (below - above) / 2)
    size = np.array([width + 2 * side, height + above + below])
    path: list[list[float]] = []
    at = middles[0]
    for step, middle in zip(steps, middles, strict=True):
        if np.isfinite(middle).all():
            off = middle - at
            at = at + np.sign(off) * np.maximum(np.abs(off) - _DEAD_SHARE * size, 0.0)
        if not path or len(path) == 1 or [round(at[0]), round(at[1])] != path[-1][1:] or path[-2][1:] != path[-1][1:]:
            path.append([round(float(step), 2), round(float(at[0])), round(float(at[1]))])
        else:
            path[-1][0] = round(float(step), 2)
    return {"width": round(float(size[0])), "height": round(float(size[1])), "path": path}


def _find_boxes(recording: LandmarkRecording) -> Array:
    """(n, 4) left, top, right and bottom of the body in each picture; NaN where nobody was seen."""
    pixels = np.where((recording.visibility > _VISIBLE)[..., None], recording.pixels, np.nan)
    boxes = np.full((len(recording.t), 4), np.nan)
    seen = np.isfinite(pixels[..., 0]).any(axis=1)
    if seen.any():
        boxes[seen] = np.concatenate([np.nanmin(pixels[seen], axis=1), np.nanmax(pixels[seen], axis=1)], axis=1)
    return boxes


def _find_reach(boxes: Array, near: Array) -> Array:
    """(4,) the box around those that are near, single wrong pictures left out."""
    if not near.any():
        return np.full(4, np.nan)
    return np.concatenate([np.percentile(boxes[near, :2], 3, axis=0), np.percentile(boxes[near, 2:], 97, axis=0)])
