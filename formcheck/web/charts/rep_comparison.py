"""Charts that hold reps against others on a common phase axis, as pure functions."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from formcheck.core.model import Array, Side
from formcheck.core.vocabulary.numbers import rounded_up
from formcheck.report import explanations, wording
from formcheck.web.charts.angle_curves import First, get_palette, style_figure
from formcheck.web.charts.phase_axis import AXIS, RepGroup, compute_curves, compute_median

_DASH = ("solid", "7px,4px")


def find_common_sides(groups: Sequence[RepGroup], signal: str) -> list[Side | None]:
    """The sides in which every group has this signal."""
    sides: tuple[Side | None, ...] = ("left", "right", None)
    return [side for side in sides if all(np.isfinite(compute_curves(group, signal, side)).any() for group in groups)]


def draw_phase_curves(groups: Sequence[RepGroup], signal: str, side: Side | None, *, dark: bool = False) -> go.Figure:
    """The usual course of each group, told apart by colour and dash, over all its reps as a band."""
    colours = get_palette(dark=dark)
    inks = (colours.left, colours.right)
    figure = go.Figure()
    shown: list[Array] = []
    for group, ink, dash in zip(groups, inks, _DASH, strict=True):
        rows = compute_curves(group, signal, side)
        margin = explanations.margin_of_signal(signal, group.analysis.review)
        spare = "" if margin is None else f" ± {rounded_up(margin, 0):.0f}°"
        shown.append(rows[np.isfinite(rows)])
        if len(rows) > 2:
            _draw_band(figure, rows, ink)
        figure.add_trace(
            go.Scatter(
                x=AXIS,
                y=np.round(compute_median(rows), 1),
                name=group.label,
                mode="lines",
                line={"color": ink, "width": 2.6, "dash": dash},
                hovertemplate="%{y:.0f}°" + spare + f"<extra>{_strip_markup(group.label)}</extra>",
            )
        )
    _set_layout(figure, np.concatenate(shown), groups[0].first, dark=dark)
    return figure


def describe_phase_curves(groups: Sequence[RepGroup], signal: str, side: Side | None) -> str:
    """The curves in words."""
    parts = []
    for group in groups:
        course = compute_median(compute_curves(group, signal, side))
        if np.isfinite(course).any():
            parts.append(f"{group.label}: from {np.nanmin(course):.0f} to {np.nanmax(course):.0f} degrees")
    which = f", {side} side" if side else ""
    return f"{wording.capital(wording.signal_name(signal))}{which}, over the phases of a rep. {'; '.join(parts)}."


def _draw_band(figure: go.Figure, rows: Array, ink: str) -> None:
    known = np.isfinite(rows).all(axis=0)
    if known.sum() < 2:
        return
    low, high = rows[:, known].min(axis=0), rows[:, known].max(axis=0)
    red, green, blue = (int(ink[place : place + 2], 16) for place in (1, 3, 5))
    figure.add_trace(
        go.Scatter(
            x=np.concatenate([AXIS[known], AXIS[known][::-1]]),
            y=np.round(np.concatenate([high, low[::-1]]), 1),
            fill="toself",
            fillcolor=f"rgba({red},{green},{blue},0.14)",
            line={"width": 0},
            hoverinfo="skip",
        )
    )


def _set_layout(figure: go.Figure, values: Array, first: First, *, dark: bool) -> None:
    colours = get_palette(dark=dark)
    names = ("lifting", "lowering") if first == "concentric" else ("lowering", "lifting")
    figure.add_vline(x=100, line={"color": colours.muted, "width": 1, "dash": "dot"})
    for x, name in zip((50, 150), names, strict=True):
        figure.add_annotation(
            x=x, y=1, yref="paper", yanchor="bottom", text=name, showarrow=False, font={"color": colours.muted}
        )
    style_figure(figure, colours, margin={"l": 44, "r": 10, "t": 26, "b": 28})
    axis = {"zeroline": False, "color": colours.muted, "fixedrange": True}
    figure.update_xaxes(
        showgrid=False,
        range=[0, 200],
        tickvals=[0, 50, 100, 150, 200],
        ticktext=["0 %", "50 %", "100 | 0 %", "50 %", "100 %"],
        hoverformat=".0f",
        **axis,
    )
    low, high = (float(values.min()), float(values.max())) if len(values) else (0.0, 1.0)
    spare = max(10 - (high - low), 0.08 * (high - low))
    figure.update_yaxes(gridcolor=colours.grid, ticksuffix="°", range=[low - spare, high + spare], **axis)


def _strip_markup(text: str) -> str:
    return text.replace("<", "").replace(">", "")
