"""Numbers that were read but cannot be stood by, taken back with the reason."""

from collections.abc import Sequence, Set
from dataclasses import replace

from formcheck.core.model import CameraView, QualityProblem, Rep
from formcheck.measures.across_reps import HIDDEN, Reading
from formcheck.signals.sources import from_fit

SIDES_SWAPPED = "The pose model took the lifter's left for the right in this rep."
NO_BODY = "How the body stands in space could not be told from this clip."
_OTHER_NAMES = {"range_of_motion": "arm_raise", "arm_peak_difference": "arm_raise"}
"""Measures that are not called after the curve they are read from."""


def not_given(readings: Sequence[Reading], reps: Set[int], reason: str) -> tuple[Reading, ...]:
    """The readings with those of some reps, by number, taken back."""
    return tuple(_taken_back(item, reason) if item.measure.rep in reps else item for item in readings)


def without_body(readings: Sequence[Reading], view: CameraView) -> tuple[tuple[Reading, ...], bool]:
    """The readings with the right reason where a curve of the fitted body is missing, and whether one is."""
    curves = tuple(from_fit(view))
    out = []
    for item in readings:
        measure = item.measure
        rests_on = _OTHER_NAMES.get(measure.name, measure.name).startswith(curves)
        hidden = measure.value is None and (measure.missing_reason or "").startswith(HIDDEN)
        out.append(_taken_back(item, NO_BODY) if rests_on and hidden else item)
    return tuple(out), any(item.measure.missing_reason == NO_BODY for item in out)


def swap_problem(stretches: Sequence[tuple[float, float]], reps: Sequence[Rep]) -> QualityProblem:
    """The problem of left and right that changed places while some reps were done."""
    told = [(start, end) for start, end in stretches if any(start <= rep.end_s and end >= rep.start_s for rep in reps)]
    lasting = sum(end - start for start, end in told)
    values = {"from_s": told[0][0], "to_s": told[-1][1], "lasting_s": lasting}
    return QualityProblem("sides-swapped", {name: round(value, 3) for name, value in values.items()})


def _taken_back(reading: Reading, reason: str) -> Reading:
    if reading.measure.value is None and not (reading.measure.missing_reason or "").startswith(HIDDEN):
        return reading  # it has a reason of its own, such as the camera's side
    gone = replace(reading.measure, value=None, margin=None, missing_reason=reason, camera=None, margin_origin=None)
    return Reading(gone, None)
