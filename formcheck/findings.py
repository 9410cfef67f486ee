"""Measures + limits → met, not met or undecided, each with its evidence."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from formcheck.core.model import (
    CameraView,
    ClipPart,
    Finding,
    Message,
    MessageValue,
    Reason,
    Rep,
    Review,
    Verdict,
    ViewName,
)
from formcheck.core.vocabulary.messages import NOT_SEEN
from formcheck.core.vocabulary.numbers import count_decimals, round_to_margin
from formcheck.exercises.registry import load_references
from formcheck.exercises.schema import Check, Exercise, UnseenPoint
from formcheck.measures.across_reps import Reading
from formcheck.measures.window import NO_NEXT_REP
from formcheck.verdicts import compute_excess, count_extra_digits, judge_reason, judge_value


@dataclass(frozen=True, slots=True)
class _RepVerdict:
    rep: int
    verdict: Verdict
    reason: Reason | None
    reading: Reading | None
    excess: float
    """How far the value lies beyond the limit, positive when outside."""


def judge_checks(
    exercise: Exercise, readings: Sequence[Reading], reps: Sequence[Rep], *views: str
) -> tuple[Finding, ...]:
    """One finding for every check and verdict that occurs, in the exercise's order.

    Parameters
    ----------
    views : from where the repetitions were seen, one or several; each check is judged where one of them can tell.

    What a value with its margin comes to: `judge_value`. A rep that could not be measured is undecided too, for
    another reason. With two sides the worse one speaks for the rep.
    """
    findings = []
    for check in exercise.checks:
        own = [reading for reading in readings if reading.measure.name == check.measure]
        # The pause before the next rep is none after the last one: nothing is asked of it there.
        ended = {item.measure.rep for item in own if item.measure.missing_reason_coded == NO_NEXT_REP}
        judged = [rep for rep in reps if (check.reps == "all" or rep.complete) and rep.number not in ended]
        if not judged:
            continue
        if not set(views) & set(exercise.views_for(check)):
            findings.append(_make_unseen_finding(check, judged, readings))
            continue
        verdicts = [_judge(check, rep, own) for rep in judged]
        for reason in _WORST_FIRST:
            group = [item for item in verdicts if (item.verdict, item.reason) == reason]
            if group:
                findings.append(_judge_group(check, group, len(judged), readings))
    if reps:
        numbers = tuple(rep.number for rep in reps)
        for point in exercise.untold:
            message = Message("not-measurable", {"title": point.title, "words": point.reason})
            findings.append(_make_finding(point, numbers, "undecided", "not_measurable", message))
    return tuple(findings)


@dataclass(frozen=True, slots=True)
class Change:
    """What other limits would make of some reps; None where there was, or would be, no finding."""

    check: str
    title: str
    reps: tuple[int, ...]
    before: Verdict | None
    after: Verdict | None


def judge_again(review: Review, exercise: Exercise) -> tuple[Finding, ...]:
    """The findings of a stored review under other limits, from its own numbers alone; their words are not yet put in.

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
    return judge_checks(exercise, readings, review.reps, *views, *([review.second.view.name] if review.second else []))


def list_views(view: CameraView, parts: Sequence[ClipPart]) -> tuple[ViewName, ...]:
    """Every view one clip's repetitions are seen from: the clip's own first, then those of its parts."""
    return tuple(dict.fromkeys((view.name, *(part.view.name for part in parts if part.reps))))


def find_changes(review: Review, exercise: Exercise) -> tuple[Change, ...]:
    """Where the exercise's limits would judge a stored review otherwise than it was judged."""
    before, after = _map_by_rep(review.findings), _map_by_rep(judge_again(review, exercise))
    titles = {check.id: check.title for check in exercise.checks}
    grouped: dict[tuple[str, Verdict | None, Verdict | None], list[int]] = {}
    for key in sorted(before.keys() | after.keys()):
        if before.get(key) != after.get(key):
            grouped.setdefault((key[0], before.get(key), after.get(key)), []).append(key[1])
    return tuple(
        Change(check, titles.get(check, check), tuple(reps), was, becomes)
        for (check, was, becomes), reps in grouped.items()
    )


def _map_by_rep(findings: Sequence[Finding]) -> dict[tuple[str, int], Verdict]:
    return {(item.check, rep): item.verdict for item in findings for rep in item.reps}


_WORST_FIRST: tuple[tuple[Verdict, Reason | None], ...] = (
    ("not_met", None),
    ("undecided", "within_tolerance"),
    ("undecided", "close"),
    ("undecided", "hidden"),
    ("met", None),
)


def _judge(check: Check, rep: Rep, readings: Sequence[Reading]) -> _RepVerdict:
    """The verdict on one rep; ``readings``: those of the check's measure."""
    worst: _RepVerdict | None = None
    for reading in readings:
        measure = reading.measure
        if measure.rep != rep.number or measure.value is None or measure.margin is None:
            continue
        value, margin = measure.value, measure.margin
        verdict, reason = judge_value(check, value, margin), judge_reason(check, value, margin)
        item = _RepVerdict(rep.number, verdict, reason, reading, compute_excess(check, value))
        if worst is None or _rank(item) > _rank(worst):
            worst = item
    return worst or _RepVerdict(rep.number, "undecided", "hidden", None, float("-inf"))


def _rank(item: _RepVerdict) -> tuple[int, float]:
    return -_WORST_FIRST.index((item.verdict, item.reason)), item.excess


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


def _judge_group(check: Check, group: Sequence[_RepVerdict], judged: int, readings: Sequence[Reading]) -> Finding:
    """The finding about reps with one verdict."""
    verdict = group[0].verdict
    worst = max(group, key=lambda item: item.excess)
    reps = tuple(item.rep for item in group)
    reading, reason = worst.reading, worst.reason
    value = None if reading is None else reading.measure.value
    if reading is None or value is None:
        reason, why = _find_missing_reason(check, reps, readings)
        message = Message("not-measured", {"title": check.title, "judged": judged, "why": why.code, **why.parameters})
    else:
        message = _make_message(check, verdict, reason, worst.rep, reading, judged)
    return _make_finding(check, reps, verdict, reason, message, value, None if reading is None else reading.at_s)


def _make_finding(
    check: Check | UnseenPoint,
    reps: tuple[int, ...],
    verdict: Verdict,
    reason: Reason | None,
    message: Message,
    value: float | None = None,
    at_s: float | None = None,
) -> Finding:
    """A finding without its words."""
    judged = check if isinstance(check, Check) else None
    return Finding(
        check=check.id,
        verdict=verdict,
        reps=reps,
        measure=judged.measure if judged else "",
        value=value,
        limit=judged.limit if judged else None,
        at_s=at_s,
        text="",
        basis=load_references()[judged.source].text if judged else "",
        reason=reason,
        text_coded=message,
    )


def _make_message(
    check: Check, verdict: Verdict, reason: Reason | None, rep: int, reading: Reading, judged: int
) -> Message:
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
    if verdict == "met":
        return Message("met", parameters)
    if verdict == "not_met":
        return Message("not-met", parameters | {"cue": check.cue})
    if reason == "within_tolerance":
        return Message("within-tolerance", parameters | {"tolerance": check.tolerance})
    return Message("close", parameters)


def _make_unseen_finding(check: Check, judged: Sequence[Rep], readings: Sequence[Reading]) -> Finding:
    reasons = (item.measure.missing_reason_coded for item in readings if item.measure.name == check.measure)
    why = next((reason for reason in reasons if reason is not None), Message("not-from-here"))
    message = Message("not-shown", {"title": check.title, "why": why.code, **why.parameters})
    return _make_finding(check, tuple(rep.number for rep in judged), "undecided", "wrong_view", message)
