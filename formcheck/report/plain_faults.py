"""Faults that the numbers show beyond doubt though the camera does not stand where the point is judged.

From there most sets of a point would be too close to call, so its check is not claimed. What lies a whole margin beyond
the limit all the same, or surely got worse within the set, a coach would not keep back.
"""

from collections.abc import Mapping

from formcheck.core.model import Finding, Measure, Review
from formcheck.exercises.schema import Check, Exercise
from formcheck.report.wording import is_difference
from formcheck.statistics.results import Onset
from formcheck.statistics.set_trends import find_form_changes
from formcheck.verdicts import compute_excess, get_verdict, grade_points, grade_value


def list_plain_faults(review: Review, exercise: Exercise) -> list[tuple[Check, list[Finding]]]:
    """Each check not judged from here of which a rep is surely beyond, with one finding of those reps, one of the rest.

    A rep counts by its worse side.
    """
    tops = {rep.number: rep.top_s for rep in review.reps}
    faults = []
    for check in _list_unjudged(review, exercise):
        worst: dict[int, Measure] = {}
        for item in review.measures:
            if item.name == check.measure and item.rep in tops and item.value is not None and item.margin is not None:
                known = worst.get(item.rep)
                if known is None or compute_excess(check, item.value) > compute_excess(check, known.value or 0.0):
                    worst[item.rep] = item
        sure = {
            rep for rep, item in worst.items() if grade_value(check, item.value or 0.0, item.margin or 0.0) == "not_met"
        }
        groups = [_take(worst, sure), _take(worst, worst.keys() - sure)]
        if sure:
            faults.append((check, [_make_finding(check, items, tops) for items in groups if items]))
    return faults


def find_lost_form(review: Review, exercise: Exercise) -> tuple[Check, Onset] | None:
    """The earliest sure change for the worse that ends beyond the limit of a check not judged from here; None without.

    By the test of every set's course (`find_form_changes`): at most one clean set in 20 has one.
    """
    checks = {check.measure: check for check in _list_unjudged(review, exercise)}
    for change in find_form_changes(review):
        check = checks.get(change.measure)
        if check is not None and change.worse and compute_excess(check, change.after) > check.tolerance:
            return check, change
    return None


def _list_unjudged(review: Review, exercise: Exercise) -> list[Check]:
    """Checks without a verdict since the camera stands elsewhere; none of left against right, which may be mixed up."""
    grades = grade_points(review)
    elsewhere = {item.check for item in review.findings if item.reason == "wrong_view"}
    found = [check for check in exercise.checks if check.id in elsewhere and grades.get(check.id) is None]
    return [check for check in found if not is_difference(check.measure)]


def _take(worst: Mapping[int, Measure], reps: set[int]) -> list[Measure]:
    return [worst[rep] for rep in sorted(reps)]


def _make_finding(check: Check, items: list[Measure], tops: Mapping[int, float]) -> Finding:
    """What some reps say, the farthest off speaking for all."""
    item = max(items, key=lambda one: compute_excess(check, one.value or 0.0))
    grade = grade_value(check, item.value or 0.0, item.margin or 0.0)
    reps = tuple(one.rep for one in items if one.rep is not None)
    verdict = get_verdict(grade)
    at_s = None if item.rep is None else tops[item.rep]
    return Finding(
        check.id, verdict, reps, item.name, item.value, check.limit, at_s, "", "", grade=grade, margin=item.margin
    )
