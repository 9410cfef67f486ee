"""Done against planned: reps, load, tempo and range of each set of a session, with their margins."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from formcheck.coaching.plan import Plan, PlannedSet
from formcheck.coaching.words import TARGETS, describe
from formcheck.core.errors import UsageError
from formcheck.core.model import SIDES, Message, Review, SetInfo, Side
from formcheck.core.rep_sides import ARM_DRIVERS, count_by_either_side, format_reps_by_side, write_by_side
from formcheck.core.vocabulary.numbers import round_up
from formcheck.exercises.registry import get_exercise

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
    """Complete reps beyond the planned number (negative: short of it), of the side with fewer where they are planned
    each side; None without a plan, or where they are and nothing tells the sides."""
    load_over_kg: float | None
    """Load beyond the planned one; None when either is not known."""
    targets: tuple[Target, ...]
    sentence: str
    complete_left: int | None = None
    """Complete reps of the left alone, `complete_right` of the right; None where both work at once or nothing tells."""
    complete_right: int | None = None

    @property
    def reps(self) -> str:
        """The complete reps as they are written: ``16``, or ``9 left, 7 right``."""
        every = self.planned is not None and self.planned.each_side
        if every and self.complete_left is not None and self.complete_right is not None:
            return write_by_side({"left": self.complete_left, "right": self.complete_right})
        return format_reps_by_side(self.complete_reps, self.complete_left, self.complete_right)


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


def get_planned_set(plan: Plan | None, number: int, target: SetInfo) -> PlannedSet | None:
    """What was planned for a set: by the plan, else by the set's own target."""
    if plan is not None:
        return plan.for_set(number)
    if target.target_reps is None:
        return None
    return PlannedSet(target.target_reps, target.target_reps, each_side=target.target_each_side)


def count_planned_reps(planned: PlannedSet, review: Review) -> int | None:
    """Complete reps that count against a plan: all, or those of the side with fewer where they are planned each side.

    A rep of both arms at once is one of either; None where nothing tells which side makes a rep.
    """
    complete = review.complete_reps
    counts = count_by_either_side(review.reps)
    if planned.each_side and counts is not None:
        return min(counts.values())
    return complete if not planned.each_side or not complete or _tells_arms(review) else None


def _tells_arms(review: Review) -> bool:
    """Whether a set of this exercise tells which arms work."""
    try:
        driver = get_exercise(review.exercise.id).driver
    except UsageError:
        return False
    return {driver.frontal, driver.oblique, driver.sagittal} <= ARM_DRIVERS


def count_reps_over(planned: PlannedSet, review: Review) -> int | None:
    """Reps beyond the planned range, negative when short of it, 0 within; None as in `count_planned_reps`."""
    complete = count_planned_reps(planned, review)
    if complete is None:
        return None
    return max(complete - planned.reps_high, 0) + min(complete - planned.reps_low, 0)


def compare_set(plan: Plan | None, number: int, review: Review | None) -> DoneSet:
    """The set of this number, from 1, against the plan; without a review it was not done."""
    if review is None:
        assert plan is not None
        planned = plan.for_set(number)
        return DoneSet(
            number, planned, 0, 0, None, None, None, (), describe(Message("set-not-recorded", {"set": number}))
        )
    planned = get_planned_set(plan, number, review.set_info)
    complete = review.complete_reps
    counts = count_by_either_side(review.reps)
    load, wanted = review.set_info.load_kg, planned.load_kg if planned else None
    over = None if planned is None else count_reps_over(planned, review)
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
        _describe_set(number, planned, _describe_reps(planned, complete, counts, over), load_over, targets),
        None if counts is None else counts["left"],
        None if counts is None else counts["right"],
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
    reps: str,
    load_over: float | None,
    targets: Sequence[Target],
) -> str:
    if planned is None:
        return f"Set {number}: {reps}; nothing was planned."
    parts = [f"Set {number}: {reps}"]
    if load_over:
        parts.append(f"{abs(load_over):g} kg {'more' if load_over > 0 else 'less'} than planned")
    for item in targets:
        if item.call in ("above", "below") and item.done is not None and item.margin is not None:
            digits, sign = (1, " s") if item.unit == "s" else (0, "°")
            done = f"{item.done:.{digits}f} ± {round_up(item.margin, digits):.{digits}f}{sign}"
            parts.append(f"{TARGETS[item.name]} {done} for {item.planned:g}{sign} planned")
    return "; ".join(parts) + "."


def _describe_reps(
    planned: PlannedSet | None, complete: int, counts: Mapping[Side, int] | None, over: int | None
) -> str:
    """How many reps there are beside how many were planned."""
    reps = f"{complete} complete rep{'' if complete == 1 else 's'}"
    if counts is not None:
        reps += f" ({write_by_side(counts)})"
    if planned is None:
        return reps
    if over is None:
        return f"{reps} for {planned.reps} planned, and which side made each cannot be told"
    if over == 0:
        return f"{reps}, as planned"
    how = "more" if over > 0 else "fewer"
    if planned.each_side and counts is not None and counts["left"] != counts["right"]:
        how += f" on the {min(SIDES, key=counts.__getitem__)}"
    return f"{reps}, {abs(over)} {how} than the {planned.count} planned{' each side' if planned.each_side else ''}"
