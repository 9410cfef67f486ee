"""Where the hands are as the arms go up: the line from shoulder to wrist, seen from in front, behind or at an angle.

The whole arm's line is twice as long as the upper arm, so that a shoulder marked in the wrong place turns it half as
much. What the picture shows is turned into the angle in space by plain projection. Arms are raised a little ahead of
the line of the shoulders (`AHEAD_DEG`), so that a raised hand is nearer to a camera in front than its shoulder is: from
a camera turned by yaw it is seen shortened by the cosine of both angles together, and from a camera that looks up it
appears too high. How far the camera looks up is told by the feet of a lifter who stands.
"""

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, Side
from formcheck.signals.camera import is_from_behind
from formcheck.signals.lengths import (
    compute_full_arm_length,
    compute_full_length,
    compute_full_trunk_length,
    measure_drop,
    measure_trunk,
    measure_width,
    select_both_sides,
)
from formcheck.signals.skeleton import INDEX, get_index

AHEAD_DEG = 25.0
"""A raised arm is this far ahead of the line of the shoulders: the plane of the shoulder blade is 30 to 40 degrees
ahead (from memory), and lifters keep between the two."""
LEAST_COSINE = 0.2
"""An arm that points more nearly at the camera is taken to be shortened by no more than this."""
LEAST_WIDTH = 0.6
"""Shoulders seen nearer together than this share of their full distance are left and right that change places."""
FOLLOWED = 0.5
"""The pose model's shoulder follows this share of what a shrug lifts the joint, on rendered bodies 0.3 to 0.6."""
LEVEL_LOOK_DEG, LOOK_PER_FOOT = 28.0, -167.0
"""How far the camera looks up at the shoulders of a lifter who stands: the first, and so much for every trunk length
that the toes are seen below the heels. From rendered standing sets; without the feet the spread is 5.7 degrees, with
them 3.4."""
LOOK_WITHIN_DEG = (-12.0, 15.0)
FEET_SEEN_WITHIN_DEG = 60.0
STANDS_FROM, STANDS_WHOLLY = 0.6, 0.7
"""Trunk lengths by which the knees are below the hips of one who does not stand, and of one who does."""
UPRIGHT_FROM = (0.8, 1.15)
"""Trunk over shoulder width in the picture: below the first bent over, above the second upright."""


def estimate_look_up(pixels: Array, view: CameraView) -> float:
    """Degrees by which the camera looks up at the shoulders of a standing lifter; 0 where the feet do not tell it.

    pixels : (m, 33, 2) smoothed landmarks in the picture.
    """
    yaw = view.yaw_deg or 0.0
    scale = compute_full_trunk_length(pixels)
    foot = measure_drop(pixels, "heel", "foot_index") / scale
    thigh = measure_drop(pixels, "hip", "knee") / scale
    if is_from_behind(view) or abs(yaw) > FEET_SEEN_WITHIN_DEG or not np.isfinite(foot + thigh):
        return 0.0
    stands = np.interp(thigh, (STANDS_FROM, STANDS_WHOLLY), (0.0, 1.0))
    shoulders = select_both_sides(pixels, "shoulder")
    width = measure_width(shoulders) / max(float(np.cos(np.radians(yaw))), 0.5)
    ratio = float(np.nanmedian(measure_trunk(shoulders, select_both_sides(pixels, "hip")) / width))
    upright = np.interp(ratio, UPRIGHT_FROM, (0.0, 1.0))
    return float(stands * upright * np.clip(LEVEL_LOOK_DEG + LOOK_PER_FOOT * foot, *LOOK_WITHIN_DEG))


def compute_arm_line(pixels: Array, side: Side, view: CameraView, look_up_deg: float) -> Array:
    """Shoulder to wrist from straight down, (m,) degrees: 0 = hanging, 90 = the hand level with the shoulder."""
    out, _, up = _place_hand(pixels, side, view, look_up_deg)
    return _drop_swapped(np.degrees(np.arctan2(out, -up)), pixels)


def compute_hand_difference(pixels: Array, view: CameraView, look_up_deg: float) -> Array:
    """How much higher the left wrist is than the right, (m,) as an angle: sine = height over the arm's length.

    NaN where that is more than an arm's length: a landmark is then lost.
    """
    reach = float(np.mean([compute_full_arm_length(pixels, side) for side in SIDES]))
    if not np.isfinite(reach) or reach == 0:
        return np.full(len(pixels), np.nan)
    look = np.radians(look_up_deg)
    (_, near_left, _), (_, near_right, _) = (_place_hand(pixels, side, view, look_up_deg) for side in SIDES)
    shoulders = pixels[:, get_index("shoulder", "left")] - pixels[:, get_index("shoulder", "right")]
    nearer = near_left - near_right + shoulders[:, 0] * np.tan(np.radians(_get_turn(view)))
    higher = pixels[:, get_index("wrist", "right"), 1] - pixels[:, get_index("wrist", "left"), 1]
    sine = (higher - nearer * np.sin(look)) / np.cos(look) / reach
    with np.errstate(invalid="ignore"):
        return _drop_swapped(np.degrees(np.arcsin(np.where(np.abs(sine) <= 1.0, sine, np.nan))), pixels)


def compute_forearm_sideways(pixels: Array, side: Side, view: CameraView) -> Array:
    """Forearm from upright as a camera in front or behind sees it, (m,) degrees: positive = the hand outside the elbow.

    The camera's turn is taken out by the projection law, as for a forearm in the plane of the shoulders.
    """
    forearm = pixels[:, get_index("wrist", side)] - pixels[:, get_index("elbow", side)]
    away = (1.0 if side == "left" else -1.0) * (-1.0 if is_from_behind(view) else 1.0)
    out = away * forearm[:, 0] / np.cos(np.radians(_get_turn(view)))
    return _drop_swapped(np.degrees(np.arctan2(out, -forearm[:, 1])), pixels)


def compute_ear_gap(pixels: Array, side: Side) -> Array:
    """How far the ear is above the shoulder, (m,) trunk lengths, its changes as large as the joints' (`FOLLOWED`)."""
    gap = pixels[:, get_index("shoulder", side), 1] - pixels[:, INDEX[f"{side}_ear"], 1]
    gap = gap / compute_full_trunk_length(pixels)
    usual = float(np.nanmedian(gap)) if np.isfinite(gap).any() else float("nan")
    return np.asarray(usual + (gap - usual) / FOLLOWED)


def _drop_swapped(curve: Array, pixels: Array) -> Array:
    """The curve without the moments at which left and right change places from picture to picture."""
    width = measure_width(select_both_sides(pixels, "shoulder"))
    with np.errstate(invalid="ignore"):
        return np.where(width >= LEAST_WIDTH * compute_full_length(width), curve, np.nan)


def _place_hand(pixels: Array, side: Side, view: CameraView, look_up_deg: float) -> tuple[Array, Array, Array]:
    """How far the wrist is from its shoulder: level with the floor, towards the camera, and up; (m,) pixels each."""
    line = pixels[:, get_index("wrist", side)] - pixels[:, get_index("shoulder", side)]
    turned = np.radians(AHEAD_DEG + (1.0 if side == "left" else -1.0) * (view.yaw_deg or 0.0))
    cosine = max(abs(float(np.cos(turned))), LEAST_COSINE)
    look = np.radians(look_up_deg)
    out = np.abs(line[:, 0]) / cosine
    nearer = out * np.sin(turned)
    return out, nearer, (-line[:, 1] - nearer * np.sin(look)) / np.cos(look)


def _get_turn(view: CameraView) -> float:
    """The camera's yaw off straight in front or behind, degrees, at most 60 either way."""
    yaw = view.yaw_deg or 0.0
    return float(np.clip(yaw if abs(yaw) <= 90.0 else yaw - np.copysign(180.0, yaw), -60.0, 60.0))
