"""What the arms of a set done with one arm at a time did beside one another, in sentences."""

from collections.abc import Sequence
from statistics import median

from formcheck.coaching.plan_adherence import RANGE_MEASURES, TEMPO_MEASURES
from formcheck.core.model import SIDES, Measure, Review, Side
from formcheck.core.rep_sides import count_by_side
from formcheck.core.vocabulary import get_plain_name
from formcheck.core.vocabulary.numbers import format_with_margin
from formcheck.report.words import WORDS


def describe_sides(review: Review) -> str:
    """Tempo of each arm, and how far each goes; empty where both work at once, or one alone has nothing beside it."""
    if len(count_by_side(review.reps)) < len(SIDES):
        return ""
    words = WORDS["sides"]
    tempos = {side: _format_tempo(review, side) for side in SIDES}
    parts = [words["tempo"].format(**tempos)] if all(tempos.values()) else []
    name = next((name for name in RANGE_MEASURES if all(_list_values(review, name, side) for side in SIDES)), None)
    if name is not None:
        parts.append(_compare_ranges(review, name))
    return " ".join(parts)


def _compare_ranges(review: Review, name: str) -> str:
    """Median range of both arms; which goes less far, where the difference exceeds the margins of both."""
    words, found = WORDS["sides"], {side: _list_values(review, name, side) for side in SIDES}
    values = {side: median(item.value or 0.0 for item in items) for side, items in found.items()}
    margins = {side: median(item.margin or 0.0 for item in items) for side, items in found.items()}
    shown = {side: format_with_margin(values[side], margins[side], found[side][0].unit, name) for side in SIDES}
    less = min(SIDES, key=lambda side: values[side])
    margin = float(sum(one**2 for one in margins.values()) ** 0.5)
    apart = max(values.values()) - min(values.values())
    name_text = get_plain_name(name)
    text = words["range"].format(name=name_text[:1].upper() + name_text[1:], **shown)
    if apart <= margin:
        return f"{text} {words['alike']}"
    by = format_with_margin(apart, margin, found[less][0].unit, name)
    return f"{text} {words['less'].format(side=less, by=by)}"


def _format_tempo(review: Review, side: Side) -> str:
    """Medians of the four phases of an arm's whole strokes, such as 1.8-0.4-1.1-0.2; empty where one is not known."""
    phases = [_list_values(review, name, side) for name in TEMPO_MEASURES]
    return "-".join(f"{median(item.value or 0.0 for item in items):.1f}" for items in phases) if all(phases) else ""


def _list_values(review: Review, name: str, side: Side) -> Sequence[Measure]:
    """The known values of a measure in one arm's whole strokes."""
    mine = {rep.number for rep in review.reps if rep.complete and rep.side == side}
    return [item for item in review.measures if item.name == name and item.rep in mine and item.value is not None]
