"""Charts of one exercise over sessions as pure functions, and what differs from the session before."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import plotly.graph_objects as go

from formcheck.coaching.advice import TrainedSession
from formcheck.coaching.plan_adherence import RANGE_MEASURES, median_value
from formcheck.report import wording
from formcheck.web.charts.angle_curves import Palette, get_palette

_CROWDED = 30
"""More sessions than that leave little room for each."""
_MONTHS_TOLD = 300
"""Over more days than that months are told with their years."""


@dataclass(frozen=True, slots=True)
class SessionValue:
    """One session's number."""

    day: date
    value: float
    margin: float | None
    """Half-width of the 95 % interval; None for what is known exactly, such as the load."""


@dataclass(frozen=True, slots=True)
class MeasureHistory:
    """One number from session to session, the oldest first; sessions without it are left out."""

    title: str
    unit: str
    points: tuple[SessionValue, ...]

    def changes(self) -> tuple[int, ...]:
        """-1, 0 or 1 for each point: clearly below, not clearly other, clearly above the one before.

        Clearly: the margins of both do not reach each other. What is known exactly needs no such mark.
        """
        told = [0] * min(1, len(self.points))
        for before, after in zip(self.points, self.points[1:], strict=False):
            away = after.value - before.value
            clear = None not in (before.margin, after.margin) and abs(away) > (before.margin or 0) + (after.margin or 0)
            told.append((1 if away > 0 else -1) if clear else 0)
        return tuple(told)

    def text(self, point: SessionValue) -> str:
        """A value with its margin."""
        if self.unit in ("kg", "reps"):
            return f"{point.value:g} {self.unit}"
        return wording.with_margin(point.value, point.margin, self.unit)

    def spoken(self) -> str:
        """The course in words, for those who do not see the chart; of a long one the ends and what clearly changed."""
        words = {-1: ", clearly less than before", 0: "", 1: ", clearly more than before"}
        told = list(zip(self.points, self.changes(), strict=True))
        long = len(told) > _CROWDED
        if long:
            told = [told[0], *(item for item in told[1:-1] if item[1]), told[-1]]
        day = "%d %B %Y" if long else "%d %B"
        parts = [f"{point.day:{day}} {self.text(point)}{words[change]}" for point, change in told]
        return f"{self.title}{f', {len(self.points)} sessions' if long else ''}: {'; '.join(parts)}"


def collect_histories(sessions: Sequence[TrainedSession], set_number: int) -> tuple[MeasureHistory, ...]:
    """Range, lifting, lowering and reps of one set and the heaviest load, over sessions; those never measured left out.

    Parameters
    ----------
    sessions : of one client and exercise, the oldest first.
    set_number : which set of each session, from 1.
    """
    measured = (
        ("Range of motion", "deg", RANGE_MEASURES),
        ("Lifting time", "s", ("concentric_time",)),
        ("Lowering time", "s", ("eccentric_time",)),
    )
    followed = [(one.day, one.sets[set_number - 1].review) for one in sessions if len(one.sets) >= set_number]
    found = []
    for title, unit, names in measured:
        values = [(day, *median_value(review, names)) for day, review in followed]
        points = tuple(SessionValue(day, value, margin) for day, value, margin in values if value is not None)
        found.append(MeasureHistory(title, unit, points))
    loads = [
        SessionValue(one.day, max(known), None)
        for one in sessions
        if (known := [item.review.set_info.load_kg for item in one.sets if item.review.set_info.load_kg is not None])
    ]
    reps = tuple(SessionValue(day, sum(rep.complete for rep in review.reps), None) for day, review in followed)
    found += [MeasureHistory("Heaviest load", "kg", tuple(loads)), MeasureHistory("Complete reps", "reps", reps)]
    return tuple(item for item in found if item.points)


def draw_history(history: MeasureHistory, *, dark: bool = False) -> go.Figure:
    """The course with its margins; what differs clearly from the session before has a marked point and a word."""
    colours = get_palette(dark=dark)
    changes = history.changes()
    small = len(history.points) > _CROWDED
    figure = go.Figure(
        go.Scatter(
            x=[point.day for point in history.points],
            y=[point.value for point in history.points],
            error_y={
                "type": "data",
                "array": [point.margin or 0.0 for point in history.points],
                "visible": any(point.margin for point in history.points),
                "thickness": 0.8 if small else 1.8,
                "width": 0 if small else 5,
                "color": colours.both,
            },
            mode="lines+markers",
            line={"color": colours.muted, "width": 1.4, "shape": "hv" if history.unit == "kg" else "linear"},
            marker={
                "size": [(9 if small else 13) if change else (4 if small else 9) for change in changes],
                "symbol": ["diamond" if change else "circle" for change in changes],
                "color": [colours.right if change else colours.left for change in changes],
            },
            hovertext=[history.text(point) for point in history.points],
            hovertemplate="%{x|%d %b %Y}: %{hovertext}<extra></extra>",
        )
    )
    for point, change in zip(history.points, changes, strict=True):
        if change:
            figure.add_annotation(
                x=point.day,
                y=point.value + (point.margin or 0.0) if change > 0 else point.value - (point.margin or 0.0),
                text="more" if change > 0 else "less",
                showarrow=False,
                yshift=12 if change > 0 else -12,
                font={"color": colours.right, "size": 13},
            )
    _set_layout(figure, history, colours)
    return figure


def _set_layout(figure: go.Figure, history: MeasureHistory, colours: Palette) -> None:
    low = min(point.value - (point.margin or 0.0) for point in history.points)
    high = max(point.value + (point.margin or 0.0) for point in history.points)
    # Never so near that a tremor looks like a fall.
    least = {"deg": 30.0, "s": 1.0, "kg": 2.0, "reps": 6.0}[history.unit]
    spare = max(least - (high - low), 0.25 * (high - low)) / 2
    figure.update_layout(
        height=210,
        margin={"l": 48, "r": 12, "t": 12, "b": 28},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"color": colours.text, "size": 13, "family": "'Source Sans', sans-serif"},
        dragmode=False,
        showlegend=False,
    )
    axis = {"zeroline": False, "color": colours.muted, "fixedrange": True}
    days = [point.day for point in history.points]
    few = days if len(days) <= 4 else [days[0], days[len(days) // 3], days[2 * len(days) // 3], days[-1]]
    months = (days[-1] - days[0]).days > _MONTHS_TOLD
    figure.update_xaxes(showgrid=False, tickvals=few, tickformat="%b %Y" if months else "%d %b", **axis)
    figure.update_yaxes(
        gridcolor=colours.grid,
        nticks=5,
        ticksuffix={"deg": "°", "s": " s", "kg": " kg", "reps": ""}[history.unit],
        range=[max(low - spare, 0.0), high + spare],
        **axis,
    )
