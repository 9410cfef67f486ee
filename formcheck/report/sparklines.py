"""Small line charts as SVG text, for reports in one file."""

from collections.abc import Callable, Sequence
from html import escape

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 720, 240, 68, 16, 16, 36
SCALE_IN_MARGINS = 3.0
"""The scale reaches at least so many margins to either side."""
COLOURS = ("var(--left)", "var(--right)")

DayValue = tuple[str, float | None, float]
"""Day, value (None: not measured), margin."""
RepValue = tuple[int, float, float, str]
"""Rep number, value, margin, the value with its margin as a reader sees it."""


def draw_days(points: Sequence[DayValue], unit: str) -> str:
    """A drawing of (day, value, margin) points with margin bars; empty when nothing was measured."""
    known = [(value - margin, value + margin) for _, value, margin in points if value is not None]
    if not known:
        return ""
    low, high = min(low for low, _ in known), max(high for _, high in known)
    pad = max((high - low) * 0.1, 1.0)
    low, high = max(low - pad, 0.0), high + pad
    step = (WIDTH - LEFT - RIGHT) / max(len(points), 1)

    def x(index: int) -> float:
        return LEFT + (index + 0.5) * step

    def y(value: float) -> float:
        return TOP + (high - value) / (high - low) * (HEIGHT - TOP - BOTTOM)

    spoken = ", ".join(f"{day} {round(value, 1):g}{unit}" for day, value, _ in points if value is not None)
    parts = [f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{spoken}">']
    for level in (low + pad, high - pad):
        parts.append(_draw_line((LEFT, WIDTH - RIGHT), (y(level), y(level)), "var(--line)"))
        parts.append(_draw_text(LEFT - 6, y(level) + 4, f"{level:.0f}", "end"))
    line = " ".join(f"{x(i):.1f},{y(value):.1f}" for i, (_, value, _) in enumerate(points) if value is not None)
    parts.append(f'<polyline points="{line}" fill="none" stroke="var(--both)" stroke-width="1.5"/>')
    for index, (day, value, margin) in enumerate(points):
        parts.append(_draw_text(x(index), HEIGHT - 10, day, "middle"))
        if value is None:
            continue
        if margin:
            parts.append(
                _draw_line((x(index), x(index)), (y(value - margin), y(value + margin)), "var(--hold)", width=6)
            )
        parts.append(f'<circle cx="{x(index):.1f}" cy="{y(value):.1f}" r="4" fill="var(--both)"/>')
    return "".join(parts) + "</svg>"


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
