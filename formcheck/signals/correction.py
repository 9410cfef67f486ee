"""From landmark to joint: a small, smooth correction of angles.

The pose model's points are not the joint centres: the shoulder's rides above the joint, the hip's slides
towards the thigh when the torso bends, and an arm seen from behind is placed lower than from the front. So
angles read a few degrees off, by how much depends on the angle itself and on the posture: upright with long arms,
bent over, or pressing with the elbows bent. The offsets were estimated on rendered bodies
(`tools/benchmarks/fit_correction.py` prints them). Only a share of each is taken off, the larger the more alike bodies
built in different ways are in it: the margins cover the rest. Switched off by `Settings.correct_landmarks`.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.ndimage import maximum_filter1d

from formcheck.core.model import Array, Side
from formcheck.signals.geometry import compute_angle_between
from formcheck.signals.lengths import measure_trunk, measure_width, select_both_sides
from formcheck.signals.skeleton import get_index

Group = Literal["long arm", "bent over", "bent arm", "arm from behind", "torso", "elbow"]

KNOTS_DEG = (0.0, 30.0, 60.0, 90.0, 110.0, 135.0, 160.0, 180.0)
SEEN_OFFSET_DEG: dict[Group, tuple[float, ...]] = {
    "long arm": (-1.8, -2.5, -0.3, 2.5, 2.4, 0.6, -2.0, -3.0),
    "bent over": (-1.4, -3.7, -3.6, -1.4, -0.5, 0.0, 0.0, 0.0),
    "bent arm": (-3.0, -4.0, -5.0, -3.7, -0.6, 1.6, 2.3, 2.0),
    "arm from behind": (-5.0, -7.5, -6.5, -2.5, 0.0, 0.0, 0.0, 0.0),
    "torso": (-4.0, -5.5, -6.5, -6.0, -6.0, -6.0, -6.0, -6.0),
    "elbow": (-8.0, -2.0, -3.5, -5.0, -6.0, -6.0, -6.0, -6.0),
}
"""Seen minus true angle at the knots on the tuning sets; between them a straight line."""
TAKEN: dict[Group, float] = {
    "long arm": 0.8,
    "bent over": 0.8,
    "bent arm": 0.5,
    "arm from behind": 0.55,
    "torso": 0.55,
    "elbow": 0.65,
}
"""Share of the offset that is taken off."""
SEEN_OFFSET_PER_YAW = (0.0, 0.0, 0.0, 0.0, 0.12, 0.22, 0.25, 0.2)
"""Degrees an arm above the horizontal reads more for each degree the camera stands towards its side, at the knots.

Arms are raised a little in front of the frontal plane, so the arm nearer to the camera points at it.
"""
SEEN_LEFT_MORE = (0.0, 0.0, 1.0, 1.6, 0.6, -1.1, -1.5, -0.8)
"""Degrees the left arm of an upright lifter reads more from the front, and the right less: the model has a side."""
TAKEN_OF_SIDES = 0.7
"""Share of the last two that is taken off."""
LOW_ARM = (1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
GONE_AT_YAW_DEG = 30.0
"""The offset of a long arm holds from every side at the first knots; of a raised one it is gone at this yaw."""

TRUNK_PER_WIDTH = (0.8, 1.15)
"""Trunk over shoulder width in the picture: below the first bent over, above the second upright."""
BENT_ARM_DEG = (50.0, 80.0)
"""Elbow bend in the picture: below the first a long arm, above the second a bent one."""
AROUND_S = 1.5
"""An arm counts as bent this long before and after it is."""


@dataclass(frozen=True, eq=False)
class Posture:
    """How much (m,) the lifter is bent over and an arm is bent, 0..1 each, at every moment."""

    bent_over: Array
    bent_arm: Array


def estimate_posture(pixels: Array, side: Side, yaw_deg: float, rate: float) -> Posture:
    """Posture that landmarks in the picture (m, 33, 2) show from the front; a gap counts as upright with long arms."""
    shoulders = select_both_sides(pixels, "shoulder")
    trunk = measure_trunk(shoulders, select_both_sides(pixels, "hip"))
    width = measure_width(shoulders) / max(abs(np.cos(np.radians(yaw_deg))), 0.5)
    elbow = pixels[:, get_index("elbow", side)]
    bend = compute_angle_between(
        pixels[:, get_index("wrist", side)] - elbow, elbow - pixels[:, get_index("shoulder", side)]
    )
    most = maximum_filter1d(np.nan_to_num(bend), 2 * round(AROUND_S * rate) + 1, mode="nearest")
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.nan_to_num(trunk / width, nan=TRUNK_PER_WIDTH[1])
    return Posture(
        np.interp(ratio, TRUNK_PER_WIDTH, (1.0, 0.0)),
        np.interp(most, BENT_ARM_DEG, (0.0, 1.0)),
    )


def compute_torso_offset(seen_deg: Array) -> Array:
    """What is taken off a torso inclination (...), degrees."""
    return _compute_offset("torso", seen_deg)


def compute_elbow_offset(seen_deg: Array) -> Array:
    """What is taken off an elbow's bend (...) seen from the front, degrees: nearly straight arms read too straight."""
    return _compute_offset("elbow", seen_deg)


def compute_arm_offset(seen_deg: Array, side: Side, yaw_deg: float, posture: Posture) -> Array:
    """What is taken off an upper arm's angle (m,) seen with the camera at ``yaw_deg`` around the lifter, degrees."""
    if abs(yaw_deg) > 90.0:
        return _compute_offset("arm from behind", seen_deg)
    sign = 1.0 if side == "left" else -1.0
    turned = np.interp(seen_deg, KNOTS_DEG, SEEN_OFFSET_PER_YAW) * yaw_deg
    left_more = np.interp(seen_deg, KNOTS_DEG, SEEN_LEFT_MORE) * (1 - posture.bent_over)
    ahead = max(0.0, 1.0 - abs(yaw_deg) / GONE_AT_YAW_DEG)
    long = _compute_offset("long arm", seen_deg) * np.maximum(np.interp(seen_deg, KNOTS_DEG, LOW_ARM), ahead)
    upright = long * (1 - posture.bent_arm) + _compute_offset("bent arm", seen_deg) * posture.bent_arm
    whole = upright * (1 - posture.bent_over) + _compute_offset("bent over", seen_deg) * posture.bent_over
    return np.asarray(whole + TAKEN_OF_SIDES * sign * (turned + left_more))


def compute_fitted_arm_offset(fitted_deg: Array, side: Side, yaw_deg: float, posture: Posture) -> Array:
    """What is taken off an upper arm's angle (m,) of the fitted body, degrees: the same without the camera's share.

    Where the camera stands is part of the fit already; that the points are not the joints is not.
    """
    return compute_arm_offset(fitted_deg, side, 180.0 if abs(yaw_deg) > 90.0 else 0.0, posture)


def _compute_offset(group: Group, seen_deg: Array) -> Array:
    return np.asarray(TAKEN[group] * np.interp(seen_deg, KNOTS_DEG, SEEN_OFFSET_DEG[group]))
