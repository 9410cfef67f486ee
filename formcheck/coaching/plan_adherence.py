"""Done against planned: reps, load, tempo and range of each set of a session, with their margins."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from formcheck.coaching.plan import Plan, PlannedSet
from formcheck.coaching.words import TARGETS, describe
from formcheck.core.model import Message, Review
from formcheck.core.vocabulary.numbers import round_up

Against = Literal["below", "as_planned", "above", "undecided"]

RANGE_MEASURES = (
    "range_of_motion",
    "arm_flexion_range",
    "arm_extension_range",
    "elbow_flexion_range",
    "knee_flexion_range",
)
"""Measures that are the range of a lift; an exercise uses at most one of them."""
TEMPO_MEASURES = ("eccentric_time", "bottom_pause", "concentric_time", "top_pause")
"""In the order of a planned tempo."""
TEMPO_SLACK_S = 0.5
"""A phase counted aloud is as long as planned within half a count (common practice)."""


@dataclass(frozen=True, slots=True)
class Target:
    """One planned number and what was done: the median over the set's complete reps."""

    name: str
    unit: str
    planned: float
    done: float | None
    """None when it could not be measured."""
    margin: float | None
    """95 % half-width, the median of the reps' margins: what the camera adds does not average out."""
    call: Against


@dataclass(frozen=True, slots=True)
class DoneSet:
    """One set against its plan; a set that was planned but not done has no reps."""

    number: int
    planned: PlannedSet | None
    complete_reps: int
    partial_reps: int
    load_kg: float | None
    reps_over: int | None
    """Complete reps beyond the planned number (negative: short of it); None without a plan."""
    load_over_kg: float | None
    """Load beyond the planned one; None when either is not known."""
    targets: tuple[Target, ...]
    sentence: str


def compare_with_plan(plan: Plan | None, sets: Sequence[Review]) -> tuple[DoneSet, ...]:
    """Every set of a session against its plan, and the planned sets that were not done.

    Parameters
    ----------
    plan : what held on that day; without one, a set's own target reps are its plan.
    sets : the session's reviews of this exercise in their order.
    """
    count = max(len(sets), len(plan.sets) if plan else 0)
    return tuple(
        compare_set(plan, number, sets[number - 1] if number <= len(sets) else None) for number in range(1, count + 1)
    )


def get_planned_set(plan: Plan | None, number: int, target_reps: int | None) -> PlannedSet | None:
    """What was planned for a set: by the plan, else by the set's own target."""
    planned = plan.for_set(number) if plan is not None else None
    if planned is None and plan is None and target_reps is not None:
        return PlannedSet(target_reps, target_reps)
    return planned


def count_reps_over(planned: PlannedSet, complete: int) -> int:
    """Reps beyond the planned range, negative when short of it, 0 within."""
    return max(complete - planned.reps_high, 0) + min(complete - planned.reps_low, 0)


def compare_set(plan: Plan | None, number: int, review: Review | None) -> DoneSet:
    """The set of this number, from 1, against the plan; without a review it was not done."""
    if review is None:
        assert plan is not None
        planned = plan.for_set(number)
        return DoneSet(
            number, planned, 0, 0, None, None, None, (), describe(Message("set-not-recorded", {"set": number}))
        )
    planned = get_planned_set(plan, number, review.set_info.target_reps)
    complete = sum(rep.complete for rep in review.reps)
    load, wanted = review.set_info.load_kg, planned.load_kg if planned else None
    over = None if planned is None else count_reps_over(planned, complete)
    load_over = None if load is None or wanted is None else round(load - wanted, 6)
    targets = _compare_targets(plan, review) if plan is not None else ()
    return DoneSet(
        number,
        planned,
        complete,
        len(review.reps) - complete,
        load,
        over,
        load_over,
        targets,
        _describe_set(number, planned, complete, over, load_over, targets),
    )


def _compare_targets(plan: Plan, review: Review) -> tuple[Target, ...]:
    found = []
    if plan.tempo is not None:
        for name, planned in zip(TEMPO_MEASURES, plan.tempo, strict=True):
            if planned is not None:
                done, margin = compute_median(review, (name,))
                found.append(Target(name, "s", planned, done, margin, _judge_tempo(planned, done, margin)))
    if plan.range_deg is not None:
        done, margin = compute_median(review, RANGE_MEASURES)
        found.append(Target("range", "deg", plan.range_deg, done, margin, _judge_range(plan.range_deg, done, margin)))
    return tuple(found)


def compute_median(review: Review, names: Sequence[str]) -> tuple[float | None, float | None]:
    """Median and median margin of these measures over the complete reps; None when nothing was measured."""
    complete = {rep.number for rep in review.reps if rep.complete}
    known = [
        (item.value, item.margin or 0.0)
        for item in review.measures
        if item.name in names and item.rep in complete and item.value is not None
    ]
    if not known:
        return None, None
    return median(value for value, _ in known), median(margin for _, margin in known)


PROBABLY = 0.53
"""Share of a 95 % margin beyond which a value lies in 85 of 100 cases: 1.04 of 1.96 standard deviations."""


def is_probably_below(target: Target) -> bool:
    """Whether what was done stayed below the plan, slack allowed, more likely than not by a good deal (85 %)."""
    if target.done is None or target.margin is None:
        return False
    slack = TEMPO_SLACK_S if target.unit == "s" else 0.0
    return target.planned - target.done - slack > PROBABLY * target.margin


def count_reps_below(plan: Plan, review: Review) -> dict[str, int]:
    """Name of a planned number → how many complete reps fell below it by more than slack and margin; none at 0.

    With two sides the one that moved less speaks for the rep.
    """
    complete = {rep.number for rep in review.reps if rep.complete}
    wanted: list[tuple[str, tuple[str, ...], float]] = [
        (name, (name,), planned - TEMPO_SLACK_S)
        for name, planned in zip(TEMPO_MEASURES, plan.tempo or (), strict=False)
        if planned is not None
    ]
    if plan.range_deg is not None:
        wanted.append(("range", RANGE_MEASURES, plan.range_deg))
    found = {}
    for name, measures, least in wanted:
        short = {
            item.rep
            for item in review.measures
            if item.name in measures and item.rep in complete and item.value is not None
            if item.value + (item.margin or 0.0) < least
        }
        if short:
            found[name] = len(short)
    return found


def _judge_tempo(planned: float, done: float | None, margin: float | None) -> Against:
    if done is None or margin is None:
        return "undecided"
    away = abs(done - planned)
    if away <= TEMPO_SLACK_S:
        return "as_planned"
    if away <= TEMPO_SLACK_S + margin:
        return "undecided"
    return "above" if done > planned else "below"


def _judge_range(planned: float, done: float | None, margin: float | None) -> Against:
    if done is None or margin is None:
        return "undecided"
    if done >= planned:
        return "as_planned"
    return "below" if planned - done > margin else "undecided"


def _describe_set(
    number: int,
    planned: PlannedSet | None,
    complete: int,
    over: int | None,
    load_over: float | None,
    targets: Sequence[Target],
) -> str:
    reps = f"{complete} complete rep{'' if complete == 1 else 's'}"
    if planned is None or over is None:
        return f"Set {number}: {reps}; nothing was planned."
    how = (
        "as planned" if over == 0 else f"{abs(over)} {'more' if over > 0 else 'fewer'} than the {planned.reps} planned"
    )
    parts = [f"Set {number}: {reps}, {how}"]
    if load_over:
        parts.append(f"{abs(load_over):g} kg {'more' if load_over > 0 else 'less'} than planned")
    for item in targets:
        if item.call in ("above", "below") and item.done is not None and item.margin is not None:
            digits, sign = (1, " s") if item.unit == "s" else (0, "°")
            done = f"{item.done:.{digits}f} ± {round_up(item.margin, digits):.{digits}f}{sign}"
            parts.append(f"{TARGETS[item.name]} {done} for {item.planned:g}{sign} planned")
    return "; ".join(parts) + "."
