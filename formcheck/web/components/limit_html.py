"""Own limits and what they would change, as HTML text; every string of a store escaped."""

from collections.abc import Mapping, Sequence
from html import escape

from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.exercises.schema import Check
from formcheck.report import wording
from formcheck.services.own_limits import LimitEffect
from formcheck.storage.rows import StoredLimits
from formcheck.web.components.correction_html import format_verdict

TRIED_ON = 500
"""Past reviews a change of limits is tried on, the newest: each takes a few milliseconds."""
_SHOWN = 25


def render_effects(found: Sequence[LimitEffect], past: int, *, tried_on: int) -> str:
    """Which findings of past reviews would change, the newest review first.

    Parameters
    ----------
    past : how many past reviews there are.
    tried_on : so many of them, the newest, were looked at at most.
    """
    if not past:
        return "<p>There is no past review of this exercise to compare with.</p>"
    reviews = wording.count(past, "past review") if past <= tried_on else f"the newest {tried_on} past reviews"
    if not found:
        return f"<p>No finding of {reviews} would change.</p>"
    items = "".join(_effect(item) for item in found[:_SHOWN])
    rest = len(found) - _SHOWN
    more = f"<p>And {wording.count(rest, 'review')} more.</p>" if rest > 0 else ""
    lead = f"Findings would change in {len(found)} of {reviews}:"
    return f'<div class="fc-change"><p>{lead}</p><ul class="fc-changes">{items}</ul>{more}</div>'


def render_entry(item: StoredLimits, checks: Mapping[str, Check], *, in_force: bool) -> str:
    """One entry of the history: its day and what it sets.

    Parameters
    ----------
    checks : the exercise's checks by id.
    """
    day = item.created_at.astimezone().strftime("%d %b %Y, %H:%M")
    mark = ' <span class="fc-by-hand">in force</span>' if in_force else ""
    lines = []
    for name, change in item.changes.items():
        check = checks.get(name)
        title = check.title if check else wording.capital(name.replace("-", " "))
        unit = check.unit if check else "none"
        percent = check is not None and check.measure in PERCENT
        parts = []
        if change.limit is not None:
            bound = "at most" if check is not None and check.at_most is not None else "at least"
            parts.append(f"{bound} {wording.number(change.limit, unit, percent=percent)}")
        if change.tolerance is not None:
            parts.append(f"tolerance {wording.number(change.tolerance, unit, percent=percent)}")
        if change.cue is not None:
            parts.append(f"“{change.cue}”")
        lines.append(f"<li>{escape(title)}: {escape(', '.join(parts))}</li>")
    told = f'<ul class="fc-plain">{"".join(lines)}</ul>' if lines else "<p>formcheck’s own limits.</p>"
    return f"<div><b>{day}</b>{mark}{told}</div>"


def _effect(item: LimitEffect) -> str:
    row = item.row
    facts = [row.session_on.strftime("%d %b %Y"), row.client, f"set {row.set_number}", wording.load_text(row.load_kg)]
    lines = "".join(
        f"<div>{escape(change.title)}, {wording.rep_list(change.reps)}: "
        f"{format_verdict(change.before)} → {format_verdict(change.after)}</div>"
        for change in item.changes
    )
    link = f'<a href="review?review={row.id}" target="_self">Open</a>'
    return f"<li><small>{escape(' · '.join(part for part in facts if part))}</small> {link}{lines}</li>"
