"""Curves of arms, hands and legs that one plane of the body shows, read from landmarks in the picture.

Functions take landmark positions (m, 33, 2) in pixels and give (m,); NaN in, NaN out.
"""

import numpy as np

from formcheck.core.model import Array, CameraView, Side
from formcheck.signals.camera import get_facing_sign, get_yaw, is_from_behind
from formcheck.signals.geometry import (
    compute_angle_between,
    compute_angle_from_down,
    compute_angle_from_height,
    wrap_degrees,
)
from formcheck.signals.lengths import compute_full_length
from formcheck.signals.skeleton import INDEX, get_index

UPPER_ARM_PER_TORSO = 0.55
"""An upper arm is at least this share of the torso between shoulder and hip joints, so one seen shorter points at
or away from the camera (0.162 and 0.288 of stature: de Leva 1996 and Winter's figure 4.1, both from memory)."""
THIGH_FORWARD_DEG = (30.0, 50.0)
"""Thigh from straight down in the picture: to the first as in standing or hinging, from the second as in a squat."""
BENT_FORWARD = (0.55, 0.75)
"""Reach ahead of a torso seen from in front or behind, trunk lengths: upright to the first, bent from the second."""
SHIN_PER_THIGH = 0.33
"""Lean of the shin over that of the thigh in a squat: about 30 degrees with the thigh level (common practice)."""
HIP_RIDES_UP = 0.066
"""By how much the hip's point rises from standing to a level thigh against the joint, thigh lengths (rendered squats
from the side)."""
SHORTEST_SHIN = 0.75
"""A shin seen shorter than this share of its length by a camera at the side has a knee or an ankle that went astray."""


def compute_arm_flexion(pixels: Array, side: Side, view: CameraView) -> Array:
    """Upper arm ahead of straight down as a side view shows it, degrees; behind negative, -120 at the most.

    Shoulder flexion of the neutral-zero method with an upright trunk (Norkin & White, from memory).
    """
    arm = pixels[:, get_index("elbow", side)] - pixels[:, get_index("shoulder", side)]
    angle = np.degrees(np.arctan2(get_facing_sign(view) * arm[:, 0], arm[:, 1]))
    return np.where(angle < -120.0, angle + 360.0, angle)


def compute_elbow_ahead(pixels: Array, side: Side, view: CameraView) -> Array:
    """How far the elbow is ahead of the shoulder as a side view shows it, in upper-arm lengths; behind is negative."""
    arm = pixels[:, get_index("elbow", side)] - pixels[:, get_index("shoulder", side)]
    return np.asarray(get_facing_sign(view) * arm[:, 0] / _compute_full(np.linalg.norm(arm, axis=1)))


def compute_arm_opening(pixels: Array, side: Side, view: CameraView) -> Array:
    """Upper arm opened sideways from straight ahead, degrees: 0 = ahead, 90 = in line with the shoulders.

    Read from how far the raised upper arm reaches sideways in the picture. Under parallel projection an arm opened
    by φ, seen by a camera at yaw ψ, reaches sin(φ - ψ) of its length to the right (left arm; mirrored for the
    right). The half circle of φ that lies nearest to 45° is taken: from the side every opening can be told, from
    the front or behind only up to 90°.
    """
    mirror = 1.0 if side == "left" else -1.0
    yaw = mirror * get_yaw(view)
    arm = pixels[:, get_index("elbow", side)] - pixels[:, get_index("shoulder", side)]
    reach = mirror * arm[:, 0]
    torso = pixels[:, get_index("hip", side)] - pixels[:, get_index("shoulder", side)]
    length = max(_compute_full(np.abs(reach)), UPPER_ARM_PER_TORSO * _compute_full(np.linalg.norm(torso, axis=1)))
    turned = np.degrees(np.arcsin(np.clip(reach / length, -1.0, 1.0)))
    if abs(wrap_degrees(yaw - 45.0)) <= 90.0:
        return np.asarray(yaw + turned)
    return np.asarray(wrap_degrees(yaw + 180.0) - turned)


def compute_thigh_inclination(pixels: Array, side: Side) -> Array:
    """Thigh from straight down as a side view shows it, degrees: 0 = standing, 90 = parallel to the floor.

    Low in a squat it is read from the height of the hip over the knee (`restore_knee`), in full thigh lengths: the hip
    point then rides ahead of the joint, which shortens the thigh in the picture but hardly moves it up or down.
    """
    hip, knee, ankle = (pixels[:, get_index(part, side)] for part in ("hip", "knee", "ankle"))
    seen = compute_angle_from_down(knee - hip)
    shin = compute_share_of_full(np.linalg.norm(knee - ankle, axis=1))
    height = (restore_knee(pixels, side) - hip)[:, 1] / _compute_full(np.linalg.norm(knee - hip, axis=1))
    by_height = 90.0 - np.degrees(np.arcsin(np.clip(height, -1.0, 1.0)))
    whole = seen + _measure_bend(pixels, side) * (by_height - seen)
    return np.where(shin < SHORTEST_SHIN, np.nan, whole)


def compute_thigh_inclination_by_height(pixels: Array, side: Side, view: CameraView) -> Array:
    """Thigh from straight down read from the height of the hip over the ankle (m,), degrees; for all but side views.

    The shin is taken to lean by `SHIN_PER_THIGH` of the thigh's angle; the hip's point rides up by `HIP_RIDES_UP`.
    """
    hip, knee, ankle = (pixels[:, get_index(part, side)] for part in ("hip", "knee", "ankle"))
    thigh, shin = (_compute_full(np.linalg.norm(one, axis=1)) for one in (knee - hip, ankle - knee))
    angles = np.linspace(0.0, 130.0, 261)
    down = np.cos(np.radians(angles))
    rides_up = 0.0 if is_from_behind(view) else HIP_RIDES_UP
    heights = thigh * (down + rides_up * (1.0 - down)) + shin * np.cos(np.radians(SHIN_PER_THIGH * angles))
    return np.asarray(np.interp(hip[:, 1] - ankle[:, 1], -heights, angles))


def compute_knee_flexion(pixels: Array, side: Side) -> Array:
    """Bend of the knee as a side view shows it, degrees: 0 = straight. The shin is given its full length."""
    hip, ankle = (pixels[:, get_index(part, side)] for part in ("hip", "ankle"))
    knee = restore_knee(pixels, side)
    return compute_angle_between(ankle - knee, knee - hip)


def compute_shin_inclination(pixels: Array, side: Side, view: CameraView) -> Array:
    """Shin from upright as a side view shows it, degrees; the knee ahead of the ankle is positive."""
    shin = pixels[:, get_index("knee", side)] - pixels[:, get_index("ankle", side)]
    return np.degrees(np.arctan2(get_facing_sign(view) * shin[:, 0], -shin[:, 1]))


def restore_knee(pixels: Array, side: Side) -> Array:
    """The knee (m, 2), with the thigh well forward put where the shin, as it is seen to point, has its full length.

    Low in a squat the knee's point slides down and back on the bent leg: rendered bodies' shins are then seen 0.84 to
    0.91 of their length, although they hardly leave the plane that the side view shows.
    """
    knee, ankle = (pixels[:, get_index(part, side)] for part in ("knee", "ankle"))
    shin = knee - ankle
    seen = np.linalg.norm(shin, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        longer = np.clip(_compute_full(seen) / seen, 1.0, 1.0 / SHORTEST_SHIN) - 1.0
    return np.asarray(knee + (_measure_bend(pixels, side) * longer)[:, None] * shin)


def _measure_bend(pixels: Array, side: Side) -> Array:
    """How much (m,) a thigh is forward of hanging, 0..1: what is known of low squats counts by so much."""
    thigh = pixels[:, get_index("knee", side)] - pixels[:, get_index("hip", side)]
    return np.interp(compute_angle_from_down(thigh), THIGH_FORWARD_DEG, (0.0, 1.0))


def compute_knee_flexion_by_height(pixels: Array, side: Side) -> Array:
    """Knee bend read from how far the hip has come down towards the ankle, degrees.

    Thigh and shank are taken as equally long with the hip above the ankle: height = full height·cos(bend/2).
    """
    leg = pixels[:, get_index("ankle", side)] - pixels[:, get_index("hip", side)]
    return 2.0 * compute_angle_from_height(leg[:, 1], _compute_full(np.linalg.norm(leg, axis=1)))


def compute_torso_inclination_by_height(trunk_down: Array) -> Array:
    """Torso lean read from how much of the torso's height (m, 2) is left in the picture, degrees, without sign."""
    return compute_angle_from_height(trunk_down[:, 1], _compute_full(np.linalg.norm(trunk_down, axis=1)))


def compute_torso_side_lean(trunk_down: Array, view: CameraView) -> Array:
    """How far a torso (m, 2) leans to the lifter's left, degrees: arcsine of its share sideways of the full length.

    A torso that bends forward is seen to lean by a camera that is not straight in front or behind: what of its length
    is missing upwards lies ahead, and is taken off by the camera's yaw. The little that an upright one seems to lack
    (`BENT_FORWARD`) is no lean.
    """
    full = _compute_full(np.linalg.norm(trunk_down, axis=1))
    yaw = np.radians(get_yaw(view))
    ahead = np.sqrt(np.maximum(full**2 - trunk_down[:, 1] ** 2, 0.0))
    bent = np.interp(ahead / full, BENT_FORWARD, (0.0, 1.0))
    sideways = (np.sin(yaw) * bent * ahead - trunk_down[:, 0]) / np.cos(yaw)
    return np.asarray(np.degrees(np.arcsin(np.clip(sideways / full, -1.0, 1.0))))


def compute_hip_flexion(pixels: Array, side: Side) -> Array:
    """Bend of the hip as a side view shows it, degrees: 0 = trunk in line with the thigh."""
    shoulder, hip, knee = (pixels[:, get_index(part, side)] for part in ("shoulder", "hip", "knee"))
    return compute_angle_between(knee - hip, hip - shoulder)


def compute_shoulder_flexion(pixels: Array, side: Side, view: CameraView) -> Array:
    """Upper arm ahead of the trunk's own line as a side view shows it, degrees; behind negative, -120 at the most."""
    shoulder, elbow, hip = (pixels[:, get_index(part, side)] for part in ("shoulder", "elbow", "hip"))
    arm, trunk = elbow - shoulder, hip - shoulder
    crossed = trunk[:, 1] * arm[:, 0] - trunk[:, 0] * arm[:, 1]
    angle = np.degrees(np.arctan2(get_facing_sign(view) * crossed, np.sum(trunk * arm, axis=1)))
    return np.asarray(np.where(angle < -120.0, angle + 360.0, angle))


def compute_head_pitch(pixels: Array, side: Side, view: CameraView) -> Array:
    """How far the face looks down as a side view shows it, degrees: 0 = to the horizon, negative = up.

    Read from the ear to the point half-way between eye and tip of the nose: with the Frankfurt plane level the line
    from ear to eye rises and that from ear to nose falls by about as much (from memory).
    """
    ear, eye = pixels[:, INDEX[f"{side}_ear"]], pixels[:, INDEX[f"{side}_eye"]]
    face = (eye + pixels[:, INDEX["nose"]]) / 2 - ear
    return np.asarray(np.degrees(np.arctan2(face[:, 1], get_facing_sign(view) * face[:, 0])))


def compute_hand_from_leg(pixels: Array, side: Side, view: CameraView) -> Array:
    """How far the wrist is ahead of the leg's line from hip over knee to ankle at its own height, in thigh lengths.

    Behind the line is negative; above the hip the hip and below the ankle the ankle is taken.
    """
    wrist, hip, knee, ankle = (pixels[:, get_index(part, side)] for part in ("wrist", "hip", "knee", "ankle"))
    above = wrist[:, 1] <= knee[:, 1]
    upper, lower = np.where(above[:, None], hip, knee), np.where(above[:, None], knee, ankle)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip((wrist[:, 1] - upper[:, 1]) / (lower[:, 1] - upper[:, 1]), 0.0, 1.0)
    leg = upper[:, 0] + share * (lower[:, 0] - upper[:, 0])
    return np.asarray(get_facing_sign(view) * (wrist[:, 0] - leg) / _compute_full(np.linalg.norm(knee - hip, axis=1)))


def compute_hand_along_trunk(pixels: Array, side: Side) -> Array:
    """Where the wrist is along the line from hip (0) to shoulder (1) as a side view shows it, shares of the line."""
    wrist, hip, shoulder = (pixels[:, get_index(part, side)] for part in ("wrist", "hip", "shoulder"))
    trunk = shoulder - hip
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.sum((wrist - hip) * trunk, axis=1) / np.sum(trunk**2, axis=1))


def locate(points: Array, trunk_down: Array, view: CameraView) -> tuple[Array, Array]:
    """Where points (m, 2) are in the picture, ahead and up from its corner, in full torso lengths."""
    scale = _compute_full(np.linalg.norm(trunk_down, axis=1))
    return np.asarray(get_facing_sign(view) * points[:, 0] / scale), np.asarray(-points[:, 1] / scale)


def compute_share_of_full(lengths: Array) -> Array:
    """Lengths seen in the picture (m,) over their full length in the clip."""
    return np.asarray(lengths / _compute_full(lengths))


def _compute_full(lengths: Array) -> float:
    return compute_full_length(lengths) or float("nan")  # a length of zero has no share of itself
