"""Charts of one exercise over sessions, and what clearly differs from the session before."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import plotly.graph_objects as go

from formcheck.coaching.advice import TrainedSession
from formcheck.coaching.plan_adherence import RANGE_MEASURES
from formcheck.coaching.progress import find_arm_median, list_arms, list_followed
from formcheck.core.model import Review, Side
from formcheck.report import wording
from formcheck.statistics.rep_series import take_side
from formcheck.web.charts.palette import Palette, get_palette, style_figure

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
    side: Side | None = None
    """The arm whose number it is; None: of both."""

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
        return f"{self.title}{f', {self.side}' if self.side else ''}{count}: {'; '.join(parts)}"


Chart = tuple[MeasureHistory, ...]
"""What is drawn into one chart: one number, or that of the left and that of the right."""


def collect_charts(sessions: Sequence[TrainedSession], set_number: int) -> tuple[Chart, ...]:
    """Range, lifting, lowering and reps of one set and the heaviest load; those never measured are left out.

    Where a set is done with one arm at a time, each arm has its own line; the other arm's set of the session, where
    each has one of its own, is part of it.

    Parameters
    ----------
    sessions : of one client and exercise, the oldest first.
    set_number : which set of each session, from 1.
    """
    followed = [(one.day, found) for one in sessions if (found := list_followed(one, set_number))]
    sides = list_arms([reviews for _, reviews in followed])
    charts = [
        tuple(MeasureHistory(title, unit, _list_medians(followed, names, side), side) for side in sides)
        for title, unit, names in _MEASURED
    ]
    loads = [(one.day, [item.review.set_info.load_kg for item in one.sets]) for one in sessions]
    known = [(day, [load for load in kilograms if load is not None]) for day, kilograms in loads]
    heaviest = tuple(SessionValue(day, max(kilograms), None) for day, kilograms in known if kilograms)
    charts.append((MeasureHistory("Heaviest load", "kg", heaviest),))
    charts.append(tuple(MeasureHistory("Complete reps", "reps", _count_reps(followed, side), side) for side in sides))
    drawn = [tuple(item for item in chart if item.points) for chart in charts]
    return tuple(chart for chart in drawn if chart)


Followed = Sequence[tuple[date, Sequence[Review]]]
"""Day of a session, and the set that is followed, with the other arm's own where each arm has one."""


def _list_medians(followed: Followed, names: Sequence[str], side: Side | None) -> tuple[SessionValue, ...]:
    """Of an arm the reps it makes, alone or with the other; None: all reps of the followed set."""
    found = [(day, *find_arm_median(reviews, names, side)) for day, reviews in followed]
    return tuple(SessionValue(day, value, margin) for day, value, margin in found if value is not None)


def _count_reps(followed: Followed, side: Side | None) -> tuple[SessionValue, ...]:
    """Complete reps; of an arm those it makes alone or with the other, of a session in which it makes none left out."""
    counted = []
    for day, reviews in followed:
        mine = reviews[:1] if side is None else [take_side(review, side) for review in reviews]
        counted.append((day, sum(review.complete_reps for review in mine)))
    return tuple(SessionValue(day, count, None) for day, count in counted if side is None or count)


def draw_history(chart: Chart, *, dark: bool = False) -> go.Figure:
    """The numbers over the days with their margins; what clearly differs from the session before is marked and named.

    Left and right are told apart by colour, shape and a word at the end of each line.
    """
    palette = get_palette(dark=dark)
    figure = go.Figure([_draw_line(history, palette) for history in chart])
    ends = [
        point.value + sign * (point.margin or 0.0) for item in chart for point in item.points for sign in (-1.0, 1.0)
    ]
    low, high = min(ends), max(ends)
    unit = chart[0].unit
    # Never so near that a tremor looks like a fall.
    least, suffix = {"deg": (30.0, "°"), "s": (1.0, " s"), "kg": (2.0, " kg"), "reps": (6.0, "")}[unit]
    room = max(least - (high - low), 0.25 * (high - low)) / 2
    days = sorted({point.day for item in chart for point in item.points})
    ticks = days if len(days) <= 4 else [days[0], days[len(days) // 3], days[2 * len(days) // 3], days[-1]]
    with_year = days[-1] - days[0] > _LONG
    style_figure(
        figure,
        palette,
        x={"tickvals": ticks, "tickformat": "%b %Y" if with_year else "%-d %b"},
        y={"nticks": 5, "ticksuffix": suffix, "range": [max(low - room, 0.0), high + room]},
        height=210,
        margin={"l": 48, "r": 12 if len(chart) == 1 else 48, "t": 12, "b": 28},
        annotations=[note for item in chart for note in _make_notes(item, chart, palette)],
    )
    return figure


def _draw_line(history: MeasureHistory, palette: Palette) -> go.Scatter:
    points, changes = history.points, history.changes()
    small, margins = len(points) > _CROWDED, [point.margin or 0.0 for point in points]
    own = None if history.side is None else _get_colour(history.side, palette)
    plain = "square" if history.side == "right" else "circle"
    return go.Scatter(
        x=[point.day for point in points],
        y=[point.value for point in points],
        error_y={
            "type": "data",
            "array": margins,
            "visible": any(margins),
            "thickness": 0.8 if small else 1.8,
            "width": 0 if small else 5,
            "color": own or palette.both,
        },
        mode="lines+markers",
        line={"color": own or palette.muted, "width": 1.4, "shape": "hv" if history.unit == "kg" else "linear"},
        marker={
            "size": [(9 if small else 13) if change else (4 if small else 9) for change in changes],
            "symbol": ["diamond" if change else plain for change in changes],
            "color": [own or (palette.right if change else palette.left) for change in changes],
        },
        hovertext=[history.format_value(point) for point in points],
        hovertemplate=f"%{{x|%-d %b %Y}}{f', {history.side}' if history.side else ''}: %{{hovertext}}<extra></extra>",
    )


def _make_notes(history: MeasureHistory, chart: Chart, palette: Palette) -> Iterator[dict[str, object]]:
    """The words beside a line: what is clearly more or less, and at its end which arm it is of."""
    colour = palette.right if history.side is None else _get_colour(history.side, palette)
    style = {"showarrow": False, "font": {"color": colour, "size": 13}}
    for point, change in zip(history.points, history.changes(), strict=True):
        if change:
            at = point.value + change * (point.margin or 0.0)
            yield {**style, "x": point.day, "y": at, "yshift": 12 * change, "text": "more" if change > 0 else "less"}
    if history.side is not None:
        last = history.points[-1]
        others = [item.points[-1].value for item in chart if item is not history]
        above = last.value > max(others) or (last.value == max(others) and history.side == "left") if others else None
        shift = {True: 8, False: -8, None: 0}[above]
        yield {**style, "x": last.day, "y": last.value, "xanchor": "left", "xshift": 9, "yshift": shift} | {
            "text": history.side
        }


def _get_colour(side: Side, palette: Palette) -> str:
    return palette.left if side == "left" else palette.right
