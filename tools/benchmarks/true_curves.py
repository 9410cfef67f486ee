"""What is true of a rendered set: curves from its points, in the words of formcheck's own signals.

Angles are between joint centres (`truth_points`); definitions are those of docs/method.md. Nothing is read from the
renderer's plan, so that a new measure needs no new rendering.
"""

from __future__ import annotations

import numpy as np

from packed_sets import Floats, PackedTruth

UP = np.array([0.0, 0.0, 1.0])
SIDES = ("left", "right")


def true_curves(truth: PackedTruth) -> dict[str, Floats]:
    """Curve name → (n,): ``left:arm_elevation`` of a side, ``:torso_inclination`` of the body.

    Degrees, or shares of a length; ways ahead and up in metres.
    """
    at = {name: truth.points[:, i] for i, name in enumerate(truth.names)}
    shoulders, hips, knees = ((at[f"left_{part}"] + at[f"right_{part}"]) / 2 for part in ("shoulder", "hip", "knee"))
    across = at["left_shoulder"] - at["right_shoulder"]
    ahead = unit(np.cross(across, UP))
    left = np.cross(UP, ahead)
    trunk = shoulders - hips
    lean = np.degrees(np.arctan2(dot(trunk, ahead), trunk[:, 2]))
    gaze = at["gaze"] - at["head"]
    pitch = np.degrees(np.arctan2(-gaze[:, 2], dot(gaze, ahead)))
    width = np.linalg.norm(across, axis=1)
    arms = np.mean([arm_length(at, side) for side in SIDES], axis=0)
    hand_difference = at["left_wrist"][:, 2] - at["right_wrist"][:, 2]
    out = {
        ":torso_inclination": lean,
        ":torso_side_lean": np.degrees(np.arcsin(dot(trunk, left) / np.linalg.norm(trunk, axis=1))),
        ":head_pitch": pitch,
        ":neck_extension": lean - pitch,
        ":stance_width": apart(at, "ankle") / width,
        ":grip_width": apart(at, "wrist") / width,
        ":knee_spread": apart(at, "knee") / apart(at, "ankle"),
        ":shoulder_width": width,
        ":shoulders_ahead": dot(shoulders, ahead),
        ":shoulders_up": shoulders[:, 2],
        ":hips_up": hips[:, 2],
        ":hip_to_shoulder": np.linalg.norm(trunk, axis=1),
        ":hip_below_knee": (knees[:, 2] - hips[:, 2]) / np.linalg.norm(knees - hips, axis=1),
        ":hand_height_difference": np.degrees(np.arcsin(np.clip(hand_difference / arms, -1, 1))),
        ":hands_tilt": np.degrees(np.arctan2(hand_difference, apart(at, "wrist"))),
    }
    for side in SIDES:
        sign = 1.0 if side == "left" else -1.0
        shoulder, elbow, wrist, hip, knee, ankle = (
            at[f"{side}_{part}"] for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
        )
        arm, forearm, line = elbow - shoulder, wrist - elbow, wrist - shoulder
        length = np.linalg.norm(arm, axis=1)
        flexion = np.degrees(np.arctan2(dot(arm, ahead), -arm[:, 2]))
        flexion = np.where(flexion < -120.0, flexion + 360.0, flexion)
        mine = {
            "arm_elevation": angle(arm, -trunk),
            "arm_raise": angle(arm, -UP),
            "arm_line_elevation": angle(line, -trunk),
            "arm_line_raise": angle(line, -UP),
            "arm_line_by_height": np.degrees(
                np.arccos(np.clip(-line[:, 2] / np.linalg.norm(line, axis=1).max(), -1, 1))
            ),
            "arm_flexion": flexion,
            "arm_extension": -flexion,
            "shoulder_flexion": flexion + lean,
            "arm_opening": np.degrees(np.arctan2(sign * dot(arm, left), dot(arm, ahead))),
            "elbow_ahead": dot(arm, ahead) / length,
            "elbow_flexion": angle(arm, forearm),
            "forearm_inclination": angle(forearm, UP),
            "forearm_sideways": np.degrees(np.arctan2(sign * dot(forearm, left), forearm[:, 2])),
            "wrist_above_elbow": forearm[:, 2] / np.linalg.norm(forearm, axis=1),
            "hand_height": (wrist[:, 2] - shoulder[:, 2]) / length,
            "hand_ahead": dot(wrist, ahead),
            "hand_up": wrist[:, 2],
            "palm_turn": -dot(at[f"{side}_palm"] - at[f"{side}_grip"], ahead)
            / np.linalg.norm(at[f"{side}_palm"] - at[f"{side}_grip"], axis=1),
            "ear_above_shoulder": (at[f"{side}_ear"][:, 2] - shoulder[:, 2]) / np.linalg.norm(trunk, axis=1),
            "knee_flexion": angle(knee - hip, ankle - knee),
            "thigh_inclination": angle(knee - hip, -UP),
            "shin_inclination": np.degrees(np.arctan2(dot(knee - ankle, ahead), (knee - ankle)[:, 2])),
            "hip_flexion": angle(shoulder - hip, hip - knee),
            "hand_along_trunk": dot(wrist - hip, shoulder - hip) / dot(shoulder - hip, shoulder - hip),
            "hand_from_leg": dot(wrist - leg_at(hip, knee, ankle, wrist[:, 2]), ahead)
            / np.linalg.norm(knee - hip, axis=1),
        }
        out |= {f"{side}:{name}": values for name, values in mine.items()}
    return out


def leg_at(hip: Floats, knee: Floats, ankle: Floats, height: Floats) -> Floats:
    """(n, 3) the point of the leg's line at a height."""
    above = (height >= knee[:, 2])[:, None]
    upper, lower = np.where(above, hip, knee), np.where(above, knee, ankle)
    drop = np.maximum(upper[:, 2] - lower[:, 2], 1e-3)
    share = np.clip((upper[:, 2] - height) / drop, 0.0, 1.0)
    return np.asarray(upper + share[:, None] * (lower - upper))


def arm_length(at: dict[str, Floats], side: str) -> Floats:
    """(n,) metres from shoulder over elbow to wrist."""
    shoulder, elbow, wrist = (at[f"{side}_{part}"] for part in ("shoulder", "elbow", "wrist"))
    return np.asarray(np.linalg.norm(elbow - shoulder, axis=1) + np.linalg.norm(wrist - elbow, axis=1))


def apart(at: dict[str, Floats], part: str) -> Floats:
    """(n,) metres between left and right."""
    return np.asarray(np.linalg.norm(at[f"left_{part}"] - at[f"right_{part}"], axis=1))


def dot(first: Floats, second: Floats) -> Floats:
    """(n,) products of vectors."""
    return np.asarray(np.sum(first * second, axis=1))


def unit(vectors: Floats) -> Floats:
    """(n, 3) vectors with length one."""
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))


def angle(first: Floats, second: Floats) -> Floats:
    """(n,) degrees between vectors."""
    second = np.broadcast_to(second, first.shape)
    return np.asarray(np.degrees(np.arctan2(np.linalg.norm(np.cross(first, second), axis=1), dot(first, second))))
