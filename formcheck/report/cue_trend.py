"""The measure behind the next cue from rep to rep: each value with its margin and grade, and the target for it."""

from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean

from formcheck.core.model import SIDES, Finding, Grade, Measure, Review, Side
from formcheck.core.vocabulary.numbers import HARD, format_with_margin, round_to_margin
from formcheck.exercises.schema import Check, Exercise
from formcheck.report import wording
from formcheck.report.next_cue import NextCue
from formcheck.report.words import WORDS
from formcheck.signals.camera import get_plane_of_view
from formcheck.statistics.change_in_set import FIRST_REPS, compute_changes, list_first_reps
from formcheck.statistics.set_trends import analyse_set
from formcheck.verdicts import (
    WORST_FIRST,
    choose_points,
    compute_excess,
    format_evidence,
    get_judged_check,
    grade_value,
    make_change_check,
)

_MOST_DIGITS_MORE = 3
FEWEST_REPS = 5
"""A set of fewer reps has no trend: exact Mann-Kendall claims nothing below five."""


@dataclass(frozen=True, slots=True)
class TrendValue:
    """One rep's value, of two sides the worse one."""

    rep: int
    value: float
    """In the check's unit; its size where the check judges sizes."""
    margin: float
    grade: Grade
    side: Side | None
    text: str
    """With its margin, as it is written."""


@dataclass(frozen=True, slots=True)
class CueTrend:
    """What a trend chart shows."""

    check: Check
    """As it was judged; of a change, with the limit that the set's first reps give."""
    values: tuple[TrendValue, ...]
    """In the order of the reps, those that have a number."""
    target: str
    """Such as ``target: at least 82°``."""
    from_rep: int | None
    """The rep from which on the cue holds; None where it is so in single reps, or nothing is to change."""
    broke_down: int | None
    """The rep from which form as a whole changed for the worse; None where nothing of the kind can be told."""

    @property
    def name(self) -> str:
        """The measure in plain words, beginning with a capital letter."""
        return wording.capitalise(wording.get_plain_name(self.check.measure))

    @property
    def caption(self) -> str:
        """From which rep on form changed for the worse, or from which on the cue holds; empty where neither is so."""
        words = WORDS["trend"]
        if self.from_rep is not None:
            return words["from-rep"].format(rep=self.from_rep) if self.from_rep > 1 else ""
        return "" if self.broke_down is None else words["broke-down"].format(rep=self.broke_down)

    @property
    def turn(self) -> int | None:
        """The rep that the caption names; None without one."""
        return self.from_rep if self.from_rep is not None else self.broke_down

    @property
    def lines(self) -> tuple[tuple[TrendValue, ...], ...]:
        """The values that one line joins: all, or where the arms work in turn those of each arm."""
        sides = [item.side for item in self.values]
        in_turn = len(sides) > len(SIDES) and all(a and b and a != b for a, b in pairwise(sides))
        if not in_turn:
            return (self.values,)
        return tuple(tuple(item for item in self.values if item.side == side) for side in dict.fromkeys(sides))

    @property
    def axis(self) -> str:
        """What the reps' axis is called."""
        first = [line[0].side for line in self.lines]
        return WORDS["trend"]["axis" if len(first) == 1 else "axis-in-turn"].format(first=first[0], then=first[-1])

    def find(self, rep: int) -> TrendValue | None:
        """The value of one rep."""
        return next((item for item in self.values if item.rep == rep), None)


def make_cue_trend(review: Review, exercise: Exercise | None, cue: NextCue | None) -> CueTrend | None:
    """The trend of the cue's measure; without a point to change, of the first point that was judged in most reps.

    None where no rep has a number for it, or the exercise's file is gone.
    """
    check, finding = _choose_check(review, exercise, cue)
    if check is None:
        return None
    judged = get_judged_check(check, finding) if finding is not None and finding.kind == "level" else check
    found = _list_worse_sides(review, judged, cue.side if cue is not None else None)
    if finding is not None and finding.kind == "change":
        judged = _make_target_of_change(check, finding, found)
    values = tuple(_make_value(judged, item) for item in found)
    if finding is not None and finding.kind == "change":
        grades = _grade_changes(review, check, finding.limit or 0.0)
        values = tuple(
            replace(item, grade=grades.get(item.rep, item.grade), text=_write_on_its_side(judged, item))
            for item in values
        )
    if not values:
        return None
    target = WORDS["trend"]["target"].format(bound=wording.format_bound(judged))
    return CueTrend(judged, values, target, None if cue is None else cue.from_rep, _find_breakdown(review))


def make_point_trend(review: Review, exercise: Exercise, check: str) -> CueTrend | None:
    """The trend of one point, whatever the cue is; None where no rep has a number for it."""
    if check not in {item.id for item in exercise.checks}:
        return None
    return make_cue_trend(review, exercise, NextCue(check, title="", cue="", why="", reps=(), at_s=None))


def _choose_check(
    review: Review, exercise: Exercise | None, cue: NextCue | None
) -> tuple[Check | None, Finding | None]:
    """The point to be shown, and the finding that it was judged by."""
    checks = {check.id: check for check in exercise.checks} if exercise is not None else {}
    points = choose_points(review)
    if cue is not None and cue.check in checks:
        kind = points[cue.check].kind if cue.check in points else "level"
        mine = [item for item in review.findings if item.check == cue.check and item.value is not None]
        return checks[cue.check], next((item for item in mine if item.kind == kind), mine[0] if mine else None)
    for name, check in checks.items():
        mine = [item for item in review.findings if item.check == name and item.kind == "level"]
        seen = [item for item in mine if item.value is not None]
        if seen and len(_list_worse_sides(review, check, None)) * 2 >= len(review.reps):
            return check, seen[0]
    return None, None


def _list_worse_sides(review: Review, check: Check, side: Side | None) -> list[Measure]:
    """The check's measure of each rep: of this side, else of the one that is farther beyond the limit."""
    found: dict[int, Measure] = {}
    for item in review.measures:
        if item.name != check.measure or item.rep is None or item.value is None or item.margin is None:
            continue
        if side is not None and item.side is not None and item.side != side:
            continue
        other = found.get(item.rep)
        if other is None or compute_excess(check, item.value) > compute_excess(check, other.value or 0.0):
            found[item.rep] = item
    return [found[rep.number] for rep in review.reps if rep.number in found]


def _make_target_of_change(check: Check, finding: Finding, found: list[Measure]) -> Check:
    """The check with the limit that the mean of the first reps and what a rep may lose to them give."""
    first = [item.value for item in found[:FIRST_REPS] if item.value is not None]
    allowed = finding.limit or 0.0
    least = check.at_least is not None
    exact = fmean(first) - allowed if least else fmean(first) + allowed
    limit = round_to_margin(exact, max(item.margin or 0.0 for item in found), check.unit, check.measure)[0]
    numbers = {"at_least": limit if least else None, "at_most": None if least else limit}
    return check.model_copy(update={**numbers, "tolerance": 0.0, "fault_at": None, "absolute": False})


def _write_on_its_side(check: Check, item: TrendValue) -> str:
    """A value by as many digits as put it where it lies, on or beyond the target: 79.5° ± 4° does not meet 80°.

    The margin is written as it is in the other reps.
    """
    beyond = compute_excess(check, item.value) > 0
    for finer in range(_MOST_DIGITS_MORE):
        shown, _ = round_to_margin(item.value, item.margin, check.unit, check.measure, finer=finer)
        if (compute_excess(check, shown) > 0) == beyond:
            break
    fine, usual = (
        wording.split_margin(format_with_margin(item.value, item.margin, check.unit, check.measure, finer=digits))
        for digits in (finer, 0)
    )
    return f"{fine[0]}{HARD}±{HARD}{usual[1]}"


def _grade_changes(review: Review, check: Check, limit: float) -> dict[int, Grade]:
    """Later rep → how sure it is that it is worse than the first ones: far surer than how far it is from a limit."""
    asked, plane = make_change_check(check, limit), get_plane_of_view(review.view.name)
    arms = {rep.number: rep.side for rep in review.reps}
    values: dict[tuple[Side | None, Side | None], tuple[dict[int, float], dict[int, float]]] = {}
    for item in review.measures:
        if item.name == check.measure and item.rep is not None and item.value is not None and item.margin is not None:
            badness, margins = values.setdefault((arms[item.rep], item.side), ({}, {}))
            badness[item.rep], margins[item.rep] = compute_excess(check, item.value), item.margin
    grades: dict[int, Grade] = {}
    for (arm, _), (badness, margins) in values.items():
        first = list_first_reps(review.reps, arm)
        for change in compute_changes(badness, margins, first, limit, check.measure, plane):
            grade, known_grade = grade_value(asked, change.worse, change.margin), grades.get(change.rep, "met")
            grades[change.rep] = min(grade, known_grade, key=WORST_FIRST.index)
    return grades


def _make_value(check: Check, item: Measure) -> TrendValue:
    assert item.rep is not None
    assert item.value is not None
    assert item.margin is not None
    size = abs(item.value) if check.absolute else item.value
    grade, text = grade_value(check, item.value, item.margin), format_evidence(check, item.value, item.margin)
    return TrendValue(item.rep, size, item.margin, grade, item.side, text)


def _find_breakdown(review: Review) -> int | None:
    breakdown = analyse_set(review).breakdown if len(review.reps) >= FEWEST_REPS else None
    return None if breakdown is None else breakdown.rep
