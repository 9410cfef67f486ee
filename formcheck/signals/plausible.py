"""What no arm can do is tracking, and is not measured."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from formcheck.core.model import SIDES, Array, Message, Rep, Side, Signals
from formcheck.signals.filtering import mark_inside

MOST_ACCELERATION = 8500.0
"""An arm raise that speeds up or slows down by more than this, degrees/s², is a landmark jumping. A minimum-jerk stroke
of 130° in 0.3 s peaks there (5.77·range/duration²: closed form); rendered rushed lowerings stay below 6700, landmarks
that jump are above 10000 (tuning sets and the random sets before them)."""
ARM_CURVES = ("arm_", "elbow_", "hand_", "shoulder_flexion", "palm_")
"""How the names of the curves begin that are read from an arm's landmarks."""
Span = tuple[float, float]
"""First and last second of a repetition."""


def list_spans(reps: Sequence[Rep]) -> tuple[Span, ...]:
    """From start to end of each repetition."""
    return tuple((rep.start_s, rep.end_s) for rep in reps)


def find_jumps(t: Array, angle: Array) -> Array:
    """(m,) 1 where an angle (m,), degrees, at even times t (m,) changes speed as no limb can, else 0; NaN gives 0."""
    if len(t) < 3:
        return np.zeros(len(t))
    step = float(t[1] - t[0])
    acceleration = np.gradient(np.gradient(angle, step), step)
    return np.asarray(np.abs(np.nan_to_num(acceleration)) > MOST_ACCELERATION, dtype=float)


def find_jumping_arms(seen: Signals, spans: Sequence[Span]) -> dict[Side, tuple[int, ...]]:
    """Indices of the spans in which an arm's raise jumps, by side; sides without any are left out."""
    found: dict[Side, tuple[int, ...]] = {}
    for side in SIDES:
        wrong = find_jumps(seen.t, seen.get("arm_raise", side)) > 0
        bad = tuple(i for i, (start, end) in enumerate(spans) if wrong[(seen.t >= start) & (seen.t <= end)].any())
        if bad:
            found[side] = bad
    return found


def drop_jumping_arms(signals: Signals, spans: Sequence[Span], jumping: dict[Side, tuple[int, ...]]) -> Signals:
    """The same curves, those of an arm missing in the spans in which it jumps."""
    series = dict(signals.series)
    for side, indices in jumping.items():
        gone = mark_inside(signals.t, [spans[i] for i in indices])
        for key, curve in signals.series.items():
            if key[1] == side and key[0].startswith(ARM_CURVES):
                series[key] = np.where(gone, np.nan, curve)
    return replace(signals, series=series)


def note_jumps(jumping: dict[Side, tuple[int, ...]]) -> tuple[Message, ...]:
    """What the user is told of it: one note an arm, with the numbers of the repetitions."""
    return tuple(
        Message("arm-jumps", {"side": side, "reps": tuple(index + 1 for index in indices)})
        for side, indices in jumping.items()
    )
