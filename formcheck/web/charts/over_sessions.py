"""Charts of one exercise over sessions, and what clearly differs from the session before."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import plotly.graph_objects as go

from formcheck.coaching.advice import TrainedSession
from formcheck.coaching.plan_adherence import RANGE_MEASURES, compute_median
from formcheck.report import wording
from formcheck.web.charts.palette import get_palette, style_figure

_CROWDED = 30
"""More sessions than that leave little room for each."""
_LONG = timedelta(days=300)
"""Over more days than that a date has its year."""
_MEASURED = (
    ("Range of motion", "deg", RANGE_MEASURES),
    ("Lifting time", "s", ("concentric_time",)),
    ("Lowering time", "s", ("eccentric_time",)),
)
"""Title, unit, measures of which the first known one counts."""


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
        changes = [0] * min(1, len(self.points))
        for before, after in pairwise(self.points):
            difference = after.value - before.value
            known = before.margin is not None and after.margin is not None
            clear = known and abs(difference) > (before.margin or 0) + (after.margin or 0)
            changes.append((1 if difference > 0 else -1) if clear else 0)
        return tuple(changes)

    def format_value(self, point: SessionValue) -> str:
        """A value with its margin."""
        if self.unit in ("kg", "reps"):
            return f"{point.value:g} {self.unit}"
        return wording.format_with_margin(point.value, point.margin, self.unit)

    def describe(self) -> str:
        """The chart in words, for those who do not see it; of a long one the ends and what clearly changed."""
        words = {-1: ", clearly less than before", 0: "", 1: ", clearly more than before"}
        points = list(zip(self.points, self.changes(), strict=True))
        count = ""
        if len(points) > _CROWDED:
            count = f", {len(points)} sessions"
            points = [points[0], *(item for item in points[1:-1] if item[1]), points[-1]]
        parts = [
            f"{wording.format_day(point.day)} {self.format_value(point)}{words[change]}" for point, change in points
        ]
        return f"{self.title}{count}: {'; '.join(parts)}"


def collect_histories(sessions: Sequence[TrainedSession], set_number: int) -> tuple[MeasureHistory, ...]:
    """Range, lifting, lowering and reps of one set and the heaviest load; those never measured are left out.

    Parameters
    ----------
    sessions : of one client and exercise, the oldest first.
    set_number : which set of each session, from 1.
    """
    reviews = [(one.day, one.sets[set_number - 1].review) for one in sessions if len(one.sets) >= set_number]
    histories = []
    for title, unit, names in _MEASURED:
        values = [(day, *compute_median(review, names)) for day, review in reviews]
        points = tuple(SessionValue(day, value, margin) for day, value, margin in values if value is not None)
        histories.append(MeasureHistory(title, unit, points))
    loads = [(one.day, [item.review.set_info.load_kg for item in one.sets]) for one in sessions]
    known = [(day, [load for load in kilograms if load is not None]) for day, kilograms in loads]
    heaviest = tuple(SessionValue(day, max(kilograms), None) for day, kilograms in known if kilograms)
    reps = tuple(SessionValue(day, review.complete_reps, None) for day, review in reviews)
    histories += [MeasureHistory("Heaviest load", "kg", heaviest), MeasureHistory("Complete reps", "reps", reps)]
    return tuple(item for item in histories if item.points)


def draw_history(history: MeasureHistory, *, dark: bool = False) -> go.Figure:
    """The number over the days with its margins; what clearly differs from the session before is marked and named."""
    palette, points, changes = get_palette(dark=dark), history.points, history.changes()
    small, margins = len(points) > _CROWDED, [point.margin or 0.0 for point in points]
    figure = go.Figure(
        go.Scatter(
            x=[point.day for point in points],
            y=[point.value for point in points],
            error_y={
                "type": "data",
                "array": margins,
                "visible": any(margins),
                "thickness": 0.8 if small else 1.8,
                "width": 0 if small else 5,
                "color": palette.both,
            },
            mode="lines+markers",
            line={"color": palette.muted, "width": 1.4, "shape": "hv" if history.unit == "kg" else "linear"},
            marker={
                "size": [(9 if small else 13) if change else (4 if small else 9) for change in changes],
                "symbol": ["diamond" if change else "circle" for change in changes],
                "color": [palette.right if change else palette.left for change in changes],
            },
            hovertext=[history.format_value(point) for point in points],
            hovertemplate="%{x|%-d %b %Y}: %{hovertext}<extra></extra>",
        )
    )
    low = min(point.value - margin for point, margin in zip(points, margins, strict=True))
    high = max(point.value + margin for point, margin in zip(points, margins, strict=True))
    # Never so near that a tremor looks like a fall.
    least, suffix = {"deg": (30.0, "°"), "s": (1.0, " s"), "kg": (2.0, " kg"), "reps": (6.0, "")}[history.unit]
    room = max(least - (high - low), 0.25 * (high - low)) / 2
    days = [point.day for point in points]
    ticks = days if len(days) <= 4 else [days[0], days[len(days) // 3], days[2 * len(days) // 3], days[-1]]
    with_year = days[-1] - days[0] > _LONG
    style = {"showarrow": False, "font": {"color": palette.right, "size": 13}}
    style_figure(
        figure,
        palette,
        x={"tickvals": ticks, "tickformat": "%b %Y" if with_year else "%-d %b"},
        y={"nticks": 5, "ticksuffix": suffix, "range": [max(low - room, 0.0), high + room]},
        height=210,
        margin={"l": 48, "r": 12, "t": 12, "b": 28},
        annotations=[
            {**style, "x": point.day, "y": point.value + change * margin, "yshift": 12 * change}
            | {"text": "more" if change > 0 else "less"}
            for point, margin, change in zip(points, margins, changes, strict=True)
            if change
        ],
    )
    return figure
