"""The report of a set: one HTML file that needs nothing else, for a screen, a telephone and paper; the same as PDF."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from pathlib import Path

from markupsafe import Markup

from formcheck.core.model import Analysis, Review
from formcheck.exercises.registry import add_general_cautions
from formcheck.exercises.schema import Exercise
from formcheck.report import summary, wording
from formcheck.report.cue_trend import FEWEST_REPS
from formcheck.report.figures import KeyPicture, Shape, draw_curve
from formcheck.report.front_page import SetContext, make_front_page
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.phases import choose_signals, list_curve_keys
from formcheck.report.problem_text import describe_problem_heading, describe_problems, is_review_blocked
from formcheck.report.reference_text import describe_comparison
from formcheck.report.rendering import render_template
from formcheck.report.set_course import describe_course, list_changes
from formcheck.report.words import WORDS
from formcheck.statistics.set_trends import analyse_set

_COLUMNS_A_TABLE = 5


@dataclass(frozen=True, slots=True)
class _Part:
    names: list[str]
    rows: list[summary.RepRow]
    caption: str


def render_report(
    analysis: Analysis,
    exercise: Exercise,
    pictures: Sequence[KeyPicture] = (),
    *,
    context: SetContext | None = None,
    reviewed_on: date | None = None,
    paper: bool = False,
) -> str:
    """The report as text, one page that says it all before the details; every string of the review is escaped.

    Parameters
    ----------
    context : whose set it is, what was planned and what the coach says.
    paper : with the style sheet of the PDF, and curves as pictures.
    """
    review = analysis.review
    context = context or SetContext()
    columns = summary.choose_main_columns(review, exercise)
    ends = [item for item in pictures if item.moment != "cue"]
    bases = (item.basis for item in review.findings if item.basis)
    trends = analyse_set(review) if len(review.reps) >= FEWEST_REPS else None
    return render_template(
        "report.html.j2",
        style="paper.css" if paper else "report.css",
        paper=paper,
        front=make_front_page(review, exercise, pictures, context, reviewed_on=reviewed_on, paper=paper),
        context=context,
        against=WORDS["against"],
        review=review,
        exercise=exercise,
        meta=list_header_facts(review, reviewed_on),
        problems=describe_problems(review),
        problem_heading=describe_problem_heading(review),
        blocked=is_review_blocked(review),
        in_short=wording.describe_outcome(review, exercise),
        next_cue=choose_next_cue(review, exercise),
        groups=summary.group_findings(review, exercise),
        grade_words=wording.GRADE_WORDS,
        grade_notes=wording.GRADE_NOTES,
        grade_signs=wording.GRADE_SIGNS,
        rows=summary.make_rep_rows(review, columns),
        column_names=[wording.capitalise(wording.get_plain_name(name)) for name in columns],
        pictures=[(number, list(stills)) for number, stills in groupby(ends, key=lambda item: item.rep)],
        curves=[] if is_review_blocked(review) else _draw_curves(analysis, exercise, paper=paper),
        sides=_list_sides(analysis),
        view="" if is_review_blocked(review) else wording.explain_view(review.view),
        quality=[*wording.describe_quality(review.quality), *wording.describe_second(review)],
        missing=[*summary.list_untold(review, exercise), *summary.list_missing_measures(review)],
        trends=trends,
        course="" if trends is None else describe_course(trends, review, exercise),
        reference=None if review.reference is None else describe_comparison(review.reference),
        reference_heading=WORDS["reference_rep"]["heading"],
        changes=[] if trends is None else list_changes(trends),
        all_rows=_make_number_tables(review, columns),
        bases={text: number for number, text in enumerate(dict.fromkeys(bases), 1)},
        reading=wording.READING,
        tempo_order=wording.TEMPO_ORDER,
        margin_marks=wording.explain_marks(review),
        moment=wording.format_moment,
        cautions=add_general_cautions(review.cautions),
        short_caution=wording.describe_caution("the last section of this report"),
    )


def render_pdf(
    analysis: Analysis,
    exercise: Exercise,
    pictures: Sequence[KeyPicture] = (),
    *,
    context: SetContext | None = None,
    reviewed_on: date | None = None,
) -> bytes:
    """The report of one review as PDF; the same review gives the same bytes.

    Parameters
    ----------
    pictures, context : as for `render_report`.
    reviewed_on : the day to print; none is printed without it.
    """
    from matplotlib import get_data_path
    from reportlab import rl_config
    from xhtml2pdf import pisa
    from xhtml2pdf.config.resources import ResourceAccessPolicy

    rl_config.invariant = 1
    html = render_report(analysis, exercise, pictures, context=context, reviewed_on=reviewed_on, paper=True)
    # matplotlib brings the DejaVu letters along: Latin, Greek, Cyrillic and all signs used here. Nothing else is read.
    fonts = Path(get_data_path()) / "fonts" / "ttf"
    policy = ResourceAccessPolicy(allow_remote=False, base_dir=fonts)
    out = io.BytesIO()
    pisa.CreatePDF(
        "".join(char if char.isprintable() or char in "\n\u00a0" else " " for char in html),
        dest=out,
        link_callback=lambda name, _base: str(fonts / name) if name.endswith(".ttf") else name,
        resource_policy=policy,
    )
    return out.getvalue()


def list_header_facts(review: Review, reviewed_on: date | None) -> list[str]:
    """Clip, load, camera side and day, as they stand under the title."""
    day = reviewed_on and f"Reviewed on {wording.format_day(reviewed_on)}"
    load = wording.format_load(review.set_info.load_kg)
    clip = f"Clip “{review.clip.name}”, {wording.format_moment(review.clip.duration_s)}"
    side = "" if is_review_blocked(review) else wording.describe_view(review.view)
    return [item for item in (clip, load, side, day) if item]


def _draw_curves(analysis: Analysis, exercise: Exercise, *, paper: bool) -> list[tuple[str, dict[str, Markup]]]:
    """Title and drawings of each curve: wide and narrow for screens, or one for paper."""
    shapes: tuple[Shape, ...] = ("paper",) if paper else ("wide", "narrow")
    # A drawing is built from numbers and the vocabulary's words only, and escapes its own texts.
    return [
        (
            wording.capitalise(wording.get_signal_name(name)),
            {shape: Markup(draw_curve(analysis, name, shape, exercise.driver.first)) for shape in shapes},
        )
        for name in choose_signals(analysis)
    ]


def _list_sides(analysis: Analysis) -> list[str]:
    drawn = {side for _, side in list_curve_keys(analysis, choose_signals(analysis))}
    return [side for side in ("left", "right") if side in drawn]


def _make_number_tables(review: Review, shown: Sequence[str]) -> list[_Part]:
    """Every measure the short table leaves out, cut into tables that fit on paper."""
    rest = [name for name in summary.list_columns(review) if name not in shown]
    parts = []
    for start in range(0, len(rest), _COLUMNS_A_TABLE):
        columns = rest[start : start + _COLUMNS_A_TABLE]
        names = [wording.capitalise(wording.get_plain_name(name)) for name in columns]
        parts.append(_Part(names, summary.make_rep_rows(review, columns), "Further measures with their margins."))
    return parts
