"""Own limits and what they would change, as HTML text; every string of a store is escaped."""

from collections.abc import Mapping, Sequence

from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.exercises.limits import LimitChange
from formcheck.exercises.schema import Check
from formcheck.report import wording
from formcheck.services.own_limits import LimitEffect
from formcheck.storage.rows import StoredLimits
from formcheck.web.markup import render

TRIED_ON = 500
"""Past reviews a change of limits is tried on, the newest: each takes a few milliseconds."""
_SHOWN = 25


def render_effects(found: Sequence[LimitEffect], past: int) -> str:
    """Which findings of past reviews would change, the newest review first.

    past : how many past reviews there are, of which the newest `TRIED_ON` were looked at.
    """
    if not past:
        return "<p>There is no past review of this exercise to compare with.</p>"
    reviews = wording.count(past, "past review") if past <= TRIED_ON else f"the newest {TRIED_ON} past reviews"
    if not found:
        return f"<p>No finding of {reviews} would change.</p>"
    lead, rest = f"Findings would change in {len(found)} of {reviews}:", len(found) - _SHOWN
    more = f"And {wording.count(rest, 'review')} more." if rest > 0 else ""
    return render("limits", "effects", lead, found[:_SHOWN], more)


def render_entry(item: StoredLimits, checks: Mapping[str, Check], *, in_force: bool) -> str:
    """One entry of the history: its day and what it sets.

    Parameters
    ----------
    checks : the exercise's checks by id.
    """
    lines = [_describe_change(name, checks.get(name), change) for name, change in item.changes.items()]
    return render("limits", "entry", wording.format_time(item.created_at), in_force, lines)


def _describe_change(name: str, check: Check | None, change: LimitChange) -> str:
    """What is set of a check; None where the exercise has it no more."""
    title = check.title if check else wording.capitalise(name.replace("-", " "))
    unit, percent = (check.unit, check.measure in PERCENT) if check else ("none", False)
    bound = "or less" if check and check.at_most is not None else "or more"
    numbers = (("{} " + bound, change.limit), ("tolerance {}", change.tolerance))
    parts = [
        words.format(wording.format_number(value, unit, percent=percent))
        for words, value in numbers
        if value is not None
    ]
    if change.cue is not None:
        parts.append(f"“{change.cue}”")
    return f"{title}: {', '.join(parts)}"
