"""Chart of the cue's measure from rep to rep: margins as bars, the target shaded, where it breaks down marked."""

from typing import Any

import plotly.graph_objects as go

from formcheck.core.model import Grade
from formcheck.core.vocabulary.numbers import PERCENT
from formcheck.report.cue_trend import CueTrend
from formcheck.web.charts.palette import AXIS_SUFFIX, Palette, get_palette, style_figure

MARK_HEIGHT = 22
"""Room above for the name of the rep that is marked."""
_SYMBOLS: dict[Grade, str] = {
    "met": "circle",
    "probably_met": "circle-open",
    "close": "square-open",
    "probably_not_met": "diamond-open",
    "not_met": "diamond",
}
"""Filled where it is sure, as the marks beside the grades are."""


def draw_trend(trend: CueTrend, *, dark: bool = False) -> go.Figure:
    """The chart; the name of its x axis begins with "rep", by which the player knows what a click means."""
    palette, check = get_palette(dark=dark), trend.check
    low, high = _find_range(trend)
    figure = go.Figure(
        [
            go.Scatter(
                x=[item.rep for item in line],
                y=[item.value for item in line],
                mode="lines",
                line={"color": palette.grid, "width": 2},
                hoverinfo="skip",
            )
            for line in trend.lines
        ]
    )
    for item in trend.values:
        colour = palette.of_grade(item.grade)
        figure.add_scatter(
            x=[item.rep],
            y=[item.value],
            error_y={"type": "data", "array": [item.margin], "thickness": 1.8, "width": 4, "color": colour},
            mode="markers",
            marker={"color": colour, "size": 11, "symbol": _SYMBOLS[item.grade], "line": {"width": 2, "color": colour}},
            hovertemplate=f"rep {item.rep}: {item.text}<extra></extra>",
        )
    inside = (check.limit, high) if check.at_least is not None else (low, check.limit)
    figure.add_hrect(y0=inside[0], y1=inside[1], fillcolor=palette.target, line_width=0, layer="below")
    figure.add_hline(y=check.limit, line={"color": palette.met, "dash": "dash", "width": 1.5}, layer="below")
    reps = [item.rep for item in trend.values]
    turn = trend.turn if trend.turn is not None and trend.turn > reps[0] else None
    top = MARK_HEIGHT if turn is not None else 4
    if turn is not None:
        _mark_turn(figure, palette, turn, to_the_left=turn > (reps[0] + reps[-1]) / 2)
    percent: dict[str, Any] = {"tickformat": ".0%"} if check.measure in PERCENT else {}
    style_figure(
        figure,
        palette,
        x={"title_text": trend.axis, "title_standoff": 2, "tickvals": reps, "range": [reps[0] - 0.5, reps[-1] + 0.5]},
        y={"range": [low, high], "ticksuffix": AXIS_SUFFIX.get(check.unit, ""), "nticks": 5, **percent},
        height=148 + top,
        margin={"l": 44, "r": 8, "t": top, "b": 34},
        hovermode="closest",
    )
    return figure


def _mark_turn(figure: go.Figure, palette: Palette, rep: int, *, to_the_left: bool) -> None:
    """The line before the rep from which on it is otherwise, with its name above the chart."""
    figure.add_vline(x=rep - 0.5, line={"color": palette.not_met, "dash": "dot", "width": 2})
    figure.add_annotation(
        x=rep - 0.5, y=1, yref="paper", yanchor="bottom", xanchor="right" if to_the_left else "left",
        text=f"from rep {rep}", showarrow=False, font={"color": palette.not_met, "size": 13},
    )  # fmt: skip


def _find_range(trend: CueTrend) -> tuple[float, float]:
    """Limits of the axis: never so fine a scale that mere error of measurement looks like a change."""
    lows, highs = [x.value - x.margin for x in trend.values], [x.value + x.margin for x in trend.values]
    low, high = min(*lows, trend.check.limit), max(*highs, trend.check.limit)
    spare = max((high - low) * 0.08, max(item.margin for item in trend.values) / 2)
    return (max(low - spare, 0.0) if min(item.value for item in trend.values) >= 0 else low - spare), high + spare
