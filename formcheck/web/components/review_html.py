"""The parts of a review as HTML text; every string of a review is escaped."""

from collections.abc import Mapping, Sequence

from formcheck.core.model import Review
from formcheck.report import wording
from formcheck.report.problem_text import is_review_blocked
from formcheck.web.components.rep_cards import RepCard
from formcheck.web.markup import render

_STILL = "data:image/jpeg;base64,"


def render_outcome(review: Review) -> str:
    """How many reps there are, and what was reviewed; headings below count the points."""
    side = "" if is_review_blocked(review) else wording.describe_view(review.view)
    facts = [f"“{review.clip.name}”", wording.format_load(review.set_info.load_kg), side]
    return render("review", "outcome", facts, wording.describe_reps(review))


def render_cautions(texts: Sequence[str], heading: str) -> str:
    """The cautions of an exercise, or those for everyone."""
    return render("review", "cautions", texts, heading)


def render_steps(names: Sequence[str], now: str) -> str:
    """The stages of the work: those over, the one under way, those to come."""
    return render("review", "steps", names, names.index(now) if now in names else -1)


def render_rep_strip(
    cards: Sequence[RepCard],
    pictures: Mapping[int, str],
    name: str,
    given: Mapping[str, bool],
    own: int | None,
) -> str:
    """One card a rep: its picture, the cue's number with its grade, its tempo as a ribbon; a click shows it.

    Parameters
    ----------
    pictures : rep number → JPEG as a data address; anything else is left out.
    name : what the number is.
    given : ``rep:NUMBER`` → whether the coach agrees.
    own : the reference rep, if it is one of these.
    """
    longest = max((sum(span.seconds for span in card.phases) for card in cards), default=0.0) or 1.0
    stills = {number: picture for number, picture in pictures.items() if picture.startswith(_STILL)}
    return render("review", "rep_strip", cards, longest, stills, name, given, own)


def render_curve_title(title: str, about: str = "") -> str:
    """The heading of a chart, which explains itself when it has the focus."""
    return render("review", "curve_title", title, about)


def render_list(lines: Sequence[str]) -> str:
    """Sentences, one a line."""
    return render("pieces", "list", lines)


def render_definitions(pairs: Sequence[tuple[str, str]]) -> str:
    """Names, each with a text that explains it."""
    return render("pieces", "definitions", pairs)
