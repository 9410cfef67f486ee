"""The report as a PDF: the same words and numbers as the HTML report, set for paper."""

import io
from collections.abc import Sequence
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import Any

import formcheck
from formcheck.core.atomic_write import replace_file
from formcheck.core.model import Analysis, Review
from formcheck.exercises.registry import with_general_cautions
from formcheck.exercises.schema import Exercise
from formcheck.report import summary, wording
from formcheck.report.figures import KeyPicture, curve_png
from formcheck.report.html_report import FEWEST_REPS, header_facts
from formcheck.report.next_cue import next_cue
from formcheck.report.phases import shown_signals
from formcheck.report.problem_text import describe_problems, problem_heading, review_blocked
from formcheck.report.second_camera import second_lines
from formcheck.statistics.set_trends import analyse_set_course

_COLUMNS_A_TABLE = 4
_PICTURES_A_ROW = 3


def report_pdf(
    analysis: Analysis, exercise: Exercise, pictures: Sequence[KeyPicture] = (), *, reviewed_on: date | None = None
) -> bytes:
    """The report of one review as PDF.

    Parameters
    ----------
    pictures : key frames (`key_pictures`); the report has none without them.
    reviewed_on : the day to print; none is printed without it.
    """
    from reportlab.lib.pagesizes import A4
    from reportlab.platypus import SimpleDocTemplate

    from formcheck.report import pdf_layout

    review = analysis.review
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=A4,
        leftMargin=pdf_layout.MARGIN - pdf_layout.PADDING,
        rightMargin=pdf_layout.MARGIN - pdf_layout.PADDING,
        topMargin=pdf_layout.MARGIN,
        bottomMargin=pdf_layout.MARGIN + 10,
        title=f"{review.exercise.name}: set review",
        author=f"formcheck {formcheck.__version__}",
        subject="Advisory only, never a diagnosis",
        lang="en",
        invariant=1,
    )
    story = [
        *_head(review, exercise, reviewed_on),
        *_findings(review, exercise),
        pdf_layout.words(wording.short_caution("the last section of this report"), "muted"),
        *_reps(review, exercise),
        *_pictures(pictures),
        *_curves(analysis, exercise),
        *_footing(review, exercise),
        *_cautions(review),
    ]
    foot = f"formcheck {formcheck.__version__} · {review.exercise.name} · advisory only, never a diagnosis"
    document.build(story, onFirstPage=_footer(foot), onLaterPages=_footer(foot))
    return out.getvalue()


def write_pdf(
    analysis: Analysis,
    exercise: Exercise,
    pictures: Sequence[KeyPicture],
    out_path: Path,
    *,
    reviewed_on: date | None = None,
) -> None:
    """Write the report of one review as PDF (OSError when it cannot be written)."""
    replace_file(Path(out_path), report_pdf(analysis, exercise, pictures, reviewed_on=reviewed_on))


def _footer(text: str) -> Any:
    from formcheck.report import pdf_layout

    def draw(canvas: Any, document: Any) -> None:
        canvas.saveState()
        canvas.setFont(pdf_layout.styles()["text"].fontName, 7)
        canvas.setFillColor(pdf_layout.MUTED)
        canvas.drawString(pdf_layout.MARGIN, pdf_layout.MARGIN - 8, text)
        canvas.drawRightString(pdf_layout.MARGIN + pdf_layout.WIDTH, pdf_layout.MARGIN - 8, f"page {document.page}")
        canvas.restoreState()

    return draw


def _head(review: Review, exercise: Exercise, reviewed_on: date | None) -> list[Any]:
    from formcheck.report import pdf_layout

    facts = " · ".join(header_facts(review, reviewed_on))
    parts: list[Any] = [
        pdf_layout.words(review.exercise.name, "title"),
        pdf_layout.words(facts, "muted"),
    ]
    if problems := describe_problems(review):
        heading = problem_heading(review)
        said = [pdf_layout.words(heading, "strong"), *(pdf_layout.words(sentence) for sentence in problems)]
        parts.append(pdf_layout.box(said, bar=pdf_layout.COLOURS["not_met"]))
    if lead := wording.outcome(review):
        parts.append(pdf_layout.words(lead, "lead"))
    if review.by_hand:
        parts += [pdf_layout.words("Corrected by hand; all numbers follow from it:"), pdf_layout.lines(review.by_hand)]
    cue = next_cue(review, exercise)
    if cue is not None:
        seen = "" if cue.at_s is None else f" See it at {wording.moment(cue.at_s)} in the clip."
        texts = (("Next cue", "cue-head"), (cue.cue, "cue"), (cue.why + seen, "cue-why"))
        parts.append(pdf_layout.box([pdf_layout.words(*text) for text in texts], fill=pdf_layout.DEEP, edge=None))
    return parts


def _findings(review: Review, exercise: Exercise) -> list[Any]:
    from formcheck.report import pdf_layout

    if review_blocked(review):
        return []
    bases = _bases(review)
    parts: list[Any] = pdf_layout.section("What the set shows")
    if not review.findings:
        parts.append(pdf_layout.words("There is nothing to judge."))
    for verdict, items in summary.grouped_findings(review, exercise).items():
        cards = []
        for item in items:
            evidence = item.evidence + (f" · at {item.moment} in the clip" if item.evidence and item.moment else "")
            others = f"{item.others}." if item.others else ""
            card = [pdf_layout.words(item.title, "strong")]
            card += [
                pdf_layout.words(text) for text in (item.cue, item.text, evidence, others, item.film_instead) if text
            ]
            if item.basis:
                card.append(pdf_layout.words(f"Why this limit: note {bases.index(item.basis) + 1} at the end", "muted"))
            edge = pdf_layout.LINE if verdict == "met" else None
            cards.append(pdf_layout.box(card, fill=pdf_layout.SOFT[verdict], edge=edge))
        if cards:
            heading = pdf_layout.group_heading(verdict, wording.VERDICT_WORDS[verdict])
            parts += [pdf_layout.together([heading, cards[0]]), *cards[1:]]
    return parts


def _cautions(review: Review) -> list[Any]:
    from formcheck.report import pdf_layout

    texts = with_general_cautions(review.cautions)
    content = [pdf_layout.words("Please read before you train", "strong"), pdf_layout.lines(texts)]
    return [
        pdf_layout.together(
            [*pdf_layout.section("Cautions"), pdf_layout.box(content, bar=pdf_layout.COLOURS["not_met"])]
        )
    ]


def _reps(review: Review, exercise: Exercise) -> list[Any]:
    from reportlab.lib.units import mm

    from formcheck.report import pdf_layout

    if not review.reps:
        return []
    columns = summary.main_columns(review, exercise)
    names = [wording.capital(wording.measure_name(name)) for name in columns]
    rows = [
        [_rep_name(row), *map(_cell, row.cells), f"{row.tempo}\n{row.tempo_margin}".strip()]
        for row in summary.rep_rows(review, columns)
    ]
    intro = pdf_layout.words(f"Each number is followed by its margin (±). {wording.TEMPO_ORDER}", "muted")
    table = pdf_layout.table(["Rep", *names, "Tempo, s"], rows, last=30 * mm)
    parts: list[Any] = [*pdf_layout.section("Rep by rep"), intro, table]
    if len(review.reps) >= FEWEST_REPS:
        course = analyse_set_course(review)
        sentences = [item.sentence for item in course.onsets]
        if course.speed_loss:
            sentences.append(f"{course.speed_loss.sentence} {course.speed_loss.caveat}")
        parts += [*pdf_layout.section("From the first rep to the last"), pdf_layout.words(course.sentence)]
        parts.append(pdf_layout.lines([*sentences, *course.notes]))
    return parts


def _pictures(pictures: Sequence[KeyPicture]) -> list[Any]:
    from reportlab.lib.units import mm
    from reportlab.platypus import Table

    from formcheck.report import pdf_layout

    if not pictures:
        return []
    each = pdf_layout.WIDTH / _PICTURES_A_ROW
    cells = []
    for number, stills in groupby(pictures, key=lambda item: item.rep):
        pair = list(stills)
        shown = [
            pdf_layout.picture(pdf_layout.picture_bytes(still.data_uri), each / 2 - 2 * mm, 55 * mm) for still in pair
        ]
        moments = " · ".join(f"{still.moment} {wording.moment(still.at_s)}" for still in pair)
        row = Table([shown], colWidths=[each / 2 - 1.5 * mm] * len(shown), hAlign="LEFT", style=_BARE)
        cells.append([row, pdf_layout.words(f"Rep {number} · {moments}", "muted")])
    rows = [cells[start : start + _PICTURES_A_ROW] for start in range(0, len(cells), _PICTURES_A_ROW)]
    rows = [[*row, *[[]] * (_PICTURES_A_ROW - len(row))] for row in rows]
    strips = [
        Table([row], colWidths=[each] * _PICTURES_A_ROW, style=_BARE, spaceAfter=6, hAlign="LEFT") for row in rows
    ]
    heading = pdf_layout.section("The lowest and the highest moment")
    return [pdf_layout.together([*heading, strips[0]]), *strips[1:]]


_BARE = [
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]


def _curves(analysis: Analysis, exercise: Exercise) -> list[Any]:
    from formcheck.report import pdf_layout

    names = shown_signals(analysis)
    if not names or review_blocked(analysis.review):
        return []
    legend = "Left side: solid line; right side: dashed line. Shaded: lifting, pause at the top, lowering."
    parts: list[Any] = []
    for place, name in enumerate(names):
        title = wording.capital(wording.signal_name(name))
        figure = [
            *pdf_layout.section(title, 1),
            pdf_layout.picture(curve_png(analysis, name, first=exercise.driver.first), pdf_layout.WIDTH),
        ]
        if place == 0:
            figure = [*pdf_layout.section("The movement over time"), pdf_layout.words(legend, "muted"), *figure]
        parts.append(pdf_layout.together(figure))
    return parts


def _footing(review: Review, exercise: Exercise) -> list[Any]:
    from reportlab.platypus import Spacer

    from formcheck.report import pdf_layout

    side = [] if review_blocked(review) else [wording.view_detail(review.view)]
    camera = [*side, *wording.quality_lines(review.quality), *second_lines(review)]
    camera.append(f"How this exercise is best filmed: {exercise.filming.advice}")
    parts: list[Any] = [*pdf_layout.section("Camera and picture"), pdf_layout.lines(camera)]
    missing = summary.missing_measures(review)
    if missing:
        parts += pdf_layout.section("What this clip cannot show", 1)
        parts.append(pdf_layout.lines([f"{name}: {reason}" for name, reason in missing]))
    rest = [name for name in summary.all_columns(review) if name not in summary.main_columns(review, exercise)]
    if rest:
        parts += pdf_layout.section("All numbers")
    for start in range(0, len(rest), _COLUMNS_A_TABLE):
        columns = rest[start : start + _COLUMNS_A_TABLE]
        names = [wording.capital(wording.measure_name(name)) for name in columns]
        rows = [[_rep_name(row), *map(_cell, row.cells)] for row in summary.rep_rows(review, columns)]
        parts += [pdf_layout.table(["Rep", *names], rows), Spacer(0, 14)]
    parts += pdf_layout.section("How to read this")
    parts.append(pdf_layout.lines([f"{name}: {text}" for name, text in wording.READING]))
    if bases := _bases(review):
        parts += [*pdf_layout.section("What the limits rest on", 1), pdf_layout.lines(bases, numbered=True)]
    made = f"Made by formcheck {formcheck.__version__} on the user’s own machine from the clip “{review.clip.name}”."
    return [*parts, Spacer(0, 14), pdf_layout.words(f"{made} Clip checksum {review.clip.sha256[:16]}….", "muted")]


def _bases(review: Review) -> list[str]:
    return list(dict.fromkeys(item.basis for item in review.findings if item.basis))


def _rep_name(row: summary.RepRow) -> str:
    marks = (("" if row.rep.complete else "partial"), ("by hand" if row.rep.by_hand else ""))
    return "\n".join([str(row.rep.number), *filter(None, marks)])


def _cell(cell: summary.Cell) -> str:
    return "\n".join(f"{side} {value}".strip() for side, value in cell.values)
