"""The one line over a comparison: what differs, by how much and whether that is sure; at most twelve words."""

from collections.abc import Sequence
from typing import Literal

from formcheck.core.model import CameraView
from formcheck.report import wording
from formcheck.report.words import WORDS
from formcheck.statistics.change_text import format_amount
from formcheck.statistics.results import Comparison, Difference

MOST_WORDS = 12
"""So many are read at a glance; our choice."""
PairKind = Literal["same-day", "other-day", "other-set", "ends", "reps"]


def name_pair(kind: PairKind, **numbers: object) -> str:
    """What is held against what, in at most five words."""
    return WORDS["headline"][kind].format(**numbers)


def choose_difference(comparison: Comparison, measures: Sequence[str]) -> Difference | None:
    """The difference that the headline tells; None where nothing was measured in both.

    A sure one comes before all others, and among equals one of `measures`, in their order: those whose angle can be
    drawn on the body.
    """
    ranks = {name: place for place, name in enumerate(measures)}

    def rank(item: Difference) -> tuple[bool, bool, int, bool]:
        drawn = item.measure in ranks
        return item.call != "changed", not drawn, ranks.get(item.measure, 0), item.aspect is None

    return min(comparison.differences, key=rank, default=None)


def write_headline(pair: str, difference: Difference | None) -> str:
    """The line, such as "Set 2 against set 1: highest arm raise 7° less, sure".

    Parameters
    ----------
    pair : `name_pair`.
    """
    words = WORDS["headline"]
    if difference is None:
        return words["nothing"].format(pair=pair)
    if difference.call == "too_few_reps":
        return words["too-few"].format(pair=pair)
    name = get_short_name(difference.measure)
    if difference.call != "changed":
        return words["unsure"].format(pair=pair, measure=name)
    # Rounded as where it stands with its margin, which the sentence below has.
    whole = format_amount(abs(difference.change), difference.unit, difference.margin, measure=difference.measure)
    amount, way = whole.split(" ± ")[0], words["more" if difference.change > 0 else "less"]
    return words["changed"].format(pair=pair, measure=name, amount=amount, way=way)


def get_short_name(measure: str) -> str:
    """A measure in at most three words."""
    return WORDS["short_measures"].get(measure) or wording.get_plain_name(measure)


def describe_other_camera(pair: str, before: CameraView, after: CameraView) -> str:
    """One sentence: the two were filmed from sides that show different angles."""
    sides = {"before": wording.VIEW_WORDS[before.name], "after": wording.VIEW_WORDS[after.name]}
    if before.name == after.name:
        sides = {"before": "from one slant", "after": "from another"}
    return WORDS["headline"]["camera"].format(pair=pair, **sides)
