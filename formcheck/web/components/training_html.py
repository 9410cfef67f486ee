"""Planned and done, and differences as HTML text; every stored string is escaped."""

from collections.abc import Mapping, Sequence

from markupsafe import Markup

from formcheck.coaching.plan_adherence import Against, DoneSet
from formcheck.coaching.words import TARGETS
from formcheck.report import wording
from formcheck.statistics.change_text import format_amount
from formcheck.statistics.results import Call, Difference
from formcheck.web.markup import render

Margins = tuple[Mapping[str, float], Mapping[str, float]]
_AGAINST: dict[Against, tuple[str, str]] = {
    "as_planned": ("met", "as planned"),
    "above": ("not_met", "more"),
    "below": ("less", "less"),
    "undecided": ("undecided", "too close to tell"),
}
_CALLS: dict[Call, tuple[str, str]] = {
    "changed": ("changed", "yes"),
    "no_detectable_change": ("undecided", "no"),
    "too_few_reps": ("undecided", "too few reps"),
}


def render_done_table(sets: Sequence[DoneSet], caption: str) -> str:
    """Each set of a session against what was planned for it."""
    done = [_describe_done(one) for one in sets]
    heads = list(dict.fromkeys(name for one in done for name in one))
    rows = [
        ("", f"Set {one.number}", [cells.get(name, "") for name in heads])
        for one, cells in zip(sets, done, strict=True)
    ]
    return render("pieces", "table", caption, ["Set", *heads], rows)


def render_done_list(one: DoneSet) -> str:
    """One set against its plan, a line for each number."""
    return render("pieces", "definitions", list(_describe_done(one).items()), "fc-facts")


def _describe_done(one: DoneSet) -> dict[str, Markup]:
    """Name of each number → what was done against what was planned."""
    targets = {
        wording.capitalise(TARGETS[item.name]): render("training", "target", item, *_AGAINST[item.call])
        for item in one.targets
    }
    reps = render("training", "reps", one, one.planned.reps if one.planned else "")
    return {"Reps": reps, "Load": render("training", "load", one), **targets}


def render_differences(differences: Sequence[Difference], names: tuple[str, str], margins: Margins) -> str:
    """Both values of each number, the change with its margin, and whether it can be told.

    Parameters
    ----------
    names : of the earlier and the later.
    margins : measure → half-width of the 95 % interval, of the earlier and the later.
    """
    rows = []
    caption = "The margin (±) of a change covers how much the reps differ among themselves and what the camera adds."
    for item in differences:
        measure, unit = item.measure, item.unit
        sides = zip((item.before, item.after), margins, strict=True)
        values = [format_amount(value, unit, margin.get(measure), measure=measure) for value, margin in sides]
        mark, words = _CALLS[item.call]
        if _is_unsure(item):
            words = "unsure"
        cells = [*values, format_change(item.change, item.margin, unit, measure), render("pieces", "mark", mark, words)]
        rows.append((f"fc-call-{item.call}", wording.capitalise(wording.get_plain_name(measure)), cells))
    if any(map(_is_unsure, differences)):
        caption += " Unsure: more than its margin, but among so many numbers one may differ by chance alone."
    return render("pieces", "table", caption, ["Number", *names, "Change", "Certain?"], rows)


def _is_unsure(item: Difference) -> bool:
    """A change beyond its margin that is not counted as one: too many numbers were compared at once."""
    return item.call == "no_detectable_change" and abs(item.change) > item.margin


def format_change(change: float, margin: float | None, unit: str, measure: str) -> str:
    """A change with its sign and margin; nothing that rounds to nothing has a sign."""
    text, nothing = (format_amount(value, unit, margin, measure=measure) for value in (change, 0.0))
    return text if change <= 0 or text == nothing else f"+{text}"
