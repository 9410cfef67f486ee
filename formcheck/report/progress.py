"""The course of one exercise over sessions as one HTML file that needs nothing else."""

from collections.abc import Mapping, Sequence

from markupsafe import Markup

from formcheck.coaching.advice import Kind
from formcheck.coaching.progress import Progress, SessionLine
from formcheck.exercises.registry import find_cautions
from formcheck.report.rendering import render_template
from formcheck.report.sparklines import DayValue, course_svg

ADVICE_WORDS: Mapping[Kind, str] = {
    "stop": "Stop and have it looked at",
    "back_off": "A little lighter",
    "ease": "An easier week",
    "raise": "A little heavier",
    "hold": "Stay with it",
    "none": "No advice",
}


def render_progress(progress: Progress, client: str) -> str:
    """The report as text; every string of the store is escaped."""
    curves = [
        ("Range of motion, degrees", course_svg(_ranges(progress.sessions), "°")),
        ("Heaviest load, kg", course_svg(_loads(progress.sessions), " kg")),
    ]
    return render_template(
        "progress.html.j2",
        progress=progress,
        client=client,
        # Built from numbers and days only.
        curves=[(title, Markup(svg)) for title, svg in curves if svg],
        advice_word=ADVICE_WORDS[progress.advice.kind],
        cautions=find_cautions(progress.exercise_id),
    )


def _ranges(sessions: Sequence[SessionLine]) -> list[DayValue]:
    return [(f"{line.day:%d.%m.}", line.range_deg, line.range_margin_deg or 0.0) for line in sessions]


def _loads(sessions: Sequence[SessionLine]) -> list[DayValue]:
    return [(f"{line.day:%d.%m.}", line.load_kg, 0.0) for line in sessions]
