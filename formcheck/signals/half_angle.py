"""What a half angle shows of the sagittal plane: the picture stretched sideways to what a camera at the side would see.

A limb that bends forwards, seen by a camera at yaw ψ, reaches sin ψ of its way ahead to the side of the picture, under
parallel projection. Divided by that, its points lie as a side view has them; what a limb reaches outwards is left in.
So only what moves in the sagittal plane is read this way, and of the two legs the nearer one: the other is half hidden.

Functions take landmark positions (m, 33, 2) in pixels and give (m,) degrees; NaN in, NaN out.
"""

import numpy as np

from formcheck.core.model import Array, CameraView, Side, SignalKey
from formcheck.signals import limbs
from formcheck.signals.camera import FACING_WITHIN_DEG, get_facing_sign, get_yaw
from formcheck.signals.geometry import compute_lean

BETWEEN_DEG = (FACING_WITHIN_DEG, 90.0 - FACING_WITHIN_DEG)
"""A view that is called a half angle stands so far from straight in front or behind, whatever its yaw seems to be."""


def stretch_to_side(pixels: Array, view: CameraView) -> Array:
    """Landmarks with their place across the picture stretched as if the camera stood at the lifter's side."""
    reach = np.clip(abs(np.sin(np.radians(get_yaw(view)))), *np.sin(np.radians(BETWEEN_DEG)))
    return np.asarray(pixels / np.array([reach, 1.0]))


def get_nearer_side(view: CameraView) -> Side:
    """The lifter's side that is turned to the camera."""
    return "left" if get_yaw(view) >= 0 else "right"


def compute_curves(pixels: Array, trunk_down: Array, view: CameraView) -> dict[SignalKey, Array]:
    """The curves that are read so; ``trunk_down`` (m, 2) from the middle of the shoulders to that of the hips."""
    side, sideways = get_nearer_side(view), stretch_to_side(pixels, view)
    return {
        ("torso_inclination", None): get_facing_sign(view) * compute_lean(-stretch_to_side(trunk_down, view)),
        ("knee_flexion", side): limbs.compute_knee_flexion(sideways, side),
        ("shin_inclination", side): limbs.compute_shin_inclination(sideways, side, view),
    }
