"""What is true of a posed body beyond `truth.angles_of`, in the words of formcheck's own signals."""

from __future__ import annotations

import numpy as np

from arm import UP
from body import SIDES, Array, Posed, RestBody
from posture import Hand
from truth import DOWN, angle


def signals_of(body: RestBody, posed: Posed, joints: dict[str, Array], hands: dict[str, Hand]) -> dict[str, float]:
    """One moment's curves, keys ``side:signal`` or ``:signal``; degrees, or shares of a length.

    Widths are between joint centres, which are not where the landmarks are.
    """
    across = joints["left_shoulder"] - joints["right_shoulder"]
    ahead = np.cross(across, UP)
    ahead = ahead / np.linalg.norm(ahead)
    left = np.cross(UP, ahead)
    shoulders, hips = (_middle(joints, part) for part in ("shoulder", "hip"))
    trunk = shoulders - hips
    lean = float(np.degrees(np.arctan2(trunk @ ahead, trunk[2])))
    face = posed.rotations[body.bone("head")] @ np.array([0.0, -1.0, 0.0])
    pitch = float(np.degrees(np.arctan2(-face[2], face @ ahead)))
    width = float(np.linalg.norm(across))
    ankles, wrists = (_apart(joints, part) for part in ("ankle", "wrist"))
    out = {
        ":torso_inclination": lean,
        ":torso_side_lean": float(np.degrees(np.arctan2(trunk @ left, trunk[2]))),
        ":head_pitch": pitch,
        ":neck_extension": lean - pitch,
        ":stance_width": ankles / width,
        ":grip_width": wrists / width,
        ":knee_spread": _apart(joints, "knee") / ankles,
        ":shoulder_width": width,
        # In metres: only ways set against ways are read from these.
        ":shoulders_ahead": float(shoulders @ ahead),
        ":shoulders_up": float(shoulders[2]),
    }
    for side in SIDES:
        sign = 1.0 if side == "left" else -1.0
        shoulder, elbow, wrist = (joints[f"{side}_{name}"] for name in ("shoulder", "elbow", "wrist"))
        hip, knee, ankle = (joints[f"{side}_{name}"] for name in ("hip", "knee", "ankle"))
        arm = elbow - shoulder
        length = float(np.linalg.norm(arm))
        flexion = float(np.degrees(np.arctan2(arm @ ahead, -arm[2])))
        flexion = flexion + 360.0 if flexion < -120.0 else flexion
        mine = {
            "arm_elevation": angle(arm, hips - shoulders),
            "arm_raise": angle(arm, DOWN),
            "arm_flexion": flexion,
            "arm_extension": -flexion,
            "shoulder_flexion": flexion + lean,
            "arm_opening": float(np.degrees(np.arctan2(sign * arm @ left, arm @ ahead))),
            "elbow_ahead": float(arm @ ahead) / length,
            "elbow_flexion": angle(arm, wrist - elbow),
            "hand_height": float(wrist[2] - shoulder[2]) / length,
            "hand_ahead": float(wrist @ ahead),
            "hand_up": float(wrist[2]),
            "palm_turn": -float(hands[side].axes[:, 1] @ ahead),
            "knee_flexion": angle(knee - hip, ankle - knee),
            "thigh_inclination": angle(knee - hip, DOWN),
            "hip_flexion": angle(shoulder - hip, hip - knee),
            "hand_from_leg": float((wrist - _leg_at(hip, knee, ankle, float(wrist[2]))) @ ahead)
            / float(np.linalg.norm(knee - hip)),
        }
        out |= {f"{side}:{name}": value for name, value in mine.items()}
    return out


def _leg_at(hip: Array, knee: Array, ankle: Array, height: float) -> Array:
    """(3,) the point of the leg's line at a height."""
    upper, lower = (hip, knee) if height >= knee[2] else (knee, ankle)
    share = np.clip((upper[2] - height) / (upper[2] - lower[2]), 0.0, 1.0)
    return np.asarray(upper + share * (lower - upper))


def _middle(joints: dict[str, Array], part: str) -> Array:
    return np.asarray((joints[f"left_{part}"] + joints[f"right_{part}"]) / 2)


def _apart(joints: dict[str, Array], part: str) -> float:
    return float(np.linalg.norm(joints[f"left_{part}"] - joints[f"right_{part}"]))
