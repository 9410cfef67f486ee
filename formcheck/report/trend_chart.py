"""Draws the cue's measure rep by rep: margins as bars, the target shaded, verdicts told by colour and shape."""

from typing import TYPE_CHECKING

from formcheck.core.model import Grade
from formcheck.core.vocabulary.numbers import PERCENT, format_number
from formcheck.report.cue_trend import CueTrend
from formcheck.report.figures import COLOURS, Shape, draw_chart
from formcheck.report.words import WORDS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_BY_NAME = {name: colour for colour, name in COLOURS.items()}
_MUTED, _LINE, _INK = (_BY_NAME[f"var(--{name})"] for name in ("muted", "line", "both"))
_TARGET = _BY_NAME["var(--met-soft)"]
_MET, _CHANGE, _UNSURE = (_BY_NAME[f"var(--{name})"] for name in ("met", "change", "unsure"))
_MARKS: dict[Grade, tuple[str, str, bool]] = {
    "met": (_MET, "o", True),
    "probably_met": (_MET, "o", False),
    "close": (_UNSURE, "s", False),
    "probably_not_met": (_CHANGE, "D", False),
    "not_met": (_CHANGE, "D", True),
}
"""Colour, shape and whether it is filled, as the report's signs beside the grades are."""
_SIZES: dict[Shape, tuple[float, float]] = {"wide": (8.6, 2.4), "narrow": (4.0, 2.5), "paper": (4.1, 2.5)}


def draw_trend(trend: CueTrend, shape: Shape) -> str:
    """The chart as HTML (`formcheck.report.figures.draw_chart`)."""
    alt, size = describe_trend(trend), _SIZES[shape]
    return draw_chart(lambda axes: _draw(axes, trend), shape, f"trend-{shape}", alt, size=size)


def describe_trend(trend: CueTrend) -> str:
    """What the chart shows, for someone who does not see it."""
    values = ", ".join(f"rep {item.rep} {item.text}" for item in trend.values)
    return WORDS["trend"]["alt"].format(name=trend.name, target=trend.target, values=values)


def _draw(axes: "Axes", trend: CueTrend) -> None:
    check, reps = trend.check, [item.rep for item in trend.values]
    lows, highs = [x.value - x.margin for x in trend.values], [x.value + x.margin for x in trend.values]
    low, high = min(*lows, check.limit), max(*highs, check.limit)
    # Never so fine a scale that mere error of measurement looks like a change.
    spare = max((high - low) * 0.12, max(item.margin for item in trend.values))
    low, high = low - spare, high + spare
    if check.limit >= 0 and all(item.value >= 0 for item in trend.values):
        low = max(low, 0.0)
    axes.set_ylim(low, high)
    axes.set_xlim(reps[0] - 0.6, reps[-1] + 0.6)
    inside = (check.limit, high) if check.at_least is not None else (low, check.limit)
    axes.axhspan(*inside, color=_TARGET, linewidth=0, zorder=0)
    axes.axhline(check.limit, color=_MET, linewidth=1.2, linestyle=(0, (5, 3)), zorder=1)
    if trend.turn is not None and trend.turn > reps[0]:
        axes.axvline(trend.turn - 0.5, color=_CHANGE, linewidth=1.2, linestyle=(0, (1, 2)), zorder=1)
        across = "right" if trend.turn > (reps[0] + reps[-1]) / 2 else "left"
        axes.annotate(
            f" from rep {trend.turn} ", (trend.turn - 0.5, 1.0), xycoords=("data", "axes fraction"), ha=across,
            va="bottom", color=_CHANGE,
        )  # fmt: skip
    for line in trend.lines:
        axes.plot([item.rep for item in line], [item.value for item in line], color=_LINE, linewidth=1.4, zorder=2)
    for item in trend.values:
        colour, shape, filled = _MARKS[item.grade]
        axes.errorbar(item.rep, item.value, yerr=item.margin, color=colour, elinewidth=1.4, capsize=2.5, zorder=3)
        axes.plot(
            item.rep, item.value, shape, color=colour, markersize=6.5, markerfacecolor=colour if filled else "white",
            markeredgewidth=1.5, zorder=4,
        )  # fmt: skip
    every = 1 if len(reps) <= 12 else 2
    axes.set_xticks(reps[::every])
    axes.set_xlabel(trend.axis, color=_MUTED)
    axes.yaxis.set_major_formatter(
        lambda value, _: format_number(value, check.unit, percent=check.measure in PERCENT).replace("\u00a0", " ")
    )
    axes.locator_params(axis="y", nbins=4)
    axes.tick_params(colors=_MUTED, length=0)
    for edge, spine in axes.spines.items():
        spine.set_visible(edge == "bottom")
        spine.set_color(_LINE)
