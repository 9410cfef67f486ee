"""Pieces of the page as HTML text; pure functions, every string of a review escaped."""

from collections.abc import Mapping, Sequence
from html import escape
from math import isfinite

from formcheck.core.model import Review, Verdict
from formcheck.report import wording
from formcheck.report.next_cue import NextCue
from formcheck.report.phases import PHASE_WORDS, PhaseName
from formcheck.report.problem_text import review_blocked
from formcheck.report.summary import FindingView, RepRow
from formcheck.web.components.tooltips import tooltip_attribute

_NOTHING: Mapping[str, str] = {}
_CURRENT = ' aria-current="step"'
_MARKS: dict[Verdict, str] = {"met": "✓", "not_met": "↑", "undecided": "–"}


def render_verdict_heading(verdict: Verdict, amount: int) -> str:
    """Heading of a group of findings: shape, word and number."""
    mark = f'<span class="fc-mark fc-{verdict}" aria-hidden="true"><span>{_MARKS[verdict]}</span></span>'
    return f'<h2 class="fc-group fc-text-{verdict}">{mark}{wording.VERDICT_WORDS[verdict]}<small>{amount}</small></h2>'


def render_next_cue(cue: NextCue) -> str:
    """The one thing to change first, large, with its reason and a button to its moment."""
    show = ""
    if cue.at_s is not None:
        at = wording.moment(cue.at_s)
        show = render_seek_button(cue.at_s, f"Show {at}", f"Show {cue.title} in the clip at {at}")
    return (
        f'<section class="fc-next" aria-label="Next cue"><h2>Next cue</h2><p class="fc-next-cue">{escape(cue.cue)}</p>'
        f'<p class="fc-figures">{escape(cue.why)}</p>{show}</section>'
    )


def render_findings(items: Sequence[FindingView]) -> str:
    """Findings side by side where there is room."""
    return f'<div class="fc-cards">{"".join(render_finding(item) for item in items)}</div>'


def render_finding(item: FindingView) -> str:
    """One finding with its evidence and a button to its moment in the clip."""
    lines = [f"<h3>{escape(item.title)}</h3>"]
    if item.cue:
        lines.append(f'<p class="fc-cue">{escape(item.cue)}</p>')
    if item.text:
        lines.append(f"<p>{escape(item.text)}</p>")
    if item.evidence:
        lines.append(f'<p class="fc-figures">{escape(item.evidence)}</p>')
    if item.others:
        lines.append(f'<p class="fc-others">{escape(item.others)}.</p>')
    if item.film_instead:
        lines.append(f"<p>{escape(item.film_instead)}</p>")
    if item.at_s is not None:
        lines.append(
            render_seek_button(item.at_s, f"Show {item.moment}", f"Show {item.title} in the clip at {item.moment}")
        )
    if item.basis:
        basis = escape(item.basis)
        lines.append(f'<details><summary>Why this limit</summary><p class="fc-basis">{basis}</p></details>')
    return f'<article class="fc-finding fc-soft-{item.verdict}">{"".join(lines)}</article>'


def render_seek_button(at_s: float, words: str, spoken: str) -> str:
    """A button that moves the clip."""
    label = f'data-t="{at_s:.3f}" aria-label="{escape(spoken)}"'
    return f'<button type="button" class="fc-seek" {label}>{escape(words)}</button>'


def render_rep_strip(rows: Sequence[RepRow], pictures: Mapping[int, str], about: Mapping[str, str] = _NOTHING) -> str:
    """One card a rep: its picture at the top, its first number, its tempo as a ribbon; a click shows it.

    Parameters
    ----------
    about : measure → what it is and where it comes from.
    """
    longest = max((sum(seconds for _, seconds in split_tempo(row)) for row in rows), default=0.0) or 1.0
    return f'<div class="fc-strip">{"".join(_render_rep_card(row, pictures, longest, about) for row in rows)}</div>'


def render_rep_table(rows: Sequence[RepRow], columns: Sequence[str], about: Mapping[str, str] = _NOTHING) -> str:
    """The rep table; on a telephone each row becomes a short list.

    Parameters
    ----------
    columns : names of measures.
    about : measure → what it is and where it comes from.
    """
    names = "".join(f'<th scope="col">{_render_measure_name(name, about)}</th>' for name in columns)
    body = "".join(_render_table_row(row, about) for row in rows)
    caption = f"Each number is followed by its margin (±). {wording.TEMPO_ORDER}"
    head = f'<tr><th scope="col">Rep</th>{names}<th scope="col">Tempo, s</th></tr>'
    return f'<table class="fc-table"><caption>{caption}</caption><thead>{head}</thead><tbody>{body}</tbody></table>'


def render_curve_legend(sides: Sequence[str], *, phases: bool) -> str:
    """What the colours and dashes of the curves mean."""
    items = [f'<li><i class="fc-line fc-line-{side}"></i>{side} side</li>' for side in sides]
    if phases:
        names: tuple[PhaseName, ...] = ("lift", "top", "lower")
        items += [f'<li><i class="fc-phase fc-phase-{name}"></i>{PHASE_WORDS[name]}</li>' for name in names]
    return f'<ul class="fc-legend">{"".join(items)}</ul>'


def render_summary(review: Review) -> str:
    """What was reviewed and what came out, in three lines."""
    side = "" if review_blocked(review) else wording.view_text(review.view)
    facts = [f"“{review.clip.name}”", wording.load_text(review.set_info.load_kg), side]
    lead = wording.outcome(review)
    meta = "".join(f"<li>{escape(item)}</li>" for item in facts if item)
    return (
        f'<header class="fc-head"><h1>{escape(review.exercise.name)}</h1><ul class="fc-meta">{meta}</ul>'
        f'{f"""<p class="fc-lead">{escape(lead)}</p>""" if lead else ""}</header>'
    )


def render_cautions(texts: Sequence[str], heading: str = "Please read before you train") -> str:
    """The cautions of an exercise."""
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f'<section class="fc-cautions" aria-label="Cautions"><h2>{escape(heading)}</h2><ul>{items}</ul></section>'


def render_steps(names: Sequence[str], now: str) -> str:
    """The stages of the work: those over, the one under way, those to come."""
    place = names.index(now) if now in names else -1
    kinds = ["over" if index < place else "now" if index == place else "next" for index in range(len(names))]
    items = "".join(
        f'<li class="fc-step-{kind}"{_CURRENT if kind == "now" else ""}><i aria-hidden="true"></i>{escape(name)}</li>'
        for kind, name in zip(kinds, names, strict=True)
    )
    return f'<ol class="fc-steps">{items}</ol>'


def render_list(lines: Sequence[str]) -> str:
    """Sentences, one a line."""
    return f'<ul class="fc-plain">{"".join(f"<li>{escape(line)}</li>" for line in lines)}</ul>'


def render_definitions(pairs: Sequence[tuple[str, str]]) -> str:
    """Names and what is said of them."""
    body = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in pairs)
    return f'<dl class="fc-plain">{body}</dl>'


def _render_rep_card(row: RepRow, pictures: Mapping[int, str], longest: float, about: Mapping[str, str]) -> str:
    rep = row.rep
    picture = pictures.get(rep.number, "")
    shown = f'<img src="{escape(picture)}" alt="">' if picture.startswith("data:image/jpeg;base64,") else ""
    cell = row.cells[0] if row.cells else None
    values = "".join(_value(*pair) for pair in (cell.values if cell else ()))
    name = f'<span class="fc-name">{escape(cell.label)}</span>' if cell else ""
    kind = "" if rep.complete else '<span class="fc-partial">partial</span>'
    numbers = ", ".join(f"{side} {value}".strip() for side, value in (cell.values if cell else ()))
    spoken = (
        f"Show the top of rep {rep.number}{'' if rep.complete else ', partial,'} in the clip, at "
        f"{wording.moment(rep.top_s)}. {cell.label if cell else ''} {numbers}. "
        f"Tempo {row.tempo} seconds {row.tempo_margin}."
    )
    return (
        f'<button type="button" class="fc-rep" data-t="{rep.top_s:.3f}" data-rep="{rep.number}" '
        f'aria-label="{escape(spoken)}">{shown}<span class="fc-rep-head"><b>Rep {rep.number}</b>{kind}'
        f'<span class="fc-time">{wording.moment(rep.top_s)}</span></span>'
        f'<span class="fc-values"{tooltip_attribute(about.get(cell.name, "") if cell else "")}>{name}{values}</span>'
        f"{_render_ribbon(row, longest)}</button>"
    )


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


def _render_ribbon(row: RepRow, longest: float) -> str:
    spans = split_tempo(row)
    parts = "".join(
        f'<i class="fc-phase-{name}" style="flex-grow:{seconds / longest:.3f}"></i>' for name, seconds in spans
    )
    rest = max(0.0, 1.0 - sum(seconds for _, seconds in spans) / longest)
    words = (
        f"Tempo of the rep, {row.tempo} s {row.tempo_margin}. {wording.TEMPO_ORDER} "
        "Timed between the pictures in which the movement starts and stops."
    )
    return (
        f'<span class="fc-ribbon"{tooltip_attribute(words)}>{parts}<i style="flex-grow:{rest:.3f}"></i></span>'
        f'<span class="fc-tempo">{row.tempo} s {row.tempo_margin}</span>'
    )


def _value(side: str, value: str) -> str:
    name = f'<span class="fc-side">{side}</span>' if side else ""
    return f'<span class="fc-pair">{name}<span>{escape(value)}</span></span>'


def _render_measure_name(name: str, about: Mapping[str, str]) -> str:
    """The plain name of a measure, which tells what it is when it has the focus."""
    label = escape(wording.capital(wording.measure_name(name)))
    text = tooltip_attribute(about.get(name, ""))
    return f'<button type="button" class="fc-what"{text}>{label}</button>' if text else label


def _render_table_row(row: RepRow, about: Mapping[str, str]) -> str:
    kind = "" if row.rep.complete else ' <span class="fc-partial">partial</span>'
    cells = "".join(
        f'<td data-label="{escape(cell.label)}"{tooltip_attribute(about.get(cell.name, ""))}>'
        f"<div>{''.join(_value(*pair) for pair in cell.values)}</div></td>"
        for cell in row.cells
    )
    tempo = f'<td data-label="Tempo, s"><div>{row.tempo} {row.tempo_margin}</div></td>'
    return f'<tr data-rep="{row.rep.number}"><th scope="row">{row.rep.number}{kind}</th>{cells}{tempo}</tr>'
