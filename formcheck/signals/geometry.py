"""Plane and solid geometry on arrays; knows no body part.

All angles are in degrees. NaN in, NaN out. Image coordinates have y pointing down.
"""

from typing import TypeVar

import numpy as np

from formcheck.core.model import Array, Mask

Degrees = TypeVar("Degrees", float, Array)


def compute_angle_between(first: Array, second: Array) -> Array:
    """Unsigned angle between two fields of vectors, (..., k) and (..., k) → (...), 0..180 degrees.

    A zero-length vector has no direction: NaN. Uses the half-angle form 2 atan2(|a-b|, |a+b|) of the unit
    vectors, which stays exact near 0 and 180 where acos does not (Kahan, "How futile are mindless
    assessments of roundoff", section 12; from memory).
    """
    a, b = normalise(first), normalise(second)
    return np.asarray(np.degrees(2 * np.arctan2(np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1))))


def compute_lean(vector: Array) -> Array:
    """Signed angle of image vectors (..., 2) from straight up, -180..180 degrees; positive leans right in the image."""
    return np.where(_mark_zero(vector), np.nan, np.degrees(np.arctan2(vector[..., 0], -vector[..., 1])))


def compute_angle_from_down(vector: Array) -> Array:
    """Unsigned angle of image vectors (..., 2) from straight down, 0..180 degrees."""
    return compute_angle_between(vector, np.broadcast_to(np.array([0.0, 1.0]), np.shape(vector)))


def compute_projected_angle(true_deg: Array | float, yaw_deg: Array | float) -> Array:
    """Angle from the vertical that a camera turned by ``yaw`` about the vertical sees of a planar one, degrees.

    tan(seen) = tan(true)·cos(yaw) under parallel projection; 0, 90 and 180 are fixed points.
    """
    true = np.radians(true_deg)
    return np.asarray(np.degrees(np.arctan2(np.sin(true) * np.cos(np.radians(yaw_deg)), np.cos(true))))


def wrap_degrees(angle: Degrees) -> Degrees:
    """The same direction from -180 to 180 degrees."""
    return (angle + 180.0) % 360.0 - 180.0


def compute_angle_from_height(drop: Array, length: Array | float) -> Array:
    """Angle from straight down of a segment known only by its vertical extent, 0..180 degrees.

    ``drop`` is how far the far end lies below the near end, ``length`` the segment's full length (same unit).
    Under parallel projection from any side at the segment's height, drop = length·cos(angle).
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.degrees(np.arccos(np.clip(np.asarray(drop) / length, -1.0, 1.0))))


def normalise(vector: Array) -> Array:
    """Vectors (..., k) with length one; a vector of length zero has no direction: NaN."""
    norm = np.linalg.norm(vector, axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(norm > 0, vector / norm, np.nan))


def _mark_zero(vector: Array) -> Mask:
    return np.asarray(np.linalg.norm(vector, axis=-1) == 0)
