"""What the body does, coarsely, in the pose model's world points: good enough to tell exercises apart, not to measure.

Everything is read off the better seen arm and leg, so a hidden side does not count.
"""

from collections.abc import Mapping

import numpy as np

from formcheck.model import SIDES, Array, LandmarkRecording, Settings, Side
from formcheck.signals.filtering import low_pass, resample, uniform_grid
from formcheck.signals.skeleton import sided

Features = Mapping[str, Array]

SMOOTH_HZ = 3.0


def features(recording: LandmarkRecording, grid: Array, settings: Settings) -> Features:
    """Curves (m,) at times grid (m,), degrees unless said otherwise; NaN in long gaps.

    lean : torso forward from upright. thigh, arm : from straight down. knee, elbow : flexion. out, ahead : sideways and
    forward part of the upper arm's direction, -1..1. hand : height above the shoulder in upper-arm lengths. gap :
    distance between the hands in shoulder widths.
    """
    world = np.array(recording.world)
    own = uniform_grid(recording.t, rate=recording.clip.frame_rate)
    smooth = resample(recording.t, world, own, max_gap_s=settings.max_gap_s)
    smooth = resample(own, low_pass(smooth, recording.clip.frame_rate, SMOOTH_HZ), grid, max_gap_s=settings.max_gap_s)
    across = _unit(_level(_line(smooth, "shoulder") + _line(smooth, "hip")))
    # Left × down = ahead: the lifter's left is +x when they face the camera, which looks along +z.
    ahead = np.stack([across[:, 2], np.zeros(len(across)), -across[:, 0]], axis=1)
    trunk = _middle(smooth, "shoulder") - _middle(smooth, "hip")
    curves = {"lean": np.degrees(np.arctan2((trunk * ahead).sum(axis=1), -trunk[:, 1]))}
    weights = {side: _seen(recording, side) for side in SIDES}
    total = sum(weights.values())
    parts: dict[str, Array] = {}
    for side in SIDES:
        sign = 1.0 if side == "left" else -1.0
        for name, values in _limbs(smooth, side, sign * across, ahead).items():
            parts[name] = parts.get(name, 0.0) + weights[side] / total * values
    curves.update(parts)
    width = np.linalg.norm(_line(smooth, "shoulder"), axis=1)
    curves["gap"] = np.linalg.norm(_line(smooth, "wrist"), axis=1) / width
    return curves


def _limbs(points: Array, side: Side, outward: Array, ahead: Array) -> dict[str, Array]:
    shoulder, elbow, wrist, hip, knee, ankle = (
        points[:, sided(part, side)] for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
    )
    down = np.broadcast_to([0.0, 1.0, 0.0], shoulder.shape)
    upper = elbow - shoulder
    length = np.linalg.norm(upper, axis=1)
    return {
        "arm": _angle(upper, down),
        "elbow": _angle(wrist - elbow, upper),
        "thigh": _angle(knee - hip, down),
        "knee": _angle(ankle - knee, knee - hip),
        "out": (upper * outward).sum(axis=1) / length,
        "ahead": (upper * ahead).sum(axis=1) / length,
        "hand": (shoulder[:, 1] - wrist[:, 1]) / np.nanmedian(length),
    }


def _angle(first: Array, second: Array) -> Array:
    """Angle between (m, 3) vectors, degrees."""
    cosine = (first * second).sum(axis=1) / (np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1))
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _seen(recording: LandmarkRecording, side: Side) -> float:
    names = [sided(part, side) for part in ("elbow", "wrist", "knee")]
    return float(np.median(recording.visibility[:, names])) ** 4 + 1e-6


def _line(points: Array, part: str) -> Array:
    return np.asarray(points[:, sided(part, "left")] - points[:, sided(part, "right")])


def _middle(points: Array, part: str) -> Array:
    return np.asarray((points[:, sided(part, "left")] + points[:, sided(part, "right")]) / 2)


def _level(vectors: Array) -> Array:
    return np.asarray(vectors * np.array([1.0, 0.0, 1.0]))


def _unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))
