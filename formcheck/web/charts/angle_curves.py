"""Charts of the page as pure functions: analysis in, plotly figure out."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import plotly.graph_objects as go

from formcheck.core.model import Analysis, Review
from formcheck.core.vocabulary.numbers import rounded_up
from formcheck.report import explanations, wording
from formcheck.report.figures import curve_alt, wide_enough
from formcheck.report.phases import PHASE_WORDS, PhaseName, PhaseSpan, curve_keys, phase_spans

__all__ = ["DARK", "LIGHT", "First", "Palette", "curve_alt", "draw_curve", "draw_rep_measures", "get_palette"]

First = Literal["concentric", "eccentric"]


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours of one theme; left and right also differ by dash, phases also by lightness."""

    text: str
    muted: str
    grid: str
    left: str
    right: str
    both: str
    phases: dict[PhaseName, str]


LIGHT = Palette(
    text="#0a1418",
    muted="#50616a",
    grid="#d3dbdf",
    left="#0f5f8c",
    right="#a8456f",
    both="#33454c",
    phases={"lift": "#cfe3ea", "top": "#b9c8cd", "lower": "#eee5cf"},
)
DARK = Palette(
    text="#e6ebed",
    muted="#a3b1b8",
    grid="#2f3c44",
    left="#74bfe8",
    right="#eb9bbd",
    both="#c5d0d3",
    phases={"lift": "#1e3e4a", "top": "#3d4d52", "lower": "#3f3826"},
)
_DASH = {"left": "solid", "right": "5px,3px", None: "solid"}


def get_palette(*, dark: bool) -> Palette:
    """The colours of the dark or the light theme."""
    return DARK if dark else LIGHT


def draw_curve(analysis: Analysis, signal: str, *, first: First = "concentric", dark: bool = False) -> go.Figure:
    """One signal over the set with the phases of each rep shaded.

    Parameters
    ----------
    signal : a name of `formcheck.core.vocabulary.SIGNALS`; gaps (NaN) are left open in the line.
    first : which phase the exercise begins with.
    """
    colours = get_palette(dark=dark)
    figure = go.Figure()
    lowest, highest = np.inf, -np.inf
    margin = explanations.margin_of_signal(signal, analysis.review)
    spare_text = " (margin not known)" if margin is None else f" ± {rounded_up(margin, 0):.0f}°"
    for name, side in curve_keys(analysis, [signal]):
        values = analysis.signals.get(name, side)
        lowest, highest = min(lowest, float(np.nanmin(values))), max(highest, float(np.nanmax(values)))
        colour = {"left": colours.left, "right": colours.right, None: colours.both}[side]
        figure.add_trace(
            go.Scatter(
                x=np.round(analysis.signals.t, 3),
                y=np.round(values, 1),
                name=side or wording.signal_name(name),
                mode="lines",
                connectgaps=False,
                line={"color": colour, "width": 2.2, "dash": _DASH[side]},
                hovertemplate="%{y:.0f}°" + spare_text + "<extra>" + (side or "") + "</extra>",
            )
        )
    _shade_phases(figure, analysis.review, colours, first)
    _set_layout(figure, colours, sides=len(figure.data))
    if np.isfinite(lowest):
        spare = 0.06 * (highest - lowest)
        figure.update_yaxes(range=list(wide_enough(lowest - spare, highest + spare)))
    if len(analysis.signals.t):
        figure.update_xaxes(range=[float(analysis.signals.t[0]), float(analysis.signals.t[-1])])
    return figure


def draw_rep_measures(
    review: Review, measure: str, *, limits: Sequence[tuple[str, float]] = (), dark: bool = False
) -> go.Figure | None:
    """A measure rep by rep with its margins as bars, left and right side by side; None without any value.

    Parameters
    ----------
    limits : (words, value in the measure's unit) drawn as lines across.
    """
    colours = get_palette(dark=dark)
    figure = go.Figure()
    shown: list[float] = []
    for side, shift, symbol in (("left", -0.12, "circle"), ("right", 0.12, "square"), (None, 0.0, "circle")):
        items = [m for m in review.measures if m.name == measure and m.side == side and m.rep and m.value is not None]
        if not items:
            continue
        colour = {"left": colours.left, "right": colours.right, None: colours.both}[side]
        shown += [float(item.value or 0.0) for item in items]
        figure.add_trace(
            go.Scatter(
                x=[(item.rep or 0) + shift for item in items],
                y=[item.value for item in items],
                error_y={"type": "data", "array": [item.margin or 0.0 for item in items], "thickness": 1.6, "width": 4},
                name=side or wording.measure_name(measure),
                mode="markers",
                marker={"color": colour, "size": 9, "symbol": symbol},
                hovertext=[wording.measure_text(item) for item in items],
                hovertemplate="%{hovertext}<extra>" + (side or "") + "</extra>",
            )
        )
    if not shown:
        return None
    for words, value in limits:
        figure.add_hline(
            y=value,
            line={"color": colours.muted, "dash": "dot", "width": 1.5},
            annotation={"text": words, "font": {"color": colours.muted, "size": 12}},
            annotation_position="bottom right",
        )
    _set_layout(figure, colours, sides=len(figure.data))
    figure.update_xaxes(
        title_text="rep", tickvals=[rep.number for rep in review.reps], range=[0.4, len(review.reps) + 0.6]
    )
    return figure


def _shade_phases(figure: go.Figure, review: Review, colours: Palette, first: First) -> None:
    shapes: list[dict[str, Any]] = []
    for rep in review.reps:
        shapes += [_draw_band(span, colours) for span in phase_spans(rep, first) if span.name in colours.phases]
        figure.add_annotation(
            x=(rep.start_s + rep.end_s) / 2,
            y=1.0,
            yref="paper",
            yanchor="bottom",
            text=f"{rep.number}" if rep.complete else f"({rep.number})",
            showarrow=False,
            font={"color": colours.muted, "size": 13},
        )
    figure.update_layout(shapes=shapes)


def _draw_band(span: PhaseSpan, colours: Palette) -> dict[str, Any]:
    return {
        "type": "rect",
        "xref": "x",
        "yref": "paper",
        "x0": span.start_s,
        "x1": span.end_s,
        "y0": 0,
        "y1": 1,
        "fillcolor": colours.phases[span.name],
        "line": {"width": 0},
        "layer": "below",
        "name": PHASE_WORDS[span.name],
    }


def style_figure(figure: go.Figure, colours: Palette, *, margin: dict[str, int]) -> None:
    """What all curves have in common; margins in pixels (l, r, t, b)."""
    figure.update_layout(
        height=250,
        margin=margin,
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"color": colours.text, "size": 13, "family": "'Source Sans', sans-serif"},
        hovermode="x",
        dragmode=False,
        showlegend=False,
        hoverlabel={"namelength": -1},
    )


def _set_layout(figure: go.Figure, colours: Palette, sides: int) -> None:
    style_figure(figure, colours, margin={"l": 44, "r": 8, "t": 24, "b": 40})
    axis = {"gridcolor": colours.grid, "zeroline": False, "color": colours.muted, "fixedrange": True}
    figure.update_xaxes(showgrid=False, title_text="seconds in the clip", title_standoff=6, **axis)
    figure.update_yaxes(ticksuffix="°" if sides else "", **axis)
