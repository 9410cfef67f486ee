"""Small line charts as SVG text, for reports in one file."""

from collections.abc import Callable, Mapping, Sequence
from html import escape

from formcheck.core.model import Side

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 720, 240, 68, 16, 16, 36
NAME_ROOM, NAME_HEIGHT = 60, 16
"""Room at the right for the names of the arms, and what one of them is high."""
SCALE_IN_MARGINS = 3.0
"""The scale reaches at least so many margins to either side."""
COLOURS = ("var(--left)", "var(--right)")

DayValue = tuple[str, float | None, float]
"""Day, value (None: not measured), margin."""
RepValue = tuple[int, float, float, str]
"""Rep number, value, margin, the value with its margin as a reader sees it."""


def draw_days(lines: Mapping[Side | None, Sequence[DayValue]], unit: str) -> str:
    """A drawing of (day, value, margin) points with margin bars; empty when nothing was measured.

    The left arm's line has round marks, the right arm's square ones and is broken; each ends with its arm's name.

    Parameters
    ----------
    lines : of each arm, or under None of both, a point for every day.
    """
    known = [
        (value - margin, value + margin) for one in lines.values() for _, value, margin in one if value is not None
    ]
    if not known:
        return ""
    low, high = min(low for low, _ in known), max(high for _, high in known)
    pad = max((high - low) * 0.1, 1.0)
    low, high = max(low - pad, 0.0), high + pad
    days = [day for day, _, _ in next(iter(lines.values()))]
    right = RIGHT if None in lines else NAME_ROOM
    step = (WIDTH - LEFT - right) / max(len(days), 1)

    def y(value: float) -> float:
        return TOP + (high - value) / (high - low) * (HEIGHT - TOP - BOTTOM)

    parts = [f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{_describe_days(lines, unit)}">']
    for level in (low + pad, high - pad):
        parts.append(_draw_line((LEFT, WIDTH - right), (y(level), y(level)), "var(--line)"))
        parts.append(_draw_text(LEFT - 6, y(level) + 4, f"{level:.0f}", "end"))
    parts += [_draw_text(LEFT + (index + 0.5) * step, HEIGHT - 10, day, "middle") for index, day in enumerate(days)]
    names = {}
    for place, (side, points) in enumerate(lines.items()):
        colour = "var(--both)" if side is None else f"var(--{side})"
        outermost = (len(lines) - 1) * 0.05 * step
        beside = LEFT + 0.5 * step - outermost + place * 0.1 * step
        drawn = [
            (beside + index * step, value, margin, day)
            for index, (day, value, margin) in enumerate(points)
            if value is not None
        ]
        for x, value, margin, _ in drawn:
            if margin:
                parts.append(_draw_line((x, x), (y(value - margin), y(value + margin)), "var(--hold)", width=6))
        line = " ".join(f"{x:.1f},{y(value):.1f}" for x, value, _, _ in drawn)
        dashes = ' stroke-dasharray="6 4"' if side == "right" else ""
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="1.5"{dashes}/>')
        for x, value, _, day in drawn:
            title = f"{day}{f', {side}' if side else ''}: {round(value, 1):g}{unit}"
            parts.append(_mark(x, y(value), colour, square=side == "right", title=title))
        if side is not None and drawn:
            # Beyond the marks of both arms.
            names[side] = (drawn[-1][0] - place * 0.1 * step + 2 * outermost + 12, y(drawn[-1][1]) + 4)
    apart = _keep_apart({side: at for side, (_, at) in names.items()})
    parts += [_draw_text(x, apart[side], side, "start") for side, (x, _) in names.items()]
    return "".join(parts) + "</svg>"


def _describe_days(lines: Mapping[Side | None, Sequence[DayValue]], unit: str) -> str:
    """What a drawing over the days shows, for someone who does not see it."""
    spoken = [
        (side, ", ".join(f"{day} {round(value, 1):g}{unit}" for day, value, _ in points if value is not None))
        for side, points in lines.items()
    ]
    return "; ".join(f"{side}: {values}" if side else values for side, values in spoken)


def _keep_apart(heights: Mapping[Side, float]) -> dict[Side, float]:
    """The heights of one or two names, moved until neither covers the other."""
    if len(heights) < 2 or abs(heights["left"] - heights["right"]) >= NAME_HEIGHT:
        return dict(heights)
    middle = (heights["left"] + heights["right"]) / 2
    up: Side = "left" if heights["left"] <= heights["right"] else "right"
    return {side: middle + (-0.5 if side == up else 0.5) * NAME_HEIGHT for side in heights}


def draw_reps(sets: Sequence[Sequence[RepValue]], labels: Sequence[str], level_text: Callable[[float], str]) -> str:
    """A drawing of one measure over the rep numbers: the first set in round marks, the second in square ones.

    The scale is never so fine that mere error of measurement looks like a change.

    Parameters
    ----------
    sets : one or two series, each of at least one value.
    labels : what to call each of them.
    level_text : a value of the scale as a reader sees it.
    """
    values = [value for one in sets for _, value, _, _ in one]
    numbers = sorted({rep for one in sets for rep, _, _, _ in one})
    widest = max(margin for one in sets for _, _, margin, _ in one)
    middle = (max(values) + min(values)) / 2
    half = max((max(values) - min(values)) / 2 + widest, SCALE_IN_MARGINS * widest, 1e-3) * 1.08
    low, high = middle - half, middle + half
    first, last = numbers[0] - 0.5, numbers[-1] + 0.5

    def x(rep: float) -> float:
        return LEFT + (rep - first) / (last - first) * (WIDTH - LEFT - RIGHT)

    def y(value: float) -> float:
        return TOP + (high - value) / (high - low) * (HEIGHT - TOP - BOTTOM)

    spoken = "; ".join(
        f"{label}: " + ", ".join(f"rep {rep} {text}" for rep, _, _, text in one)
        for label, one in zip(labels, sets, strict=True)
    )
    parts = [f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(spoken)}">']
    for level in (middle - half / 1.5, middle, middle + half / 1.5):
        parts.append(_draw_line((LEFT, WIDTH - RIGHT), (y(level), y(level)), "var(--line)"))
        parts.append(_draw_text(LEFT - 6, y(level) + 4, escape(level_text(level)), "end"))
    for index, one in enumerate(sets):
        colour = COLOURS[index] if len(sets) > 1 else "var(--both)"
        beside = (index - (len(sets) - 1) / 2) * 0.16
        for rep, value, margin, _ in one:
            ends = (x(rep + beside), x(rep + beside)), (y(value - margin), y(value + margin))
            parts.append(_draw_line(*ends, "var(--hold)", width=5))
        line = " ".join(f"{x(rep + beside):.1f},{y(value):.1f}" for rep, value, _, _ in one)
        dashes = ' stroke-dasharray="6 4"' if index else ""
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="1.5"{dashes}/>')
        for rep, value, _, text in one:
            parts.append(_mark(x(rep + beside), y(value), colour, square=index > 0, title=f"rep {rep}: {text}"))
    parts += [_draw_text(x(rep), HEIGHT - 12, str(rep), "middle") for rep in numbers]
    return "".join(parts) + "</svg>"


def _mark(x: float, y: float, colour: str, *, square: bool, title: str) -> str:
    tip = f"<title>{escape(title)}</title>"
    if square:
        return f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" fill="{colour}">{tip}</rect>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" fill="{colour}">{tip}</circle>'


def _draw_text(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="var(--muted)" font-size="13">{text}</text>'


def _draw_line(x: tuple[float, float], y: tuple[float, float], colour: str, width: float = 1) -> str:
    ends = f'x1="{x[0]:.1f}" x2="{x[1]:.1f}" y1="{y[0]:.1f}" y2="{y[1]:.1f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width:g}"/>'
