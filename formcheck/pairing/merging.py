"""Merges two cameras' readings of the same reps into one."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from formcheck.core.model import CameraUsed, MarginOrigin, Measure, Rep, Side, ViewName
from formcheck.exercises.schema import Check, Exercise
from formcheck.findings import Judgement, judge_set
from formcheck.measures.across_reps import Reading

EQUALLY_WELL = 1.5
"""Margins no further apart than this: both cameras see it equally well, and their mean is better than either."""
SHARED_ERROR = 0.5
"""Correlation taken for the errors of two cameras. Both see the same body through the same pose model, so their
errors are not independent; how far, is an assumption."""

ORIGINS: tuple[MarginOrigin, ...] = ("measured", "analogy", "hand")
"""Where a margin comes from, the surest first; that of a mean is as sure as its less sure one."""

Key = tuple[str, Side | None, int | None]
CAMERAS: tuple[CameraUsed, CameraUsed] = ("first", "second")


@dataclass(frozen=True, slots=True)
class CameraReadings:
    """A camera's view, and its readings with moments in seconds of the first clip."""

    view: ViewName
    readings: Sequence[Reading]


Cameras = tuple[CameraReadings, CameraReadings]


def merge_readings(exercise: Exercise, cameras: Cameras) -> tuple[Reading, ...]:
    """Every measure from the camera that sees it best, or the weighted mean where both see it equally well."""
    by_key: dict[Key, dict[CameraUsed, Reading]] = {}
    for camera, one in zip(CAMERAS, cameras, strict=True):
        for reading in one.readings:
            measure = reading.measure
            by_key.setdefault((measure.name, measure.side, measure.rep), {})[camera] = reading
    order = {use.name: position for position, use in enumerate(exercise.measures)}
    views = dict(zip(CAMERAS, (one.view for one in cameras), strict=True))
    merged = [_merge_one(exercise, views, found) for found in by_key.values()]
    return tuple(sorted(merged, key=lambda item: (order[item.measure.name], item.measure.rep or 0)))


def judge_merged(exercise: Exercise, cameras: Cameras, merged: Sequence[Reading], reps: Sequence[Rep]) -> Judgement:
    """Judges the merged readings; a check that only one of the two views may decide is decided by that one."""
    judged = [
        judge_set(
            exercise.model_copy(update={"checks": (check,), "untold": ()}),
            *_select_deciding(exercise, check, cameras, merged, reps),
        )
        for check in exercise.checks
    ]
    judged.append(judge_set(exercise.model_copy(update={"checks": ()}), merged, reps, cameras[0].view))
    findings = tuple(item for one in judged for item in one.findings)
    return Judgement(findings, tuple(item for one in judged for item in one.points))


def combine_measures(first: Measure, second: Measure) -> Measure:
    """The best weighted mean of two values whose errors are correlated, and the margin of that mean.

    For margins a, b and correlation ρ = `SHARED_ERROR` the mean of least variance gives the first the weight
    (b² - ρab)/(a² + b² - 2ρab), held between 0 and 1 (Gauss and Markov; with ρ = 0 it is 1/a² to 1/b²). Where the two
    disagree by more than their margins allow, one is off by more than it says: the margin then reaches both.
    """
    assert first.value is not None
    assert second.value is not None
    a, b = first.margin or 0.0, second.margin or 0.0
    shared = SHARED_ERROR * a * b
    total = a**2 + b**2 - 2 * shared
    weight = min(max((b**2 - shared) / total, 0.0), 1.0) if total else 0.5
    value = weight * first.value + (1 - weight) * second.value
    variance = (weight * a) ** 2 + ((1 - weight) * b) ** 2 + 2 * weight * (1 - weight) * shared
    margin = variance**0.5
    if abs(first.value - second.value) > (a**2 + b**2) ** 0.5:
        margin = max(margin, abs(first.value - value), abs(second.value - value))
    origins: list[MarginOrigin] = [one for one in (first.margin_origin, second.margin_origin) if one is not None]
    origin = max(origins, key=ORIGINS.index, default=None)
    return replace(first, value=value, margin=margin, camera="both", margin_origin=origin)


# ---------------------------------------------------------------- inside


def _merge_one(exercise: Exercise, views: dict[CameraUsed, ViewName], found: dict[CameraUsed, Reading]) -> Reading:
    known = [(camera, reading) for camera, reading in found.items() if reading.measure.value is not None]
    if not known:
        # Hidden for the camera that should show it says more than wrong side for the other.
        name = next(iter(found.values())).measure.name
        able = [reading for camera, reading in found.items() if views[camera] in exercise.views_of(name)]
        return able[0] if able else next(iter(found.values()))
    known.sort(key=lambda item: _get_margin(item[1]))
    (camera, best), *rest = known
    if rest and rest[0][1].measure.margin is not None and _get_margin(rest[0][1]) <= EQUALLY_WELL * _get_margin(best):
        return Reading(combine_measures(best.measure, rest[0][1].measure), best.at_s)
    return Reading(replace(best.measure, camera=camera), best.at_s)


def _select_deciding(
    exercise: Exercise, check: Check, cameras: Cameras, merged: Sequence[Reading], reps: Sequence[Rep]
) -> tuple[Sequence[Reading], Sequence[Rep], ViewName]:
    able = [one.view in exercise.views_for(check) for one in cameras]
    if all(able) or not any(able):
        return merged, reps, cameras[0].view
    one = cameras[able.index(True)]
    if len(exercise.views_for(check)) >= len(exercise.views_of(check.measure)):
        return merged, reps, one.view
    camera = CAMERAS[able.index(True)]
    named = [(item, camera if item.measure.value is not None else None) for item in one.readings]
    return [Reading(replace(item.measure, camera=used), item.at_s) for item, used in named], reps, one.view


def _get_margin(reading: Reading) -> float:
    margin = reading.measure.margin
    return float("inf") if margin is None else margin
