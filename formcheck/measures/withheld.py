"""Numbers that were read but cannot be stood by, taken back with the reason."""

from collections.abc import Mapping, Sequence, Set
from dataclasses import replace

import numpy as np

from formcheck.core.model import SIDES, CameraView, Measure, Message, QualityProblem, Rep, Side, Signals
from formcheck.measures.across_reps import Reading
from formcheck.measures.margins import TIME_MEASURES
from formcheck.measures.window import MIN_SEEN_SHARE
from formcheck.signals.sources import ONLY_WITH_BODY, list_fitted

SIDES_SWAPPED = Message("sides-swapped")
NO_BODY = Message("body-not-fitted")
_OTHER_NAMES = {
    "range_of_motion": "arm_raise",
    "arm_peak_difference": "arm_raise",
    "arm_line_difference": "arm_line_raise",
}
"""Measures that are not called after the curve they are read from."""


def withhold(readings: Sequence[Reading], reps: Set[int], reason: Message) -> tuple[Reading, ...]:
    """The readings with those of some reps, by number, taken back."""
    return tuple(_withhold_one(item, reason) if item.measure.rep in reps else item for item in readings)


def find_hidden_strokes(reps: Sequence[Rep], signals: Signals, driver_name: str) -> dict[int, Side]:
    """Number and arm of each repetition of one arm alone whose own curve was hidden for most of it.

    A guessed arm still tells that there was a repetition, but neither when it turned nor how far it went.

    signals : curves with hidden landmarks left out.
    """
    hidden: dict[int, Side] = {}
    for rep in reps:
        if rep.side is not None and (driver_name, rep.side) in signals.series:
            inside = (signals.t >= rep.start_s) & (signals.t <= rep.end_s)
            if np.isfinite(signals.get(driver_name, rep.side)[inside]).mean() < MIN_SEEN_SHARE:
                hidden[rep.number] = rep.side
    return hidden


def find_hidden_arms(reps: Sequence[Rep], signals: Signals, driver_name: str) -> tuple[Side, ...]:
    """Arms whose own curve was hidden for most of the time from the first repetition to the last: they may be guessed.

    signals : as for `find_hidden_strokes`.
    """
    if not reps:
        return ()
    inside = (signals.t >= reps[0].start_s) & (signals.t <= reps[-1].end_s)
    return tuple(
        side
        for side in SIDES
        if (driver_name, side) in signals.series
        and np.isfinite(signals.get(driver_name, side)[inside]).mean() < 1.0 - MIN_SEEN_SHARE
    )


def withhold_times(readings: Sequence[Reading], hidden: Mapping[int, Side]) -> tuple[Reading, ...]:
    """The readings without the times of strokes whose arm was hidden (`find_hidden_strokes`)."""
    out = []
    for item in readings:
        side = None if item.measure.rep is None else hidden.get(item.measure.rep)
        gone = side is not None and item.measure.name in TIME_MEASURES
        out.append(_withhold_one(item, Message("hidden", {"part": side or "body"})) if gone else item)
    return tuple(out)


def withhold_without_body(readings: Sequence[Reading], view: CameraView) -> tuple[tuple[Reading, ...], bool]:
    """The readings with the right reason where a curve of the fitted body is missing, and whether one is."""
    curves = (*list_fitted(view), *ONLY_WITH_BODY)
    out = []
    for item in readings:
        measure = item.measure
        rests_on = _OTHER_NAMES.get(measure.name, measure.name).startswith(curves)
        out.append(_withhold_one(item, NO_BODY) if rests_on and _is_hidden(measure) else item)
    return tuple(out), any(item.measure.missing_reason_coded == NO_BODY for item in out)


def make_swap_problem(stretches: Sequence[tuple[float, float]], reps: Sequence[Rep]) -> QualityProblem:
    """The problem of left and right that changed places while some reps were done."""
    swapped = [
        (start, end) for start, end in stretches if any(start <= rep.end_s and end >= rep.start_s for rep in reps)
    ]
    lasting = sum(end - start for start, end in swapped)
    values = {"from_s": swapped[0][0], "to_s": swapped[-1][1], "lasting_s": lasting}
    return QualityProblem("sides-swapped", {name: round(value, 3) for name, value in values.items()})


def _withhold_one(reading: Reading, reason: Message) -> Reading:
    measure = reading.measure
    if measure.value is None and not _is_hidden(measure):
        return reading  # it has a reason of its own, such as the camera's side
    gone = replace(measure, value=None, margin=None, missing_reason_coded=reason, camera=None, margin_origin=None)
    return Reading(gone, None)


def _is_hidden(measure: Measure) -> bool:
    return measure.missing_reason_coded is not None and measure.missing_reason_coded.code == "hidden"
