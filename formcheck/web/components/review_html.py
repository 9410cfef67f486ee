"""The parts of a review as HTML text; every string of a review is escaped."""

from collections.abc import Mapping, Sequence

from formcheck.core.model import Review
from formcheck.report import wording
from formcheck.report.cue_trend import CueTrend
from formcheck.report.next_cue import NextCue
from formcheck.report.problem_text import is_review_blocked
from formcheck.report.summary import FindingView, RepRow
from formcheck.report.wording import ShownGrade
from formcheck.web.components.rep_cards import RepCard
from formcheck.web.markup import render

_STILL = "data:image/jpeg;base64,"


def render_title(review: Review) -> str:
    """The page's heading."""
    return render("review", "title", review.exercise.name)


def render_outcome(review: Review) -> str:
    """How many reps there are, and what was reviewed; headings below count the points."""
    side = "" if is_review_blocked(review) else wording.describe_view(review.view)
    facts = [f"“{review.clip.name}”", wording.format_load(review.set_info.load_kg), side]
    return render("review", "outcome", facts, wording.describe_reps(review))


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


def render_so_far(picture: str, words: str) -> str:
    """What is being looked at: a small picture as a data address, with words."""
    return render("review", "so_far", picture, words)


def render_next_cue(cue: NextCue) -> str:
    """The one thing to change first, large, with its reason and a button to its moment."""
    return render("review", "next_cue", cue)


def render_grade_heading(grade: ShownGrade, amount: int) -> str:
    """Heading of a group of findings: shape, word and number, where it is not 0, and how sure that is."""
    return render("review", "grade_heading", grade, amount)


def render_findings(items: Sequence[FindingView], given: Mapping[str, bool]) -> str:
    """Findings, a line each with a button to its moment; what each rests on unfolds.

    given : ``check:ID`` → whether the coach agrees.
    """
    return render("review", "findings", items, given)


def render_folded_findings(
    grade: ShownGrade, amount: int, items: Sequence[FindingView], given: Mapping[str, bool]
) -> str:
    """The same, all under one line with the grade and their number."""
    return render("review", "folded_findings", grade, amount, items, given)


def render_unseen(amount: int, film: str, items: Sequence[FindingView], reasons: Sequence[tuple[str, str]]) -> str:
    """Points that were not seen under one line, which says what to film.

    Parameters
    ----------
    amount : how many of them a camera could show.
    film : what would show most of them; empty where no film helps.
    reasons : (title, reason) of points that no camera shows.
    """
    return render("review", "unseen", amount, film, items, reasons)


def render_trend_heading(trend: CueTrend, about: str) -> str:
    """The name of the trend's measure, which explains itself, and the target."""
    return render("review", "trend_heading", trend, about)


def render_trend_caption(trend: CueTrend) -> str:
    """From which rep on it was otherwise."""
    return render("review", "trend_caption", trend)


def render_reference(sentences: Sequence[str]) -> str:
    """The set beside the client's reference rep."""
    return render("review", "reference", sentences)


def render_rep_strip(
    cards: Sequence[RepCard],
    pictures: Mapping[int, str],
    name: str,
    given: Mapping[str, bool] | None = None,
    own: int | None = None,
) -> str:
    """One card a rep: its picture, the cue's number with its grade, its tempo as a ribbon; a click shows it.

    Parameters
    ----------
    pictures : rep number → JPEG as a data address; anything else is left out.
    name : what the number is.
    given : ``rep:NUMBER`` → whether the coach agrees; None leaves out the buttons to answer with.
    own : the reference rep, if it is one of these.
    """
    longest = max((sum(span.seconds for span in card.phases) for card in cards), default=0.0) or 1.0
    stills = {number: picture for number, picture in pictures.items() if picture.startswith(_STILL)}
    return render("review", "rep_strip", cards, longest, stills, name, given, own)


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
