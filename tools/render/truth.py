"""What is true of a posed body: joint angles from its 3D joints, and the extremes of each repetition."""

from __future__ import annotations

from typing import Any

import numpy as np

from body import SIDES, Array
from motion import Times

DOWN = np.array([0.0, 0.0, -1.0])
SWINGS = ("arm_elev", "arm_raise", "elbow_flex", "knee_flex")


def angle(first: Array, second: Array) -> float:
    """Angle between two vectors, degrees."""
    cosine = float(first @ second) / float(np.linalg.norm(first) * np.linalg.norm(second))
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def angles_of(joints: dict[str, Array]) -> dict[str, float]:
    """All angles of one moment, degrees."""
    shoulders = (joints["left_shoulder"] + joints["right_shoulder"]) / 2
    hips = (joints["left_hip"] + joints["right_hip"]) / 2
    trunk = hips - shoulders
    across = joints["left_shoulder"] - joints["right_shoulder"]
    ahead = np.cross(across, -DOWN)
    ahead = ahead / np.linalg.norm(ahead)
    result = {
        "torso_incl": angle(trunk, DOWN),
        "torso_lean": float(np.degrees(np.arctan2(-trunk @ ahead, -trunk[2]))),
    }
    for side in SIDES:
        shoulder, elbow, wrist = (joints[f"{side}_{name}"] for name in ("shoulder", "elbow", "wrist"))
        hip, knee, ankle = (joints[f"{side}_{name}"] for name in ("hip", "knee", "ankle"))
        result[f"{side}_arm_elev"] = angle(elbow - shoulder, trunk)
        result[f"{side}_arm_raise"] = angle(elbow - shoulder, DOWN)
        result[f"{side}_elbow_flex"] = angle(elbow - shoulder, wrist - elbow)
        result[f"{side}_knee_flex"] = angle(knee - hip, ankle - knee)
    return result


def rep_truth(times: list[Times], frames: dict[str, list[float]]) -> list[dict[str, Any]]:
    """Each repetition: planned times, extremes over its frames, and whether it is complete.

    Complete: the range of the arm raise is at least 60 % of the median range of the set.
    """
    t = np.asarray(frames["t"])
    reps = []
    for one in times:
        rep: dict[str, Any] = {name: round(getattr(one, name), 3) for name in ("start", "top_start", "top_end", "end")}
        during = (t >= rep["start"]) & (t <= rep["end"])
        for side in SIDES:
            for name, low, high in (
                ("arm_elev", "low", "peak"),
                ("arm_raise", "low", "peak"),
                ("elbow_flex", "min", "max"),
            ):
                values = np.asarray(frames[f"{side}_{name}"])[during]
                rep[f"{side}_{name}_{low}"] = float(values.min())
                rep[f"{side}_{name}_{high}"] = float(values.max())
            rep[f"{side}_knee_flex_mean"] = round(float(np.mean(np.asarray(frames[f"{side}_knee_flex"])[during])), 2)
        incl = np.asarray(frames["torso_incl"])[during]
        rep["torso_incl_min"], rep["torso_incl_max"] = float(incl.min()), float(incl.max())
        rep["torso_incl_mean"] = round(float(incl.mean()), 2)
        reps.append(rep)
    ranges = [np.mean([rep[f"{side}_arm_raise_peak"] - rep[f"{side}_arm_raise_low"] for side in SIDES]) for rep in reps]
    for rep, size in zip(reps, ranges, strict=True):
        rep["complete"] = bool(size >= 0.6 * np.median(ranges))
    return reps
