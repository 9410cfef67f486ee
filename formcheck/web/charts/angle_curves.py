"""Charts of one set: a signal over time, and a measure from rep to rep."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from formcheck.core.model import SIDES, Analysis, Review, Side
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.core.vocabulary.numbers import HARD, PERCENT, round_up
from formcheck.exercises.schema import Check
from formcheck.report import explanations, wording
from formcheck.report.figures import widen_limits
from formcheck.report.phases import PHASE_WORDS, FirstPhase, list_curve_keys, list_phases
from formcheck.web.charts.palette import AXIS_SUFFIX, Palette, get_palette, style_figure

_DASH = {"left": "solid", "right": "5px,3px", None: "solid"}
_MARKERS: tuple[tuple[Side | None, float, str], ...] = (
    (SIDES[0], -0.12, "circle"),
    (SIDES[1], 0.12, "square"),
    (None, 0.0, "circle"),
)
"""Side, shift along the axis of reps, symbol."""
_OWN = ("_peak", "_low", "_max", "_min", "_top", "_bottom", "_mean")
"""Endings of measures that are a value of the signal before them."""
_SIZE = {"height": 250, "margin": {"l": 44, "r": 8, "t": 24, "b": 40}, "hovermode": "x"}
_BAND: dict[str, Any] = {"type": "rect", "yref": "paper", "y0": 0, "y1": 1, "line": {"width": 0}, "layer": "below"}


def list_limits(signal: str, checks: Sequence[Check]) -> list[tuple[str, float]]:
    """(sign and number, value) of what is asked of a signal's own size, such as its highest value in a rep."""
    asked = [check for check in checks if check.measure in [signal + ending for ending in _OWN] and not check.absolute]
    signs = {True: "≥", False: "≤"}
    limits = [(f"{signs[item.at_least is not None]}{HARD}{item.limit:.0f}°", item.limit) for item in asked]
    return list(dict.fromkeys(limits)) if SIGNALS[signal].unit == "deg" else []


def draw_curve(
    analysis: Analysis,
    signal: str,
    *,
    limits: Sequence[tuple[str, float]] = (),
    first: FirstPhase = "concentric",
    dark: bool = False,
) -> go.Figure:
    """One signal over the set with the phases of each rep shaded.

    Parameters
    ----------
    signal : a name of `formcheck.core.vocabulary.SIGNALS`; gaps (NaN) are left open in the line.
    limits : (words, degrees) drawn as lines across, their words beside the chart.
    first : which phase the exercise begins with.
    """
    palette, t = get_palette(dark=dark), analysis.signals.t
    curves = [(side, analysis.signals.get(name, side)) for name, side in list_curve_keys(analysis, [signal])]
    margin = explanations.find_signal_margin(signal, analysis.review)
    margin_text = " (margin not known)" if margin is None else f" ± {round_up(margin, 0):.0f}°"
    figure = go.Figure(
        [
            go.Scatter(
                x=np.round(t, 3),
                y=np.round(values, 1),
                name=side or wording.get_signal_name(signal),
                mode="lines",
                connectgaps=False,
                line={"color": palette.of_side(side), "width": 2.2, "dash": _DASH[side]},
                hovertemplate=f"%{{y:.0f}}°{margin_text}<extra>{side or ''}</extra>",
            )
            for side, values in curves
        ]
    )
    x: dict[str, Any] = {"title_text": "seconds in the clip", "title_standoff": 6}
    y: dict[str, Any] = {"ticksuffix": "°" if curves else ""}
    if curves:
        values = np.concatenate([values for _, values in curves])
        among = np.append(values, [value for _, value in limits])
        low, high = float(np.nanmin(among)), float(np.nanmax(among))
        room = 0.06 * (high - low)
        y["range"] = list(widen_limits(low - room, high + room))
    if len(t):
        x["range"] = [float(t[0]), float(t[-1])]
    style_figure(figure, palette, x=x, y=y, **_SIZE, **_mark_reps(analysis.review, palette, first))
    for words, value in limits:
        figure.add_hline(y=value, line={"color": palette.muted, "dash": "dash", "width": 1.5})
        beside = {"x": 1, "xref": "paper", "xanchor": "left", "y": value, "showarrow": False}
        figure.add_annotation(text=words, font={"color": palette.muted, "size": 12}, **beside)
    if limits:
        figure.update_layout(margin_r=48)
    return figure


def draw_rep_measures(
    review: Review, measure: str, *, limits: Sequence[tuple[str, float]] = (), dark: bool = False
) -> go.Figure | None:
    """A measure rep by rep with its margins as bars, left and right side by side; None without any value.

    Parameters
    ----------
    measure : a name of `formcheck.core.vocabulary.MEASURES`.
    limits : (words, value in the measure's unit) drawn as lines across.
    """
    palette, figure = get_palette(dark=dark), go.Figure()
    for side, shift, symbol in _MARKERS:
        items = [m for m in review.measures if m.name == measure and m.side == side and m.rep and m.value is not None]
        if not items:
            continue
        figure.add_scatter(
            x=[(item.rep or 0) + shift for item in items],
            y=[item.value for item in items],
            error_y={"type": "data", "array": [item.margin or 0.0 for item in items], "thickness": 1.6, "width": 4},
            name=side or wording.get_plain_name(measure),
            mode="markers",
            marker={"color": palette.of_side(side), "size": 9, "symbol": symbol},
            hovertext=[wording.format_measure(item) for item in items],
            hovertemplate=f"%{{hovertext}}<extra>{side or ''}</extra>",
        )
    if not figure.data:
        return None
    for words, value in limits:
        figure.add_hline(
            y=value,
            line={"color": palette.muted, "dash": "dot", "width": 1.5},
            annotation={"text": words, "font": {"color": palette.muted, "size": 12}},
            annotation_position="bottom right",
        )
    reps = [rep.number for rep in review.reps]
    x = {"title_text": "rep", "title_standoff": 6, "tickvals": reps, "range": [0.4, len(reps) + 0.6]}
    percent = {"tickformat": ".0%"} if measure in PERCENT else {}
    style_figure(
        figure, palette, x=x, y={"ticksuffix": AXIS_SUFFIX.get(MEASURES[measure].unit, ""), **percent}, **_SIZE
    )
    return figure


def _mark_reps(review: Review, palette: Palette, first: FirstPhase) -> dict[str, list[dict[str, Any]]]:
    """Bands of the phases and the reps' numbers above them, as parts of a layout; partial reps in brackets."""
    bands = [
        {**_BAND, "x0": span.start_s, "x1": span.end_s, "fillcolor": palette.phases[span.name]}
        | {"name": PHASE_WORDS[span.name]}
        for rep in review.reps
        for span in list_phases(rep, first)
        if span.name in palette.phases
    ]
    numbers = [
        {"x": (rep.start_s + rep.end_s) / 2, "text": f"{rep.number}" if rep.complete else f"({rep.number})"}
        for rep in review.reps
    ]
    style = {"y": 1, "yref": "paper", "yanchor": "bottom", "showarrow": False}
    font = {"color": palette.muted, "size": 13}
    return {"shapes": bands, "annotations": [{**style, "font": font, **number} for number in numbers]}
