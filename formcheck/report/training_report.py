"""Reports on training as one HTML file each: two sets or the early and late reps of one, and progress over sessions."""

from collections.abc import Mapping, Sequence
from functools import partial

from markupsafe import Markup

from formcheck.coaching.advice import Kind, TrainedSession
from formcheck.coaching.plan_adherence import RANGE_MEASURES
from formcheck.coaching.progress import Progress, find_arm_median, list_arms, list_followed
from formcheck.core.model import Review
from formcheck.core.vocabulary import get_plain_name
from formcheck.exercises.registry import find_cautions
from formcheck.report.rendering import render_template
from formcheck.report.set_course import describe_course
from formcheck.report.sparklines import RepValue, draw_days, draw_reps
from formcheck.report.wording import capitalise, count, describe_view, format_day, format_load
from formcheck.statistics.change_text import format_amount
from formcheck.statistics.rep_series import Series, find_aspects, list_series
from formcheck.statistics.results import Comparison, Difference, SetCourse
from formcheck.storage import StoredReview

CALL_WORDS = {
    "changed": "Changed",
    "no_detectable_change": "No detectable change",
    "too_few_reps": "Too few reps to tell",
}
EARLY_LATE = ("early reps", "late reps")


def render_comparison(
    reviews: Sequence[Review], labels: Sequence[str], found: Comparison, trends: Sequence[SetCourse]
) -> str:
    """The report as text; every string that came from a user or a file is escaped.

    Parameters
    ----------
    reviews : both sets, or the one whose early and late reps were compared.
    labels : what to call each of them, as many as `reviews`.
    found : what the statistics say of them.
    trends : what happened within each of them.
    """
    columns = tuple(labels) if len(reviews) > 1 else EARLY_LATE
    return render_template(
        "comparison.html.j2",
        exercise=reviews[0].exercise.name,
        found=found,
        trends=[
            (capitalise(label), item, describe_course(item, review))
            for label, item, review in zip(labels, trends, reviews, strict=True)
        ],
        columns=list(map(capitalise, columns)),
        sets=[_list_facts(review, label) for review, label in zip(reviews, labels, strict=True)],
        notes=[*found.notes, *(note for item in trends for note in item.notes if note not in found.notes)],
        rows=[_make_row(item) for item in found.differences],
        # Drawn from numbers and our own words; labels in it are escaped where it is drawn.
        curves=[(title, Markup(svg)) for title, svg in _draw_curves(reviews, labels)],
        cautions=find_cautions(reviews[0].exercise.id),
    )


def _list_facts(review: Review, label: str) -> str:
    parts = [
        review.clip.name,
        count(review.complete_reps, "whole rep"),
        format_load(review.set_info.load_kg) or "load not given",
        describe_view(review.view),
    ]
    return f"{capitalise(label)}: {', '.join(parts)}"


def _make_row(item: Difference) -> dict[str, str]:
    write = partial(format_amount, unit=item.unit, measure=item.measure)
    return {
        "title": capitalise(get_plain_name(item.measure)),
        "before": write(item.before),
        "after": write(item.after),
        "change": ("+" if item.change > 0 else "") + write(item.change, margin=item.margin),
        "blur": write(item.detectable),
        "call": CALL_WORDS[item.call],
        "kind": item.call,
    }


def _draw_curves(reviews: Sequence[Review], labels: Sequence[str]) -> list[tuple[str, str]]:
    """A drawing over the reps for each aspect of form that every set has a measure of."""
    every = [list_series(review) for review in reviews]
    drawn = []
    for _, _, series in find_aspects(every[0]):
        same = [next((item for item in own if item.measure == series.measure), None) for own in every]
        shown = [item for item in same if item is not None and len(item.reps) > 1]
        if len(shown) == len(reviews):
            drawn.append((series.title, draw_reps([_list_points(item) for item in shown], labels, series.format)))
    return drawn


def _list_points(series: Series) -> list[RepValue]:
    return [
        (rep, value, series.margin, series.format(value, series.margin))
        for rep, value in zip(series.reps, series.values.tolist(), strict=True)
    ]


ADVICE_WORDS: Mapping[Kind, str] = {
    "stop": "Stop and have it looked at",
    "back_off": "A little lighter",
    "ease": "An easier week",
    "raise": "A little heavier",
    "hold": "Stay with it",
    "none": "No advice",
}


def render_progress(progress: Progress, client: str, trained: Sequence[TrainedSession]) -> str:
    """The report as text; every string of the store is escaped.

    trained : the sessions that the progress is of; where each arm works by itself its range is a line of its own.
    """
    done = [list_followed(session, progress.set_number) for session in trained if session.sets]
    days = [format_day(line.day).rpartition(" ")[0] for line in progress.sessions]  # without the year
    ranges = {}
    for side in list_arms(done):
        found = [find_arm_median(reviews, RANGE_MEASURES, side) for reviews in done]
        ranges[side] = [(day, value, margin or 0.0) for day, (value, margin) in zip(days, found, strict=True)]
    measured = {side: points for side, points in ranges.items() if any(value is not None for _, value, _ in points)}
    loads = [(day, line.load_kg, 0.0) for day, line in zip(days, progress.sessions, strict=True)]
    curves = [
        ("Range of motion, degrees", draw_days(measured, "°")),
        ("Heaviest load, kg", draw_days({None: loads}, " kg")),
    ]
    return render_template(
        "progress.html.j2",
        progress=progress,
        client=client,
        format_day=format_day,
        # Built from numbers and days only.
        curves=[(title, Markup(svg)) for title, svg in curves if svg],
        advice_word=ADVICE_WORDS[progress.advice.kind],
        cautions=find_cautions(progress.exercise_id),
    )


def is_same_session(before: StoredReview, after: StoredReview) -> bool:
    """Whether one client did both sets on one day; sets without a client are each their own."""
    known = before.client_id is not None
    return known and (before.client_id, before.session_on) == (after.client_id, after.session_on)


def describe_people(before: StoredReview, after: StoredReview) -> str:
    """One sentence where two sets are, or may be, of two people; empty for one client and for one set."""
    if before.id == after.id or before.clip_sha256 == after.clip_sha256:
        return ""
    if before.client_id is None and after.client_id is None:
        return (
            "Neither set has a client, so they may be of two people: what differs is then no change of anybody. "
            "Say whose sets they are to compare them as one person's."
        )
    if before.client_id != after.client_id:
        names = [row.client or "no client" for row in (before, after)]
        return (
            f"These sets are of two people ({names[0]} and {names[1]}): what differs between them is no change of "
            "either."
        )
    return ""
