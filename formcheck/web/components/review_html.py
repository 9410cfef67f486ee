"""The parts of a review as HTML text; every string of a review is escaped."""

from collections.abc import Mapping, Sequence
from math import isfinite

from formcheck.core.model import Review
from formcheck.exercises.schema import Exercise
from formcheck.report import wording
from formcheck.report.next_cue import NextCue
from formcheck.report.phases import PhaseName
from formcheck.report.problem_text import is_review_blocked
from formcheck.report.summary import FindingView, RepRow
from formcheck.report.wording import ShownGrade
from formcheck.web.markup import render

_STILL = "data:image/jpeg;base64,"


def render_summary(review: Review, exercise: Exercise | None) -> str:
    """What was reviewed and what came out, in three lines."""
    side = "" if is_review_blocked(review) else wording.describe_view(review.view)
    facts = [f"“{review.clip.name}”", wording.format_load(review.set_info.load_kg), side]
    return render("review", "summary", review.exercise.name, facts, wording.describe_outcome(review, exercise))


def render_problems(heading: str, sentences: Sequence[str]) -> str:
    """What makes a review impossible or incomplete: shape, word and text."""
    return render("review", "problems", heading, sentences)


def render_corrections(sentences: Sequence[str]) -> str:
    """What a person changed about a review."""
    return render("review", "corrections", sentences)


def render_cautions(texts: Sequence[str], heading: str) -> str:
    """The cautions of an exercise, or those for everyone."""
    return render("review", "cautions", texts, heading)


def render_steps(names: Sequence[str], now: str) -> str:
    """The stages of the work: those over, the one under way, those to come."""
    return render("review", "steps", names, names.index(now) if now in names else -1)


def render_next_cue(cue: NextCue) -> str:
    """The one thing to change first, large, with its reason and a button to its moment."""
    return render("review", "next_cue", cue)


def render_grade_heading(grade: ShownGrade, amount: int) -> str:
    """Heading of a group of findings: shape, word and number, where it is not 0, and how sure that is."""
    return render("review", "grade_heading", grade, amount)


def render_findings(items: Sequence[FindingView]) -> str:
    """Findings with their evidence, each with a button to its moment; side by side where there is room."""
    return render("review", "findings", items)


def render_unseen(items: Sequence[FindingView], reasons: Sequence[tuple[str, str]]) -> str:
    """Points that were not seen, a line for what would show them.

    Parameters
    ----------
    reasons : (title, reason) of points that no camera shows.
    """
    return render("review", "unseen", items, reasons)


def render_rep_strip(rows: Sequence[RepRow], pictures: Mapping[int, str], about: Mapping[str, str]) -> str:
    """One card a rep: its picture at the top, its first number, its tempo as a ribbon; a click shows it.

    Parameters
    ----------
    pictures : rep number → JPEG as a data address; anything else is left out.
    about : measure → what it is and where it comes from.
    """
    tempos = [split_tempo(row) for row in rows]
    longest = max((sum(seconds for _, seconds in tempo) for tempo in tempos), default=0.0) or 1.0
    stills = {number: picture for number, picture in pictures.items() if picture.startswith(_STILL)}
    return render("review", "rep_strip", rows, tempos, longest, stills, about)


def render_rep_table(
    rows: Sequence[RepRow], columns: Sequence[str], about: Mapping[str, str], *, marks: str = ""
) -> str:
    """The rep table; on a telephone each row becomes a short list.

    Parameters
    ----------
    columns : names of measures.
    about : measure → what it is and where it comes from.
    """
    return render("review", "rep_table", rows, columns, about, marks)


def render_curve_legend(sides: Sequence[str], *, phases: bool) -> str:
    """What the colours and dashes of the curves mean."""
    return render("review", "curve_legend", sides, phases)


def render_curve_title(title: str, about: str = "") -> str:
    """The heading of a chart, which explains itself when it has the focus."""
    return render("review", "curve_title", title, about)


def render_list(lines: Sequence[str]) -> str:
    """Sentences, one a line."""
    return render("pieces", "list", lines)


def render_definitions(pairs: Sequence[tuple[str, str]]) -> str:
    """Names, each with a text that explains it."""
    return render("pieces", "definitions", pairs)


def split_tempo(row: RepRow) -> list[tuple[PhaseName, float]]:
    """The rep's phases with their seconds, in the order of the tempo's digits; what those leave open is left out."""
    tempo = row.rep.tempo
    order: tuple[tuple[PhaseName, float], ...] = (
        ("lower", tempo.eccentric_s),
        ("bottom", tempo.bottom_pause_s),
        ("lift", tempo.concentric_s),
        ("top", tempo.top_pause_s),
    )
    shown = zip(order, row.tempo.split("-"), strict=True)
    return [part for part, digits in shown if digits != "·" and isfinite(part[1]) and part[1] > 0]
