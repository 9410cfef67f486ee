"""Reps on a common axis: 0 to 100 % of the lifting, then 0 to 100 % of the lowering (or the other way round).

Pauses are left out, so the same value on the axis is the same moment of the movement, however long it took.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from formcheck.core.model import Analysis, Array, CameraView, LandmarkRecording, Rep, Side
from formcheck.report.phases import FirstPhase, list_phases
from formcheck.signals.geometry import wrap_degrees
from formcheck.signals.lengths import compute_full_length, measure_trunk, select_both_sides
from formcheck.signals.skeleton import BODY, INDEX

STEPS = 51
"""Steps of a phase, 2 % apart."""
AXIS: Array = np.concatenate([np.linspace(0, 100, STEPS), np.linspace(100, 200, STEPS)])
_VISIBLE = 0.5
_OPPOSITE = ({"left", "right"}, {"front", "back"})
_NOMINAL_DEG = {"front": 0.0, "left": 90.0, "back": 180.0, "right": -90.0}
_SAME_SLANT_DEG = 15.0
"""Two cameras at a slant show the body alike when they stand no farther apart than this. Our choice."""
_FEET = ("left_ankle", "right_ankle")
_HIPS = ("left_hip", "right_hip")

Overlay = Literal["as filmed", "mirrored", "apart"]


def choose_overlay(one: CameraView, other: CameraView) -> Overlay:
    """Whether two pictures of a body can be laid over each other.

    Seen from exactly opposite sides from afar, every point lies at the same height and as far from the middle, on the
    other side: one picture is the mirror image of the other, left and right of the body included. From any other pair
    of sides each picture shows what the other does not.
    """
    if one.name == other.name != "oblique":
        return "as filmed"
    if {one.name, other.name} in _OPPOSITE:
        return "mirrored"
    yaws = [view.yaw_deg if view.yaw_deg is not None else _NOMINAL_DEG.get(view.name) for view in (one, other)]
    if yaws[0] is None or yaws[1] is None:
        return "apart"
    between = abs(wrap_degrees(yaws[0] - yaws[1]))
    if between <= _SAME_SLANT_DEG:
        return "as filmed"
    return "mirrored" if between >= 180.0 - _SAME_SLANT_DEG else "apart"


@dataclass(frozen=True, eq=False)
class RepGroup:
    """Some reps of one set, to be compared with others."""

    label: str
    analysis: Analysis
    recording: LandmarkRecording
    reps: tuple[Rep, ...]
    first: FirstPhase


def compute_phase_times(rep: Rep, first: FirstPhase) -> Array:
    """(2·STEPS,) seconds of the clip at the steps of `AXIS`; NaN where a phase of the rep is not known."""
    spans = {span.name: span for span in list_phases(rep, first)}
    order = ("lift", "lower") if first == "concentric" else ("lower", "lift")
    parts = []
    for name in order:
        span = spans.get(name)  # type: ignore[call-overload]  # both are names of phases
        parts.append(np.full(STEPS, np.nan) if span is None else np.linspace(span.start_s, span.end_s, STEPS))
    return np.concatenate(parts)


def compute_curves(group: RepGroup, signal: str, side: Side | None) -> Array:
    """(reps, 2·STEPS) one signal of each rep, NaN where it was not read."""
    values, t = group.analysis.signals.get(signal, side), group.analysis.signals.t
    rows = [
        np.interp(compute_phase_times(rep, group.first), t, values, left=np.nan, right=np.nan) for rep in group.reps
    ]
    return np.array(rows).reshape(len(rows), 2 * STEPS)


def compute_median(rows: Array) -> Array:
    """(2·STEPS,) median over reps; NaN where no rep has a value."""
    known = np.isfinite(rows).any(axis=0)
    out = np.full(rows.shape[1], np.nan)
    out[known] = np.nanmedian(rows[:, known], axis=0)
    return out


def choose_anchor(groups: Sequence[RepGroup]) -> tuple[str, ...]:
    """The points at which the skeletons are aligned: the ankles where every group shows them, else the hips."""
    feet = [INDEX[name] for name in _FEET]
    seen = [float(np.median(group.recording.visibility[:, feet])) for group in groups]
    return _FEET if min(seen, default=0.0) >= _VISIBLE else _HIPS


def compute_skeleton(group: RepGroup, anchor: Sequence[str], *, mirrored: bool = False) -> Array:
    """(2·STEPS, parts of `BODY`, 2) the median posture at each step, in trunk lengths from the anchor; NaN unseen.

    Of each rep the anchor's median position is the origin and the longest trunk of the rep the unit; then the median
    over the reps.

    Parameters
    ----------
    mirrored : as the camera on the opposite side would have seen it; see `choose_overlay`.
    """
    recording = group.recording
    pixels = np.where(recording.visibility[..., None] >= _VISIBLE / 2, recording.pixels, np.nan)
    middle = recording.pixels[:, [INDEX[name] for name in anchor]].mean(axis=1)
    trunk = measure_trunk(select_both_sides(recording.pixels, "shoulder"), select_both_sides(recording.pixels, "hip"))
    tracks = []
    for rep in group.reps:
        times = compute_phase_times(rep, group.first)
        inside = (recording.t >= rep.start_s) & (recording.t <= rep.end_s)
        if not inside.any() or not np.isfinite(times).any():
            continue
        origin, unit = np.nanmedian(middle[inside], axis=0), compute_full_length(trunk[inside])
        if not (np.isfinite(origin).all() and unit > 0):
            continue
        points = np.empty((2 * STEPS, len(BODY), 2))
        for part, name in enumerate(BODY):
            for axis in range(2):
                positions = (pixels[:, INDEX[name], axis] - origin[axis]) / unit
                points[:, part, axis] = np.interp(times, recording.t, positions, left=np.nan, right=np.nan)
        tracks.append(points.ravel())
    shape = (2 * STEPS, len(BODY), 2)
    track = compute_median(np.array(tracks).reshape(len(tracks), -1)) if tracks else np.full(shape, np.nan)
    return np.asarray(track.reshape(shape) * [-1.0 if mirrored else 1.0, 1.0])
