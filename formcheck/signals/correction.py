"""From landmark to joint: a small, smooth correction of angles.

The pose model's points are not the joint centres: the shoulder's rides above the joint, the hip's slides
towards the thigh when the torso bends, and an arm seen from behind is placed lower than from the front. So
angles read a few degrees off, by how much depends on the angle itself. The offsets were estimated on rendered
bodies (`benchmarks/fit_correction.py` prints them). Only about half of each is taken off, because another way of
building and posing bodies disagrees by about as much as the offset itself: the margins cover the rest.
Switched off by `Settings.correct_landmarks`.
"""

from typing import Literal

import numpy as np

from formcheck.model import Array, Side

Group = Literal["arm from front", "arm from behind", "torso"]

KNOTS_DEG = (0.0, 30.0, 60.0, 90.0, 110.0, 135.0, 160.0, 180.0)
SEEN_OFFSET_DEG: dict[Group, tuple[float, ...]] = {
    "arm from front": (-3.0, -5.0, -4.0, -0.5, 1.2, 2.0, 0.0, -1.0),
    "arm from behind": (-5.0, -7.5, -6.5, -2.5, 0.0, 0.0, 0.0, 0.0),
    "torso": (-4.0, -5.5, -6.5, -6.0, -6.0, -6.0, -6.0, -6.0),
}
"""Seen minus true angle at the knots on the tuning sets; between them a straight line."""
SEEN_OFFSET_PER_YAW = (0.0, 0.0, 0.0, 0.0, 0.12, 0.22, 0.25, 0.2)
"""Degrees an arm above the horizontal reads more for each degree the camera stands towards its side, at the knots.

Arms are raised a little in front of the frontal plane, so the arm nearer to the camera points at it.
"""
SEEN_LEFT_MORE = (0.0, 0.0, 0.8, 1.0, 0.0, -1.1, -1.5, -0.8)
"""Degrees the left arm reads more, and the right arm less, from the front, at the knots: the model is not symmetric."""
TAKEN = 0.55
"""Share of the offset that is taken off."""


def torso_offset(seen_deg: Array) -> Array:
    """What is taken off a torso inclination (...), degrees."""
    return np.asarray(TAKEN * np.interp(seen_deg, KNOTS_DEG, SEEN_OFFSET_DEG["torso"]))


def arm_offset(seen_deg: Array, side: Side, yaw_deg: float) -> Array:
    """What is taken off an upper arm's angle (...) seen with the camera at ``yaw_deg`` around the lifter, degrees."""
    if abs(yaw_deg) > 90.0:
        return np.asarray(TAKEN * np.interp(seen_deg, KNOTS_DEG, SEEN_OFFSET_DEG["arm from behind"]))
    sign = 1.0 if side == "left" else -1.0
    whole = np.array(SEEN_OFFSET_DEG["arm from front"])
    whole += sign * (yaw_deg * np.array(SEEN_OFFSET_PER_YAW) + np.array(SEEN_LEFT_MORE))
    return np.asarray(TAKEN * np.interp(seen_deg, KNOTS_DEG, whole))


def fitted_arm_offset(fitted_deg: Array, side: Side, yaw_deg: float) -> Array:
    """What is taken off an upper arm's angle (...) of the fitted body, degrees: the same without the camera's share.

    Where the camera stands is part of the fit already; that the points are not the joints is not.
    """
    return arm_offset(fitted_deg, side, 180.0 if abs(yaw_deg) > 90.0 else 0.0)
