"""Measures + limits → graded verdicts on every repetition and on the set, each with its evidence."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from formcheck.core.model import (
    SIDES,
    CameraView,
    ClipPart,
    Finding,
    Grade,
    Measure,
    Message,
    MessageValue,
    Point,
    Reason,
    Rep,
    Review,
    Side,
    ViewName,
)
from formcheck.core.vocabulary.messages import NOT_SEEN
from formcheck.core.vocabulary.numbers import count_decimals, round_to_margin
from formcheck.exercises.registry import load_references
from formcheck.exercises.schema import Check, Exercise, UnseenPoint
from formcheck.measures.across_reps import Reading
from formcheck.measures.window import NOT_ASKED
from formcheck.signals.camera import Plane, get_plane_of_view
from formcheck.statistics.change_in_set import RepChange, compute_changes, find_first, list_first_reps
from formcheck.statistics.detectable_change import get_least_random_share
from formcheck.statistics.reps_beyond import Deviation, compute_set_probability, count_needed, shrink_to_set
from formcheck.verdicts import (
    WORST_FIRST,
    Z95,
    compute_excess,
    compute_probability,
    count_extra_digits,
    get_prior_odds,
    get_verdict,
    grade_probability,
    grade_value,
    make_change_check,
    weigh_prior,
)

LEFT_LESS_RIGHT = frozenset({"arm_line_difference", "hand_height_difference_top", "arm_peak_difference"})
"""Heights of the left side less those of the right: a finding names the side that is lower."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the exercise's checks say about a set."""

    findings: tuple[Finding, ...]
    """One for every check and grade that occurs, in the exercise's order; their words are not yet put in."""
    points: tuple[Point, ...]
    """What the set as a whole says about each check."""


@dataclass(frozen=True, slots=True)
class _RepGrade:
    rep: int
    grade: Grade | None
    """None for a rep without a number."""
    reading: Reading | None
    excess: float
    """How far the value lies beyond the limit, positive when outside."""


def judge_set(exercise: Exercise, readings: Sequence[Reading], reps: Sequence[Rep], *views: ViewName) -> Judgement:
    """Hold every rep, and the set as a whole, against the exercise's checks.

    Parameters
    ----------
    views : from where the repetitions were seen, one or several; each check is judged where one of them can tell.

    What a value with its margin comes to: `grade_value`. A rep that could not be measured is undecided. With two sides
    the worse one speaks for the rep. The set's own grade comes from all its reps, with the error that they share kept
    apart from each one's own (`formcheck.statistics.reps_beyond`).
    """
    findings: list[Finding] = []
    points: list[Point] = []
    for check in exercise.checks:
        own = [reading for reading in readings if reading.measure.name == check.measure]
        # Such as the pause before the next rep after the last one, or evenness where one arm rests.
        unasked = {
            item.measure.rep
            for item in own
            if item.measure.missing_reason_coded is not None and item.measure.missing_reason_coded.code in NOT_ASKED
        }
        judged = [rep for rep in reps if (check.reps == "all" or rep.complete) and rep.number not in unasked]
        if not judged:
            continue
        deciding = [view for view in views if view in exercise.views_for(check)]
        if not deciding:
            findings.append(_make_unseen_finding(check, judged, readings))
            points.append(_make_unjudged_point(check.id))
            continue
        grades = [_grade_rep(check, rep, own) for rep in judged]
        for grade in WORST_FIRST:
            group = [item for item in grades if item.grade == grade]
            if group:
                findings.append(_judge_group(check, group, len(judged), readings))
        plane = get_plane_of_view(deciding[0])
        points.append(_grade_set(check, judged, own, plane))
        if check.change_at_most is not None:
            changes, of_changes = _judge_change(check, check.change_at_most, judged, own, plane)
            findings += changes
            points += of_changes
    if reps:
        numbers = tuple(rep.number for rep in reps)
        for point in exercise.untold:
            message = Message("not-measurable", {"title": point.title, "words": point.reason})
            findings.append(_make_finding(point, numbers, None, "not_measurable", message))
            points.append(_make_unjudged_point(point.id))
    return Judgement(tuple(findings), tuple(points))


def judge_again(review: Review, exercise: Exercise) -> Judgement:
    """What a stored review says under other limits, from its own numbers alone.

    Only the moment in the clip is less exact where the finding was not made before: the rep's top.
    """
    moments: dict[tuple[str, float | None], float | None] = {
        (item.measure, item.value): item.at_s for item in review.findings if item.value is not None
    }
    tops = {rep.number: rep.top_s for rep in review.reps}
    readings = [
        Reading(item, moments.get((item.name, item.value), None if item.rep is None else tops.get(item.rep)))
        for item in review.measures
    ]
    views = list_views(review.view, review.parts)
    return judge_set(exercise, readings, review.reps, *views, *([review.second.view.name] if review.second else []))


def list_views(view: CameraView, parts: Sequence[ClipPart]) -> tuple[ViewName, ...]:
    """Every view one clip's repetitions are seen from: the clip's own first, then those of its parts."""
    return tuple(dict.fromkeys((view.name, *(part.view.name for part in parts if part.reps))))


def _grade_rep(check: Check, rep: Rep, readings: Sequence[Reading]) -> _RepGrade:
    """The grade of one rep; ``readings``: those of the check's measure."""
    worst: _RepGrade | None = None
    for value, margin, reading in _list_values(rep, readings):
        item = _RepGrade(rep.number, grade_value(check, value, margin), reading, compute_excess(check, value))
        if worst is None or _rank(item) > _rank(worst):
            worst = item
    return worst or _RepGrade(rep.number, None, None, float("-inf"))


def _list_values(rep: Rep, readings: Sequence[Reading]) -> list[tuple[float, float, Reading]]:
    """Value, margin and reading of one rep, of each side that has them."""
    return [
        (item.measure.value, item.measure.margin, item)
        for item in readings
        if item.measure.rep == rep.number and item.measure.value is not None and item.measure.margin is not None
    ]


def _rank(item: _RepGrade) -> tuple[int, float]:
    return -WORST_FIRST.index(item.grade), item.excess


def _grade_set(check: Check, judged: Sequence[Rep], readings: Sequence[Reading], plane: Plane) -> Point:
    """What all reps say together; nothing where fewer than half of them have a number."""
    share = get_least_random_share(check.measure, plane)
    sides: dict[Side | None, dict[int, Deviation]] = {}
    for rep in judged:
        for value, margin, reading in _list_values(rep, readings):
            beyond, error = compute_excess(check, value) - check.tolerance, margin / Z95
            item = Deviation(beyond, share * error, (1 - share**2) ** 0.5 * error)
            sides.setdefault(reading.measure.side, {})[rep.number] = item
    deviations: dict[int, list[Deviation]] = {}
    for of_side in sides.values():
        for number, item in zip(of_side, shrink_to_set(list(of_side.values())), strict=True):
            deviations.setdefault(number, []).append(item)
    deviations = {rep.number: deviations[rep.number] for rep in judged if rep.number in deviations}
    if 2 * len(deviations) < len(judged):
        return _make_unjudged_point(check.id, tuple(deviations))
    probability = compute_set_probability(list(deviations.values()), count_needed(len(deviations)))
    probability = weigh_prior(probability, get_prior_odds())
    grade = grade_probability(probability)
    beyond_it = tuple(rep for rep, values in deviations.items() if max(item.beyond for item in values) > 0)
    return Point(check.id, "level", get_verdict(grade), grade, probability, tuple(deviations), beyond_it)


def _judge_change(
    check: Check, limit: float, judged: Sequence[Rep], readings: Sequence[Reading], plane: Plane
) -> tuple[list[Finding], list[Point]]:
    """What the later reps say beside the set's first three; nothing where those are no measure.

    A finding is there only for reps that have (probably) changed, the worst of them speaking for all.
    """
    # Each arm's strokes are held against its own first ones.
    firsts = {side: list_first_reps(judged, side) for side in (None, *SIDES)}
    sides: dict[tuple[Side | None, Side | None], dict[int, tuple[float, float, Reading]]] = {}
    for rep in judged:
        for value, margin, reading in _list_values(rep, readings):
            of_side = sides.setdefault((rep.side, reading.measure.side), {})
            of_side[rep.number] = compute_excess(check, value), margin, reading
    found: dict[int, list[tuple[RepChange, Reading]]] = {}
    for (arm, _), rows in sides.items():
        badness, margins = {rep: row[0] for rep, row in rows.items()}, {rep: row[1] for rep, row in rows.items()}
        for item in compute_changes(badness, margins, firsts[arm], limit, check.measure, plane):
            found.setdefault(item.rep, []).append((item, rows[item.rep][2]))
    if not found:
        return [], []
    deviations = [[Deviation(item.worse - limit, item.own, item.shared) for item, _ in found[rep]] for rep in found]
    probability = weigh_prior(compute_set_probability(deviations, count_needed(len(found))), get_prior_odds())
    grade = grade_probability(probability)
    worst = {rep: max(items, key=lambda one: one[0].worse) for rep, items in found.items()}
    beyond = tuple(rep for rep, (item, _) in worst.items() if item.worse > limit)
    point = Point(check.id, "change", get_verdict(grade), grade, probability, tuple(found), beyond)
    asked = make_change_check(check, limit)
    grades = {rep: grade_value(asked, item.worse, item.margin) for rep, (item, _) in worst.items()}
    reps = tuple(rep for rep in found if get_verdict(grades[rep]) == "not_met")
    if not reps:
        return [], [point]
    speaks = max(reps, key=lambda rep: worst[rep][0].worse)
    return [_make_change_finding(check, asked, reps, grades[speaks], *worst[speaks], tuple(found))], [point]


def _make_change_finding(
    check: Check,
    asked: Check,
    reps: tuple[int, ...],
    grade: Grade,
    change: RepChange,
    reading: Reading,
    later: tuple[int, ...],
) -> Finding:
    """The finding about reps that are worse than the first ones; `change` and its `reading`: the worst of them."""
    measure = Measure(
        check.measure, reading.measure.side, change.rep, change.worse, change.margin, reading.measure.unit
    )
    message = _make_message(asked, grade, change.rep, Reading(measure, reading.at_s), len(later))
    more: dict[str, MessageValue] = {"word": check.change_word or "", "from_rep": find_first(reps, later) or 0}
    code = "changed" if grade == "not_met" else "probably-changed"
    message = Message(code, {**message.parameters, **more})
    found = _make_finding(asked, reps, grade, None, message, Reading(measure, reading.at_s))
    return replace(found, kind="change")


def _make_unjudged_point(check: str, reps: tuple[int, ...] = ()) -> Point:
    return Point(check, "level", "undecided", None, None, reps, ())


_REASON_OF: Mapping[str, Reason] = {
    "wrong-view": "wrong_view",
    "margin-not-known": "inexact",
    "margin-too-wide": "inexact",
    "past-range": "inexact",
    "sides-swapped": "hidden",
    "body-not-fitted": "hidden",
}
"""Why measures have no value, where that alone says why a finding is undecided."""


def _find_missing_reason(check: Check, reps: Sequence[int], readings: Sequence[Reading]) -> tuple[Reason, Message]:
    """Why some reps have no number: the view of a clip's part or too wide a margin, where that is all, or hidden."""
    mine = [item.measure for item in readings if item.measure.name == check.measure and item.measure.rep in reps]
    why = mine[0].missing_reason_coded if mine else None
    if why is None or why.code not in _REASON_OF or any(item.missing_reason_coded != why for item in mine):
        return "hidden", Message(NOT_SEEN)
    return _REASON_OF[why.code], why


def _judge_group(check: Check, group: Sequence[_RepGrade], judged: int, readings: Sequence[Reading]) -> Finding:
    """The finding about reps with one grade."""
    worst = max(group, key=lambda item: item.excess)
    reps = tuple(item.rep for item in group)
    reading, grade = worst.reading, worst.grade
    if reading is None or grade is None:
        reason, why = _find_missing_reason(check, reps, readings)
        message = Message("not-measured", {"title": check.title, "judged": judged, "why": why.code, **why.parameters})
        return _make_finding(check, reps, None, reason, message)
    return _make_finding(
        check,
        reps,
        grade,
        "close" if grade == "close" else None,
        _make_message(check, grade, worst.rep, reading, judged),
        reading,
    )


def _make_finding(
    check: Check | UnseenPoint,
    reps: tuple[int, ...],
    grade: Grade | None,
    reason: Reason | None,
    message: Message,
    reading: Reading | None = None,
) -> Finding:
    """A finding without its words; `reading`: the one that stands for its reps."""
    judged = check if isinstance(check, Check) else None
    value = None if reading is None else reading.measure.value
    margin = None if reading is None else reading.measure.margin
    probability = None
    if judged is not None and value is not None and margin is not None:
        probability = compute_probability(judged, value, margin)
    return Finding(
        check=check.id,
        verdict=get_verdict(grade),
        reps=reps,
        measure=judged.measure if judged else "",
        value=value,
        limit=judged.limit if judged else None,
        at_s=None if reading is None else reading.at_s,
        text="",
        basis=load_references()[judged.source].text if judged else "",
        reason=reason,
        text_coded=message,
        grade=grade,
        probability=probability,
        margin=margin,
    )


def _make_message(check: Check, grade: Grade, rep: int, reading: Reading, judged: int) -> Message:
    """The message about reps that were measured; `rep` and its `reading`: the one that stands for them."""
    measure = reading.measure
    value, margin = measure.value or 0.0, measure.margin or 0.0
    size, finer = abs(value) if check.absolute else value, count_extra_digits(check, value, margin)
    shown = round_to_margin(size, margin, check.unit, check.measure, finer=finer)
    parameters: dict[str, MessageValue] = {
        "title": check.title,
        "judged": judged,
        "value": shown[0],
        "margin": shown[1],
        "decimals": count_decimals(margin, check.unit, check.measure, finer=finer),
        "unit": check.unit,
        "rep": rep,
        "bound": "at_least" if check.at_least is not None else "at_most",
    }
    if measure.side:
        parameters["side"] = measure.side
    elif check.measure in LEFT_LESS_RIGHT and get_verdict(grade) == "not_met":
        parameters["lower"] = "right" if value > 0 else "left"
    if get_verdict(grade) == "not_met":
        parameters["cue"] = check.cue
    return Message(grade.replace("_", "-"), parameters)


def _make_unseen_finding(check: Check, judged: Sequence[Rep], readings: Sequence[Reading]) -> Finding:
    reasons = (item.measure.missing_reason_coded for item in readings if item.measure.name == check.measure)
    why = next((reason for reason in reasons if reason is not None), Message("not-from-here"))
    message = Message("not-shown", {"title": check.title, "why": why.code, **why.parameters})
    return _make_finding(check, tuple(rep.number for rep in judged), None, "wrong_view", message)
