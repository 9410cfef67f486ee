"""One value with its margin held against a check's limit: met, not met or undecided, and why.

Plain arithmetic without curves, so that whatever only shows stored findings loads no numerical library.
"""

from collections.abc import Sequence

from formcheck.core.model import Finding, Measure, Reason, Verdict
from formcheck.core.vocabulary.numbers import format_with_margin, round_to_margin
from formcheck.exercises.schema import Check

_MOST_DIGITS_MORE = 4
"""A value next to the limit is written with up to three decimals more, so that what is printed says what was judged."""


def judge_value(check: Check, value: float, margin: float) -> Verdict:
    """The verdict on one value with its margin, all in the check's unit.

    *Met* when the value keeps the limit by its margin or more, *not met* when it is beyond limit and tolerance
    together by more than its margin, *undecided* otherwise (`judge_reason`).
    """
    beyond = compute_excess(check, value)
    if beyond <= -margin:
        return "met"
    return "not_met" if beyond > check.tolerance + margin else "undecided"


def judge_reason(check: Check, value: float, margin: float) -> Reason | None:
    """Why a measured value is undecided; None for one that is not.

    *Close*: the limit lies within the margin of the value. *Within tolerance*: the value is beyond the limit by more
    than its margin, yet not beyond limit and tolerance together by more than that.
    """
    if judge_value(check, value, margin) != "undecided":
        return None
    return "close" if compute_excess(check, value) <= margin else "within_tolerance"


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


def format_evidence(check: Check, value: float, margin: float | None) -> str:
    """A judged value with its margin as it is written, by as many digits as lead a reader to the same verdict."""
    size = abs(value) if check.absolute else value
    finer = 0 if margin is None else count_extra_digits(check, value, margin)
    return format_with_margin(size, margin, check.unit, check.measure, finer=finer)


def count_extra_digits(check: Check, value: float, margin: float) -> int:
    """How many decimals more than the margin asks for lead a reader to the same verdict; 0 where none do."""
    size = abs(value) if check.absolute else value
    judged = judge_value(check, value, margin), judge_reason(check, value, margin)
    for finer in range(_MOST_DIGITS_MORE):
        shown = round_to_margin(size, margin, check.unit, check.measure, finer=finer)
        if (judge_value(check, *shown), judge_reason(check, *shown)) == judged:
            return finer
    return 0


def get_judged_check(check: Check, finding: Finding) -> Check:
    """The check with the limit a finding was judged by, which may be another than the exercise's today."""
    if finding.limit is None or finding.limit == check.limit:
        return check
    bound = "at_least" if check.at_least is not None else "at_most"
    return check.model_copy(update={bound: finding.limit, "tolerance": 0.0, "fault_at": None})


def compute_excess(check: Check, value: float) -> float:
    """How far a value lies beyond the limit, positive when outside, in the check's unit."""
    size = abs(value) if check.absolute else value
    return check.limit - size if check.at_least is not None else size - check.limit


def count_points(findings: Sequence[Finding]) -> dict[Verdict, int]:
    """How many checks there are of each verdict, each check counted once under its worst."""
    order: tuple[Verdict, ...] = ("not_met", "undecided", "met")
    worst: dict[str, Verdict] = {}
    for verdict in order:
        for finding in findings:
            if finding.verdict == verdict:
                worst.setdefault(finding.check, verdict)
    return {verdict: sum(item == verdict for item in worst.values()) for verdict in order}
