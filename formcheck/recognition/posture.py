"""Coarse curves of the body from the pose model's world points: good enough to know an exercise by, not to measure.

What is read of both sides together is that of the better seen arm and leg, so a hidden side does not count.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, LandmarkRecording, Settings, Side
from formcheck.exercises.schema import Exercise
from formcheck.signals.angles import compute_body_height
from formcheck.signals.camera import compute_yaw_curve
from formcheck.signals.filtering import low_pass, make_uniform_grid, resample
from formcheck.signals.geometry import compute_angle_between, compute_angle_from_height, normalise
from formcheck.signals.lengths import compute_full_length, find_middle
from formcheck.signals.skeleton import INDEX, get_index
from formcheck.signals.walking import compute_positions

OUT_OF_POSITION = 0.6
"""Shoulders this many torso lengths off their usual height: the lifter is not in the set's posture."""
TURNED_AWAY_DEG = 50.0
"""Shoulders turned this far from their usual direction: the lifter is on the way in or out."""

BLIND_AT_ENDS = frozenset(
    {"arm_raise_by_height", "knee_flexion_by_height", "torso_inclination_by_height", "arm_opening"}
)
"""Drivers read from an extent in the picture, which hardly changes with the angle near its ends."""
HANG_AT_REST = BLIND_AT_ENDS - {"arm_opening"}
"""Those of a limb that hangs or stands straight between repetitions."""

Features = Mapping[str, Array]

SMOOTH_HZ = 3.0


@dataclass(frozen=True, eq=False)
class BodyCurves:
    """Coarse curves of the lifter's body (m,) on one grid, degrees unless said otherwise; NaN in long gaps."""

    t: Array
    whole: Features
    """lean : torso forward from upright. gap : distance between the hands in shoulder widths."""
    limbs: Mapping[Side, Features]
    """thigh, arm : from straight down. knee, elbow : flexion. out, ahead : sideways and forward part of the upper arm's
    direction, -1..1. hand : height above the shoulder, face : distance of the hand from the nose, both in upper-arm
    lengths. lift, lower : upper arm and forearm from straight down, as their heights in the
    picture have it. level : how far the upper arm reaches sideways in the picture, 0..1."""
    reach: Mapping[Side, Array]
    """(m, 3) the hand from the shoulder in upper-arm lengths: sideways, up, ahead of the lifter."""
    seen: Mapping[Side, float]
    """How well the arm and the knee of a side are seen, 0..1."""


def compute_body_curves(recording: LandmarkRecording, grid: Array, settings: Settings) -> BodyCurves:
    """What trunk, arms and legs do at times grid (m,)."""
    rate = recording.clip.frame_rate
    own = make_uniform_grid(recording.t, rate=rate)

    def smoothed(points: Array) -> Array:
        even = resample(recording.t, np.array(points), own, max_gap_s=settings.max_gap_s)
        return resample(own, low_pass(even, rate, SMOOTH_HZ), grid, max_gap_s=settings.max_gap_s)

    smooth, pixels = smoothed(recording.world), smoothed(recording.pixels)
    across = normalise(_flatten(_line_across(smooth, "shoulder") + _line_across(smooth, "hip")))
    # Left × down = ahead: the lifter's left is +x when they face the camera, which looks along +z.
    ahead = np.stack([across[:, 2], np.zeros(len(across)), -across[:, 0]], axis=1)
    trunk = find_middle(smooth, "shoulder") - find_middle(smooth, "hip")
    width = np.linalg.norm(_line_across(smooth, "shoulder"), axis=1)
    whole = {
        "lean": np.degrees(np.arctan2((trunk * ahead).sum(axis=1), -trunk[:, 1])),
        "gap": np.linalg.norm(_line_across(smooth, "wrist"), axis=1) / width,
    }
    outward = {side: (1.0 if side == "left" else -1.0) * across for side in SIDES}
    return BodyCurves(
        grid,
        whole,
        {
            side: {**_compute_limbs(smooth, side, outward[side], ahead), **_compute_heights(pixels, side)}
            for side in SIDES
        },
        {side: _compute_reach(smooth, side, outward[side], ahead) for side in SIDES},
        {side: _compute_visibility(recording, side) for side in SIDES},
    )


class PostureLimits(TypedDict):
    """What stays the same through a set, as `formcheck.reps.find.find_reps` takes it."""

    posture: Sequence[tuple[Array, float]]
    positions: Sequence[tuple[Array, float]]


def list_posture_limits(
    recording: LandmarkRecording, t: Array, camera: CameraView, exercise: Exercise
) -> PostureLimits:
    """Curves (m,) at times t that stay the same through a set of a lift, each with how far it may stray."""
    rule = exercise.driver
    posture = [(compute_yaw_curve(recording, t, camera), TURNED_AWAY_DEG)]
    if not rule.moves_shoulders:
        posture.append((compute_body_height(recording, t), OUT_OF_POSITION))
    positions = compute_positions(
        recording, t, hips_still=not rule.moves_shoulders, on_feet=exercise.position != "prone"
    )
    return {"posture": posture, "positions": positions}


def compute_features(recording: LandmarkRecording, grid: Array, settings: Settings) -> Features:
    """The curves of `BodyCurves` (m,) at times grid (m,), those of arms and legs as the better seen side has them."""
    body = compute_body_curves(recording, grid, settings)
    weights = {side: body.seen[side] ** 4 + 1e-6 for side in SIDES}
    total = sum(weights.values())
    names = body.limbs[SIDES[0]]
    mean = {name: np.asarray(sum(weights[s] / total * body.limbs[s][name] for s in SIDES)) for name in names}
    return {**body.whole, **mean}


def _compute_limbs(points: Array, side: Side, outward: Array, ahead: Array) -> dict[str, Array]:
    shoulder, elbow, wrist, hip, knee, ankle = (
        points[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
    )
    down = np.broadcast_to([0.0, 1.0, 0.0], shoulder.shape)
    upper = elbow - shoulder
    length = np.linalg.norm(upper, axis=1)
    return {
        "arm": compute_angle_between(upper, down),
        "elbow": compute_angle_between(wrist - elbow, upper),
        "thigh": compute_angle_between(knee - hip, down),
        "knee": compute_angle_between(ankle - knee, knee - hip),
        "out": (upper * outward).sum(axis=1) / length,
        "ahead": (upper * ahead).sum(axis=1) / length,
        "hand": (shoulder[:, 1] - wrist[:, 1]) / np.nanmedian(length),
        "face": np.linalg.norm(wrist - points[:, INDEX["nose"]], axis=1) / np.nanmedian(length),
    }


def _compute_reach(points: Array, side: Side, outward: Array, ahead: Array) -> Array:
    shoulder, elbow, wrist = (points[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist"))
    hand = wrist - shoulder
    parts = np.stack([(hand * outward).sum(axis=1), -hand[:, 1], (hand * ahead).sum(axis=1)], axis=1)
    return np.asarray(parts / np.nanmedian(np.linalg.norm(elbow - shoulder, axis=1)))


def _compute_heights(pixels: Array, side: Side) -> dict[str, Array]:
    shoulder, elbow, wrist = (pixels[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist"))
    upper, lower = elbow - shoulder, wrist - elbow
    return {
        "lift": compute_angle_from_height(upper[:, 1], _compute_full_length(upper)),
        "lower": compute_angle_from_height(lower[:, 1], _compute_full_length(lower)),
        "level": np.abs(upper[:, 0]) / _compute_full_length(upper),
    }


def _compute_full_length(segment: Array) -> float:
    """A segment's full length in the picture; NaN where nobody was found."""
    return compute_full_length(np.linalg.norm(segment, axis=1))


def _compute_visibility(recording: LandmarkRecording, side: Side) -> float:
    names = [get_index(part, side) for part in ("elbow", "wrist", "knee")]
    return float(np.median(recording.visibility[:, names]))


def _line_across(points: Array, part: str) -> Array:
    return np.asarray(points[:, get_index(part, "left")] - points[:, get_index(part, "right")])


def _flatten(vectors: Array) -> Array:
    return np.asarray(vectors * np.array([1.0, 0.0, 1.0]))
