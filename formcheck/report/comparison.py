"""Two sets of one exercise, or the early and late reps of one, as one HTML file that needs nothing else."""

from collections.abc import Sequence
from functools import partial

from markupsafe import Markup

from formcheck.core.model import Review
from formcheck.core.vocabulary import get_plain_name
from formcheck.exercises.registry import find_cautions
from formcheck.report.rendering import render_template
from formcheck.report.sparklines import RepValue, reps_svg
from formcheck.report.wording import load_text, view_text
from formcheck.statistics.change_text import amount
from formcheck.statistics.rep_series import Series, aspects_of, series_by_measure
from formcheck.statistics.results import Comparison, Difference, SetCourse

CALL_WORDS = {
    "changed": "Changed",
    "no_detectable_change": "No detectable change",
    "too_few_reps": "Too few reps to tell",
}
EARLY_LATE = ("early reps", "late reps")


def render_comparison(
    reviews: Sequence[Review], labels: Sequence[str], found: Comparison, courses: Sequence[SetCourse]
) -> str:
    """The report as text; every string that came from a user or a file is escaped.

    Parameters
    ----------
    reviews : both sets, or the one whose early and late reps were compared.
    labels : what to call each of them, as many as `reviews`.
    found : what the statistics say of them.
    courses : what happened within each of them.
    """
    columns = tuple(labels) if len(reviews) > 1 else EARLY_LATE
    return render_template(
        "comparison.html.j2",
        exercise=reviews[0].exercise.name,
        found=found,
        courses=[(label[0].upper() + label[1:], course) for label, course in zip(labels, courses, strict=True)],
        columns=[label[0].upper() + label[1:] for label in columns],
        sets=[_facts(review, label) for review, label in zip(reviews, labels, strict=True)],
        notes=[*found.notes, *(note for course in courses for note in course.notes if note not in found.notes)],
        rows=[_row(item) for item in found.differences],
        # Drawn from numbers and our own words; labels in it are escaped where it is drawn.
        curves=[(title, Markup(svg)) for title, svg in _curves(reviews, labels)],
        cautions=find_cautions(reviews[0].exercise.id),
    )


def _facts(review: Review, label: str) -> str:
    whole = sum(rep.complete for rep in review.reps)
    parts = [
        review.clip.name,
        f"{whole} whole rep{'' if whole == 1 else 's'}",
        load_text(review.set_info.load_kg) or "load not given",
        view_text(review.view),
    ]
    return f"{label[0].upper()}{label[1:]}: " + ", ".join(parts)


def _row(item: Difference) -> dict[str, str]:
    plain = get_plain_name(item.measure)

    def said(value: float, margin: float | None = None) -> str:
        return amount(value, item.unit, margin, measure=item.measure)

    return {
        "title": plain[0].upper() + plain[1:],
        "before": said(item.before),
        "after": said(item.after),
        "change": ("+" if item.change > 0 else "") + said(item.change, item.margin),
        "blur": said(item.detectable),
        "call": CALL_WORDS[item.call],
        "kind": item.call,
    }


def _curves(reviews: Sequence[Review], labels: Sequence[str]) -> list[tuple[str, str]]:
    """A drawing over the reps for each aspect of form that every set has a measure of."""
    courses = [series_by_measure(review) for review in reviews]
    drawn = []
    for _, _, series in aspects_of(courses[0]):
        same = [next((item for item in course if item.measure == series.measure), None) for course in courses]
        shown = [item for item in same if item is not None and len(item.reps) > 1]
        if len(shown) == len(reviews):
            said = partial(amount, unit=series.unit, measure=series.measure)
            drawn.append((series.title, reps_svg([_points(item) for item in shown], labels, said)))
    return drawn


def _points(series: Series) -> list[RepValue]:
    return [
        (rep, value, series.margin, amount(value, series.unit, series.margin, measure=series.measure))
        for rep, value in zip(series.reps, series.values.tolist(), strict=True)
    ]
