"""One value with its margin held against a check's limit: met, not met or undecided, and how sure.

Plain arithmetic without curves, so that whatever only shows stored findings loads no numerical library.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from statistics import NormalDist

from formcheck.core.model import Finding, Grade, Measure, Point, Reason, Review, Verdict
from formcheck.core.vocabulary.numbers import format_with_margin, round_to_margin
from formcheck.exercises.schema import Check

SURE, PROBABLE, LIKELY = 0.975, 0.85, 0.6
"""Probability from which on a point is met or not met; probably met; probably not met. A judgement: a wrong remark
costs a second look, a wrong praise a fault that goes on, so what is praised needs more than what is named."""
Z95 = NormalDist().inv_cdf(SURE)
PROBABLE_FROM = NormalDist().inv_cdf(PROBABLE) / Z95
"""So many margins from a place a value is probably, by its error alone, on its side: 0.53."""
WORST_FIRST: tuple[Grade | None, ...] = ("not_met", "probably_not_met", "close", None, "probably_met", "met")
"""Grades in the order in which they are told; None stands for what has no number."""
VERDICT_OF: Mapping[Grade, Verdict] = {
    "not_met": "not_met",
    "probably_not_met": "not_met",
    "close": "undecided",
    "probably_met": "met",
    "met": "met",
}
_MOST_DIGITS_MORE = 4
"""A value next to the limit is written with up to three decimals more, so that what is printed says what was judged."""


@cache
def get_prior_odds() -> float:
    """How often a point is at fault for each time that it is kept, before a set is seen (`verdicts.toml`)."""
    path = Path(__file__).with_name("verdicts.toml")
    return float(tomllib.loads(path.read_text(encoding="utf-8"))["prior_odds"])


def weigh_prior(probability: float, odds: float) -> float:
    """A probability whose odds are multiplied by those known before (Bayes' rule)."""
    return odds * probability / (1 - probability + odds * probability)


def grade_value(check: Check, value: float, margin: float) -> Grade:
    """How sure it is whether one value with its margin, all in the check's unit, keeps the limit.

    By the probability that the true value lies beyond limit and tolerance (`compute_probability`). Nothing within its
    margin of the limit is called *met*; one that keeps it by just its margin is.
    """
    if compute_excess(check, value) <= -margin:
        return "met"
    grade = grade_probability(compute_probability(check, value, margin))
    return "probably_met" if grade == "met" else grade


def grade_probability(probability: float) -> Grade:
    """How sure a verdict is, by the probability that the truth is beyond."""
    if probability >= SURE:
        return "not_met"
    if probability >= LIKELY:
        return "probably_not_met"
    if probability <= 1 - SURE:
        return "met"
    return "probably_met" if probability <= 1 - PROBABLE else "close"


def get_verdict(grade: Grade | None) -> Verdict:
    """The side a grade is on; undecided for a close one, and where there is none."""
    return VERDICT_OF[grade] if grade is not None else "undecided"


def compute_probability(check: Check, value: float, margin: float) -> float:
    """Probability that the true value lies beyond limit and tolerance.

    The value's error is normal, sd margin / 1.96; a true value beyond is known to be rarer by `get_prior_odds`.
    """
    beyond = compute_excess(check, value) - check.tolerance
    if margin <= 0:
        return 1.0 if beyond > 0 else 0.0
    return weigh_prior(NormalDist().cdf(Z95 * beyond / margin), get_prior_odds())


def find_grade(finding: Finding, measure: Measure | None, check: Check | None) -> Grade | None:
    """How sure a finding is; of reviews that do not say it, worked out from the finding's own numbers.

    Before there were grades only what is sure today was called met or not met, all else undecided.

    measure : the one the finding quotes, with its margin.
    """
    if finding.grade is not None or finding.value is None:
        return finding.grade
    if finding.verdict == "not_met":
        return "not_met"
    if finding.verdict == "met":
        return "met"
    margin = None if measure is None else measure.margin
    if check is None or finding.limit is None or margin is None:
        return "close"
    judged = get_judged_check(check, finding)
    if find_reason(finding, measure, check) == "within_tolerance":
        tolerance = finding.text_coded.parameters.get("tolerance") if finding.text_coded else None
        if not isinstance(tolerance, int | float):
            return "close"
        judged = judged.model_copy(update={"tolerance": float(tolerance)})
    return grade_value(judged, finding.value, margin)


def find_reason(finding: Finding, measure: Measure | None, check: Check | None) -> Reason | None:
    """Why a finding is undecided; of reviews that do not say it, worked out from the finding's own numbers.

    measure : the one the finding quotes, with its margin.
    """
    if finding.reason is not None or finding.verdict != "undecided":
        return finding.reason
    if finding.value is None:
        return None
    if finding.limit is None or measure is None or measure.margin is None:
        return "close"
    size = abs(finding.value) if check is not None and check.absolute else finding.value
    return "close" if abs(size - finding.limit) <= measure.margin else "within_tolerance"


def find_margin(finding: Finding, measure: Measure | None) -> float | None:
    """The margin of a finding's value: its own, or in older reviews that of the measure it quotes."""
    return finding.margin if finding.margin is not None or measure is None else measure.margin


def format_evidence(check: Check, value: float, margin: float | None) -> str:
    """A judged value with its margin as it is written, by as many digits as lead a reader to the same verdict."""
    size = abs(value) if check.absolute else value
    finer = 0 if margin is None else count_extra_digits(check, value, margin)
    return format_with_margin(size, margin, check.unit, check.measure, finer=finer)


def count_extra_digits(check: Check, value: float, margin: float) -> int:
    """How many decimals more than the margin asks for let a reader see what is sure: met, not met, neither.

    0 where none do.
    """
    size = abs(value) if check.absolute else value
    judged = _find_sure_grade(check, value, margin)
    for finer in range(_MOST_DIGITS_MORE):
        shown = round_to_margin(size, margin, check.unit, check.measure, finer=finer)
        if _find_sure_grade(check, *shown) == judged:
            return finer
    return 0


def _find_sure_grade(check: Check, value: float, margin: float) -> Grade | None:
    grade = grade_value(check, value, margin)
    return grade if grade in ("met", "not_met") else None


def get_judged_check(check: Check, finding: Finding) -> Check:
    """The check with the limit a finding was judged by, which may be another than the exercise's today.

    For a finding of the kind *change* it is that of `make_change_check`.
    """
    if finding.kind == "change":
        return make_change_check(check, finding.limit or check.change_at_most or 0.0)
    if finding.limit is None or finding.limit == check.limit:
        return check
    bound = "at_least" if check.at_least is not None else "at_most"
    return check.model_copy(update={bound: finding.limit, "tolerance": 0.0, "fault_at": None})


def make_change_check(check: Check, limit: float) -> Check:
    """A check of how much worse a rep is than the set's first ones; its value is that difference, larger when worse."""
    words = {"title": check.change_title or check.title, "cue": check.change_cue or check.cue}
    numbers = {"at_least": None, "at_most": limit, "tolerance": 0.0, "fault_at": None, "absolute": False}
    return check.model_copy(update={**words, **numbers})


def compute_excess(check: Check, value: float) -> float:
    """How far a value lies beyond the limit, positive when outside, in the check's unit."""
    size = abs(value) if check.absolute else value
    return check.limit - size if check.at_least is not None else size - check.limit


def choose_points(review: Review) -> dict[str, Point]:
    """Check → the point that speaks for it: its change where that is at fault, and surer than its level is.

    Empty for reviews from before there were grades.
    """
    chosen = {point.check: point for point in review.points if point.kind == "level"}
    for point in review.points:
        known = chosen.get(point.check)
        surer = known is None or WORST_FIRST.index(point.grade) < WORST_FIRST.index(known.grade)
        if point.kind == "change" and point.verdict == "not_met" and surer:
            chosen[point.check] = point
    return chosen


def grade_points(review: Review) -> dict[str, Grade | None]:
    """Check → how sure the verdict on the set is (`choose_points`); None where nothing of it could be seen.

    In reviews from before there were grades a check has the worst grade of its findings.
    """
    if review.points:
        return {check: point.grade for check, point in choose_points(review).items()}
    grades: dict[str, Grade | None] = {}
    found = [(item.check, find_grade(item, None, None)) for item in review.findings]
    for check, grade in sorted(found, key=lambda item: WORST_FIRST.index(item[1])):
        grades.setdefault(check, grade)
    return grades


def judge_points(review: Review) -> dict[str, Verdict]:
    """Check → verdict on the set: the side of its grade (`grade_points`)."""
    return {check: get_verdict(grade) for check, grade in grade_points(review).items()}


def count_points(review: Review) -> dict[Verdict, int]:
    """How many checks there are of each verdict (`judge_points`)."""
    verdicts = list(judge_points(review).values())
    order: tuple[Verdict, ...] = ("not_met", "undecided", "met")
    return {verdict: verdicts.count(verdict) for verdict in order}
