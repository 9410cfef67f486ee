"""Pieces about training as HTML text: advice, planned and done, differences; every stored string escaped."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Literal

from formcheck.coaching.advice import Advice
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import PlannedSet
from formcheck.coaching.plan_adherence import Against, DoneSet, Target
from formcheck.report import wording
from formcheck.report.progress import ADVICE_WORDS
from formcheck.statistics.change_text import amount
from formcheck.statistics.results import Call, Difference

Margins = tuple[Mapping[str, float], Mapping[str, float]]
Mark = Literal["met", "undecided", "not_met", "less", "changed", "noted"]
_AGAINST: dict[Against, tuple[Mark, str]] = {
    "as_planned": ("met", "as planned"),
    "above": ("not_met", "more"),
    "below": ("less", "less"),
    "undecided": ("undecided", "too close to tell"),
}
_MARKS: dict[Mark, str] = {"met": "✓", "not_met": "↑", "undecided": "–", "less": "↓", "changed": "≠", "noted": "!"}
_COLOURS: dict[Mark, Mark] = {"less": "not_met", "changed": "not_met", "noted": "not_met"}
"""Marks that have the colour of another."""
_TARGETS = {
    "eccentric_time": "lowering",
    "bottom_pause": "pause stretched",
    "concentric_time": "lifting",
    "top_pause": "pause shortened",
    "range": "range",
}


def render_advice(advice: Advice) -> str:
    """What the trade would consider next, with its rule, its inputs and its doubt."""
    kind = "stop" if advice.kind == "stop" else "next"
    parts = [
        f'<section class="fc-advice fc-advice-{kind}" aria-label="Advice for the next session">',
        f"<h2>For the next session: {ADVICE_WORDS[advice.kind].lower()}</h2>",
        f'<p class="fc-advice-text">{escape(advice.text)}</p>',
    ]
    for title, lines in (("What this rests on", advice.inputs), ("What speaks for caution", advice.doubt)):
        if lines:
            items = "".join(f"<li>{escape(line)}</li>" for line in lines)
            parts.append(f"<h3>{title}</h3><ul>{items}</ul>")
    if advice.stop_signs:
        parts.append(f'<p class="fc-stop-signs">{escape(advice.stop_signs)}</p>')
    if advice.source:
        parts.append(f"<details><summary>The rule and its source</summary><p>{escape(advice.source)}</p></details>")
    parts.append('<p class="fc-others">Advice, never an order; coach and lifter decide.</p></section>')
    return "".join(parts)


def render_done_table(sets: Sequence[DoneSet], caption: str) -> str:
    """Each set of a session against what was planned for it."""
    names = list(dict.fromkeys(item.name for one in sets for item in one.targets))
    heads = "".join(f'<th scope="col">{wording.capital(_TARGETS[name])}</th>' for name in names)
    body = "".join(_render_done_row(one, names) for one in sets)
    return render_table(
        caption, f'<th scope="col">Set</th><th scope="col">Reps</th><th scope="col">Load</th>{heads}', body
    )


def render_done_list(one: DoneSet) -> str:
    """One set against its plan, a line for each number."""
    load = wording.load_text(one.load_kg) or "not known"
    lines = [("Reps", _reps_done(one)), ("Load", f"{load}{_load_wanted(one)}")]
    lines += [(wording.capital(_TARGETS[item.name]), _target(item)) for item in one.targets]
    return f'<dl class="fc-facts">{"".join(f"<dt>{name}</dt><dd>{text}</dd>" for name, text in lines)}</dl>'


def render_differences(differences: Sequence[Difference], names: tuple[str, str], margins: Margins) -> str:
    """Both values of each number, the change with its margin, and whether it can be told.

    Parameters
    ----------
    names : of the earlier and the later.
    margins : measure → half-width of the 95 % interval, of the earlier and the later.
    """
    heads = ("Number", *names, "Change", "Can it be told?")
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in heads)
    body = "".join(_render_difference_row(item, names, margins) for item in differences)
    caption = "The margin (±) of a change holds how much the reps differ among themselves and what the camera adds."
    if any(_explain_uncertainty(item) for item in differences):
        caption += " Not surely: more than its margin, but with so many numbers side by side chance alone can do that."
    return render_table(caption, head, body)


def render_table(caption: str, head: str, body: str) -> str:
    """A table that becomes a list on a telephone; `head` and `body` are HTML already."""
    return (
        f'<table class="fc-table"><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table>"
    )


def format_note(note: SetNote | None) -> str:
    """The lifter's note in one line; empty without one. Not escaped."""
    if note is None:
        return ""
    pain = {None: None, False: "no pain", True: "pain" + (f" ({note.pain_where})" if note.pain_where else "")}
    parts = [
        pain[note.pain],
        None if note.effort is None else f"effort {note.effort:g} of 10",
        None if note.reps_in_reserve is None else f"{note.reps_in_reserve:g} more reps were possible",
        None if note.sleep_h is None else f"slept {note.sleep_h:g} h",
        note.remark,
    ]
    return " · ".join(part for part in parts if part)


def render_mark(mark: Mark, words: str) -> str:
    """A mark that differs by shape, with its word."""
    colour = _COLOURS.get(mark, mark)
    shape = f'<span class="fc-mark fc-{colour}" aria-hidden="true"><span>{_MARKS[mark]}</span></span>'
    return f'<span class="fc-marked">{shape}<span>{escape(words)}</span></span>'


def _render_done_row(one: DoneSet, names: Sequence[str]) -> str:
    load = (wording.load_text(one.load_kg) or "not known") + _load_wanted(one)
    cells = f'<td data-label="Reps"><div>{_reps_done(one)}</div></td><td data-label="Load"><div>{load}</div></td>'
    targets = {item.name: item for item in one.targets}
    for name in names:
        item = targets.get(name)
        cells += f'<td data-label="{wording.capital(_TARGETS[name])}"><div>{_target(item) if item else ""}</div></td>'
    return f'<tr><th scope="row">Set {one.number}</th>{cells}</tr>'


def _reps_done(one: DoneSet) -> str:
    reps = f"{one.complete_reps}" + (f" + {one.partial_reps} partial" if one.partial_reps else "")
    if one.planned is not None:
        reps += f' <span class="fc-others">of {_reps(one.planned)}</span>'
    return reps + _format_overrun(one)


def _load_wanted(one: DoneSet) -> str:
    wanted = one.planned.load_kg if one.planned is not None else None
    return "" if wanted is None else f' <span class="fc-others">of {wording.load_text(wanted)}</span>'


def _format_overrun(one: DoneSet) -> str:
    if one.planned is not None and one.reps_over is None:
        return render_mark("undecided", "not recorded")
    if one.reps_over is None:
        return ""
    if one.reps_over == 0:
        return render_mark("met", "as planned")
    if one.reps_over > 0:
        return render_mark("not_met", f"{one.reps_over} more")
    return render_mark("less", f"{-one.reps_over} fewer")


def _target(item: Target) -> str:
    planned = f"{item.planned:g}{'°' if item.unit == 'deg' else ' s'}"
    if item.done is None:
        return f'not measured <span class="fc-others">of {planned}</span>'
    mark, words = _AGAINST[item.call]
    done = wording.with_margin(item.done, item.margin, item.unit)
    return f'<span class="fc-pair">{done} <span class="fc-others">of {planned}</span></span>{render_mark(mark, words)}'


def _reps(planned: PlannedSet) -> str:
    low, high = planned.reps_low, planned.reps_high
    return str(low) if low == high else f"{low} to {high}"


_CALLS: dict[Call, tuple[Mark, str]] = {
    "changed": ("changed", "yes"),
    "no_detectable_change": ("undecided", "no"),
    "too_few_reps": ("undecided", "too few reps"),
}


def _render_difference_row(item: Difference, names: tuple[str, str], margins: Margins) -> str:
    name = wording.capital(wording.measure_name(item.measure))
    cells = "".join(
        f'<td data-label="{escape(label)}"><div>'
        f"{amount(value, item.unit, margin.get(item.measure), measure=item.measure)}</div></td>"
        for label, value, margin in zip(names, (item.before, item.after), margins, strict=True)
    )
    mark, words = _CALLS[item.call]
    words = "not surely" if _explain_uncertainty(item) else words
    return (
        f'<tr class="fc-call-{item.call}"><th scope="row">{escape(name)}</th>{cells}'
        f'<td data-label="Change"><div>{format_change(item.change, item.margin, item.unit, item.measure)}</div></td>'
        f'<td data-label="Can it be told?"><div>{render_mark(mark, words)}</div></td></tr>'
    )


def _explain_uncertainty(item: Difference) -> bool:
    return item.call == "no_detectable_change" and abs(item.change) > item.margin


def format_change(change: float, margin: float | None, unit: str, measure: str) -> str:
    """A change with its sign and margin; nothing that rounds to nothing has a sign."""
    text = amount(change, unit, margin, measure=measure)
    plain = amount(0.0, unit, margin, measure=measure)
    return text if change <= 0 or text == plain else f"+{text}"
