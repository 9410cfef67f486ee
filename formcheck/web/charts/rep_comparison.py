"""Charts that compare reps on a common phase axis."""

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from formcheck.core.model import SIDES, Array, Side
from formcheck.core.vocabulary.numbers import round_up
from formcheck.report import explanations, wording
from formcheck.web.charts.palette import get_palette, style_figure
from formcheck.web.charts.phase_axis import AXIS, RepGroup, compute_curves, compute_median

_DASH = ("solid", "7px,4px")
_NO_MARKUP = str.maketrans("", "", "<>")


def find_common_sides(groups: Sequence[RepGroup], signal: str) -> list[Side | None]:
    """The sides in which every group has this signal."""
    sides: tuple[Side | None, ...] = (*SIDES, None)
    return [side for side in sides if all(np.isfinite(compute_curves(group, signal, side)).any() for group in groups)]


def draw_phase_curves(groups: Sequence[RepGroup], signal: str, side: Side | None, *, dark: bool = False) -> go.Figure:
    """The median curve of each group, told apart by colour and dash, over all its reps as a band."""
    palette, figure = get_palette(dark=dark), go.Figure()
    curves = [compute_curves(group, signal, side) for group in groups]
    for group, rows, colour, dash in zip(groups, curves, (palette.left, palette.right), _DASH, strict=True):
        margin = explanations.find_signal_margin(signal, group.analysis.review)
        margin_text = "" if margin is None else f" ± {round_up(margin, 0):.0f}°"
        _draw_band(figure, rows, colour)
        figure.add_scatter(
            x=AXIS,
            y=np.round(compute_median(rows), 1),
            name=group.label,
            mode="lines",
            line={"color": colour, "width": 2.6, "dash": dash},
            hovertemplate=f"%{{y:.0f}}°{margin_text}<extra>{group.label.translate(_NO_MARKUP)}</extra>",
        )
    figure.add_vline(x=100, line={"color": palette.muted, "width": 1, "dash": "dot"})
    phases = ("lifting", "lowering") if groups[0].first == "concentric" else ("lowering", "lifting")
    style = {"y": 1, "yref": "paper", "yanchor": "bottom", "showarrow": False, "font": {"color": palette.muted}}
    ticks = {"tickvals": [0, 50, 100, 150, 200], "ticktext": ["0 %", "50 %", "100 | 0 %", "50 %", "100 %"]}
    known = np.concatenate([rows[np.isfinite(rows)] for rows in curves])
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)
    room = max(10 - (high - low), 0.08 * (high - low))
    style_figure(
        figure,
        palette,
        x={"range": [0, 200], "hoverformat": ".0f", **ticks},
        y={"range": [low - room, high + room], "ticksuffix": "°"},
        height=250,
        margin={"l": 44, "r": 10, "t": 26, "b": 28},
        hovermode="x",
        annotations=[{**style, "x": x, "text": phase} for x, phase in zip((50, 150), phases, strict=True)],
    )
    return figure


def describe_phase_curves(groups: Sequence[RepGroup], signal: str, side: Side | None) -> str:
    """The curves in words."""
    parts = []
    for group in groups:
        curve = compute_median(compute_curves(group, signal, side))
        if np.isfinite(curve).any():
            parts.append(f"{group.label}: from {np.nanmin(curve):.0f} to {np.nanmax(curve):.0f} degrees")
    which = f", {side} side" if side else ""
    return (
        f"{wording.capitalise(wording.get_signal_name(signal))}{which}, over the phases of a rep. {'; '.join(parts)}."
    )


def _draw_band(figure: go.Figure, rows: Array, colour: str) -> None:
    """From the lowest to the highest of the reps (reps, n) where all have a value; nothing for fewer than three."""
    known = np.isfinite(rows).all(axis=0)
    if len(rows) > 2 and known.sum() > 1:
        low, high = rows[:, known].min(axis=0), rows[:, known].max(axis=0)
        red, green, blue = bytes.fromhex(colour[1:])
        figure.add_scatter(
            x=np.concatenate([AXIS[known], AXIS[known][::-1]]),
            y=np.round(np.concatenate([high, low[::-1]]), 1),
            fill="toself",
            fillcolor=f"rgba({red},{green},{blue},0.14)",
            line={"width": 0},
            hoverinfo="skip",
        )
