"""How long parts of the body are in the picture, above all the trunk, the unit of whatever is told in trunk lengths.

A trunk length reaches from the middle of the hips to the middle of the shoulders. A trunk that leans towards the camera
is seen shortened, so two scales are judged over a stretch of a clip, each not less than the shoulders' width allows:

- `compute_full_trunk_length`: the trunk where it is seen longest, for distances that the body covers;
- `compute_usual_trunk_length`: the trunk as it is mostly seen, for what shakes about where the body is at that moment.
"""

from typing import Final

import numpy as np

from formcheck.core.model import SIDES, Array, Side
from formcheck.signals.skeleton import INDEX, TRUNK_PER_SHOULDER_WIDTH, get_index

FULL_LENGTH_PERCENTILE: Final = 95.0
"""A length as it is when it is seen unshortened, robust against single wrong pictures."""


def compute_full_length(lengths: Array) -> float:
    """A length (m,) where it is seen longest; NaN when it never is."""
    return float(np.nanpercentile(lengths, FULL_LENGTH_PERCENTILE)) if np.isfinite(lengths).any() else float("nan")


def select_both_sides(pixels: Array, part: str) -> Array:
    """(n, 2, k) left and right landmark of a part of the body."""
    return pixels[:, [get_index(part, side) for side in SIDES]]


def find_middle(points: Array, part: str) -> Array:
    """(n, k) half-way between the left and right landmark of a part of the body, of landmarks (n, 33, k)."""
    return np.asarray((points[:, get_index(part, "left")] + points[:, get_index(part, "right")]) / 2)


def measure_trunk(shoulders: Array, hips: Array) -> Array:
    """(n,) distance between the middles of the shoulders (n, 2, k) and of the hips (n, 2, k); NaN where unseen."""
    return np.asarray(np.linalg.norm(_find_middle(shoulders) - _find_middle(hips), axis=1))


def measure_width(pair: Array) -> Array:
    """(n,) distance of a left and a right landmark (n, 2, k); NaN where unseen."""
    return np.asarray(np.linalg.norm(pair[:, 0] - pair[:, 1], axis=1))


def compute_full_arm_length(pixels: Array, side: Side) -> float:
    """Full length of upper arm and forearm together, pixels."""
    shoulder, elbow, wrist = (pixels[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist"))
    return sum(
        compute_full_length(np.linalg.norm(far - near, axis=1)) for near, far in ((shoulder, elbow), (elbow, wrist))
    )


def measure_drop(pixels: Array, upper: str, lower: str) -> float:
    """How far a landmark is below another in the picture, pixels: the middle of both sides and of the whole clip."""
    drops = [pixels[:, INDEX[f"{side}_{lower}"], 1] - pixels[:, INDEX[f"{side}_{upper}"], 1] for side in SIDES]
    seen = [drop for drop in drops if np.isfinite(drop).any()]
    return float(np.mean([np.nanmedian(drop) for drop in seen])) if seen else float("nan")


def compute_full_trunk_length(pixels: Array) -> float:
    """Pixels of a trunk length, from landmarks (n, 33, 2) where it is seen longest; NaN when it never is."""
    shoulders = select_both_sides(pixels, "shoulder")
    length = compute_full_length(measure_trunk(shoulders, select_both_sides(pixels, "hip")))
    return max(
        length, TRUNK_PER_SHOULDER_WIDTH * compute_full_length(measure_width(shoulders))
    )  # NaN where the length is


def compute_usual_trunk_length(shoulders: Array, hips: Array) -> float:
    """Pixels of a trunk length as it is mostly seen, from shoulders and hips (n, 2, 2); NaN when it never is."""
    length = measure_trunk(shoulders, hips)
    if not np.isfinite(length).any():
        return float("nan")
    return max(float(np.nanmedian(length)), TRUNK_PER_SHOULDER_WIDTH * float(np.nanmedian(measure_width(shoulders))))


def _find_middle(pair: Array) -> Array:
    return np.asarray((pair[:, 0] + pair[:, 1]) / 2)
