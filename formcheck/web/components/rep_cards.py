"""What the card of a rep shows: the cue's number, large, with its margin and grade."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from formcheck.core.model import Grade, Rep, Review
from formcheck.core.vocabulary.numbers import HARD
from formcheck.findings import LEFT_LESS_RIGHT
from formcheck.report.cue_trend import CueTrend, TrendValue
from formcheck.report.phases import FirstPhase, PhaseSpan, list_phases
from formcheck.report.wording import split_margin
from formcheck.web.markup import render

_STILL = "data:image/jpeg;base64,"


@dataclass(frozen=True, slots=True)
class RepCard:
    """One rep as it is shown: the cue's number, large, with its grade."""

    rep: Rep
    at_s: float
    """The moment a click shows."""
    phases: tuple[PhaseSpan, ...]
    number: str = ""
    off: str = ""
    """The margin, such as ``± 4°``."""
    note: str = ""
    """The side that is meant."""
    grade: Grade | None = None


def make_rep_cards(
    review: Review, trend: CueTrend | None, first: FirstPhase, moments: Mapping[int, float]
) -> list[RepCard]:
    """A card for every rep; without a number where the trend has none for it.

    moments : rep → the moment that shows its number best.
    """
    cards = []
    for rep in review.reps:
        item = None if trend is None else trend.find(rep.number)
        at_s, phases = moments.get(rep.number, rep.top_s), list_phases(rep, first)
        if trend is None or item is None:
            cards.append(RepCard(rep, at_s, phases))
            continue
        number, off = split_margin(item.text)
        off = f"±{HARD}{off}" if off else ""
        cards.append(RepCard(rep, at_s, phases, number, off, _describe_side(review, trend, item), item.grade))
    return cards


def _describe_side(review: Review, trend: CueTrend, item: TrendValue) -> str:
    """The side a number is of, or the one that is lower."""
    if item.side is not None or trend.check.measure not in LEFT_LESS_RIGHT:
        return item.side or ""
    measure = review.measure(trend.check.measure, rep=item.rep)
    value = measure.value if measure is not None and measure.value is not None else 0.0
    return f"{'right' if value > 0 else 'left'} lower" if value else ""


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
