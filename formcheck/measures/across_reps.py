"""All reps' curves → all measures of the set, each with margin or reason."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, Measure, Message, Quality, Rep, Side, Signals, ViewName
from formcheck.core.rep_sides import tell_sides
from formcheck.core.vocabulary import MEASURES
from formcheck.core.vocabulary.numbers import round_up
from formcheck.exercises.schema import Exercise
from formcheck.measures.drift_in_set import compute_hand_line_drift, compute_shoulder_creep
from formcheck.measures.margins import Kind, compute_margin, find_kind, find_margin_origin
from formcheck.measures.per_rep import READERS, compute_driver_range
from formcheck.measures.steadiness import compute_path_deviations
from formcheck.measures.window import Value, Window

MOST_UNSURE_DEG = 30.0
"""An angle that may be off by more, as from a camera half behind the lifter, tells a coach nothing and is not given."""
RAISES = frozenset(
    {
        "arm_elevation_peak",
        "arm_elevation_low",
        "arm_raise_peak",
        "arm_raise_low",
        "arm_raise_top",
        "arm_line_raise_peak",
    }
)
"""Measures of how far an arm is raised."""
BEST_REPS = 3
"""The set's own best range is the median of this many largest ranges."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A measure together with the moment in the clip that shows it."""

    measure: Measure
    at_s: float | None


def measure_set(
    reps: Sequence[Rep], signals: Signals, driver: Array, exercise: Exercise, view: CameraView, quality: Quality
) -> tuple[Reading, ...]:
    """Every measure the exercise uses, for every rep and side, in the exercise's order.

    A number this view cannot give, or whose landmarks were hidden, has the value None and says why.
    """
    in_turn = tell_sides(reps) == "alternating"
    windows = [
        Window(rep, signals, driver, last=rep is reps[-1], before=before if in_turn else None, in_turn=in_turn)
        for rep, before in zip(reps, _find_strokes_before(reps), strict=True)
    ]
    of_the_set = {name: _read_by_arm(read, windows) for name, read in SET_READERS.items()}
    kind = find_kind(exercise, view)
    readings = []
    for use in exercise.measures:
        sides: tuple[Side | None, ...] = SIDES if MEASURES[use.name].sided else (None,)
        of_an_arm = MEASURES[use.name].sided and not use.name.startswith(_OF_THE_LEGS)
        for index, window in enumerate(windows):
            for side in (window.rep.side,) if of_an_arm and window.rep.side is not None else sides:
                if view.name not in use.views:
                    readings.append(_make_missing(use.name, side, window.rep, explain_wrong_view(view.name, use.views)))
                    continue
                of_all = of_the_set.get(use.name)
                value = READERS[use.name](window, side) if of_all is None else of_all[index]
                readings.append(_make_reading(use.name, side, window, value, view, quality, kind))
    return tuple(readings)


_OF_THE_LEGS = ("knee_", "thigh_", "hip_", "shin_")
"""How measures of a leg begin: they are read of both also where one arm rests."""


def _find_strokes_before(reps: Sequence[Rep]) -> list[Rep | None]:
    """For each rep the other arm's stroke right before it, which no other rep is held against."""
    found: list[Rep | None] = []
    for index, rep in enumerate(reps):
        before = reps[index - 1] if index and found[-1] is None else None
        found.append(before if before is not None and rep.side and before.side and rep.side != before.side else None)
    return found


def _read_by_arm(
    read: Callable[[Sequence[Window]], list[Value | Message | None]], windows: Sequence[Window]
) -> list[Value | Message | None]:
    """What a reader of the whole set gives, each arm's strokes held against its own."""
    out: list[Value | Message | None] = [None] * len(windows)
    for side in dict.fromkeys(window.rep.side for window in windows):
        mine = [index for index, window in enumerate(windows) if window.rep.side == side]
        for index, value in zip(mine, read([windows[index] for index in mine]), strict=True):
            out[index] = value
    return out


def _compute_shares_of_best(windows: Sequence[Window]) -> list[Value | Message | None]:
    shares = compute_range_shares([compute_driver_range(window) for window in windows])
    return [
        Value(share, window.rep.top_s) if np.isfinite(share) else None
        for window, share in zip(windows, shares, strict=True)
    ]


SET_READERS: Mapping[str, Callable[[Sequence[Window]], list[Value | Message | None]]] = {
    "range_share": _compute_shares_of_best,
    "path_deviation": compute_path_deviations,
    "shoulder_creep": compute_shoulder_creep,
    "hand_line_drift": compute_hand_line_drift,
}
"""How each measure that sets a rep against the others of its set is read: one entry a rep."""


def compute_range_shares(ranges: Sequence[float]) -> list[float]:
    """Each range over the median of the largest three (or of all, if fewer); NaN stays NaN."""
    known = sorted((value for value in ranges if np.isfinite(value)), reverse=True)[:BEST_REPS]
    best = float(np.median(known)) if known else float("nan")
    return [value / best if best > 0 else float("nan") for value in ranges]


_CAMERA_SIDES: Mapping[ViewName, str] = {
    "front": "front",
    "back": "back",
    "left": "side",
    "right": "side",
    "oblique": "oblique",
}
"""Where a camera is put for a view."""
MOST_RAISED_DEG = 188.0
"""Past this, counted from straight down, an arm's angle is a slip of the landmarks: the largest mean of active shoulder
abduction and flexion in a table of adults (Norkin & White, Measurement of Joint Motion, appendix A; from memory)."""


def explain_wrong_view(view: ViewName, views: Sequence[ViewName]) -> Message:
    """Why a view cannot give a measure, and where to film from instead."""
    if not views:
        return Message("no-single-view")
    wanted = tuple(dict.fromkeys(_CAMERA_SIDES[name] for name in views if name != "oblique"))
    return Message("wrong-view", {"view": _CAMERA_SIDES[view], "film_from": wanted})


def _make_reading(
    name: str,
    side: Side | None,
    window: Window,
    value: Value | Message | None,
    view: CameraView,
    quality: Quality,
    kind: Kind,
) -> Reading:
    if isinstance(value, Message):
        return _make_missing(name, side, window.rep, value)
    if value is None:
        return _make_missing(name, side, window.rep, Message("hidden", {"part": side or "body"}))
    if name in RAISES and value.value > MOST_RAISED_DEG:
        return _make_missing(name, side, window.rep, Message("past-range"))
    margin = compute_margin(name, value.value, view, quality, kind)
    if margin is None:
        return _make_missing(name, side, window.rep, Message("margin-not-known"))
    if MEASURES[name].unit == "deg" and margin > MOST_UNSURE_DEG:
        return _make_missing(
            name, side, window.rep, Message("margin-too-wide", {"degrees": round(round_up(margin, 0))})
        )
    margin *= value.readings**0.5
    origin = find_margin_origin(name, view, kind)
    measure = Measure(name, side, window.rep.number, value.value, margin, MEASURES[name].unit, margin_origin=origin)
    return Reading(measure, value.at_s)


def _make_missing(name: str, side: Side | None, rep: Rep, reason: Message) -> Reading:
    measure = Measure(name, side, rep.number, None, None, MEASURES[name].unit, missing_reason_coded=reason)
    return Reading(measure, None)
