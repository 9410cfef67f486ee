"""From landmark to joint: a small, smooth correction of angles.

The pose model's points are not the joint centres: the shoulder's rides above the joint, the hip's slides
towards the thigh when the torso bends, and an arm seen from behind is placed lower than from the front. So
angles read a few degrees off, by how much depends on the angle itself. The offsets were estimated on rendered
bodies (`benchmarks/fit_correction.py` prints them). Only half of each is taken off, because another way of
building and posing bodies disagrees by about as much as the offset itself: the margins cover the rest.
Switched off by `Settings.correct_landmarks`.
"""

from typing import Literal

import numpy as np

from formcheck.model import Array

Group = Literal["arm from front", "arm from behind", "torso"]

KNOTS_DEG = (0.0, 30.0, 60.0, 90.0, 110.0, 135.0, 160.0, 180.0)
SEEN_OFFSET_DEG: dict[Group, tuple[float, ...]] = {
    "arm from front": (-3.0, -3.3, -3.0, -0.5, 0.7, 0.9, -1.0, 0.0),
    "arm from behind": (-5.5, -9.0, -7.5, -3.4, -1.0, 0.0, 0.0, 0.0),
    "torso": (-1.2, -3.0, -5.5, -6.5, -6.5, -6.5, -6.5, -6.5),
}
"""Seen minus true angle at the knots on the tuning sets; between them a straight line."""
TAKEN = 0.5
"""Share of the offset that is taken off."""


def offset(seen_deg: Array, group: Group) -> Array:
    """What is taken off an angle of size ``seen_deg`` (...), degrees."""
    return np.asarray(TAKEN * np.interp(seen_deg, KNOTS_DEG, SEEN_OFFSET_DEG[group]))


def corrected(seen_deg: Array, group: Group) -> Array:
    """The joint's angle for the landmarks' angle (...), degrees; NaN stays NaN."""
    return np.asarray(seen_deg - offset(seen_deg, group))
