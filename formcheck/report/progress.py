"""The course of one exercise over sessions as one HTML file that needs nothing else."""

from collections.abc import Sequence

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

import formcheck
from formcheck.exercises.registry import cautions, get_exercise
from formcheck.training.progress import Progress, SessionLine

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 720, 240, 48, 16, 16, 36
ADVICE_WORDS = {
    "stop": "Stop and have it looked at",
    "back_off": "A little lighter",
    "raise": "A little heavier",
    "hold": "Stay with it",
    "none": "No advice",
}


def render_progress(progress: Progress, client: str) -> str:
    """The report as text; every string of the store is escaped."""
    environment = Environment(
        loader=PackageLoader("formcheck.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    loader = environment.loader
    assert loader is not None
    exercise = get_exercise(progress.exercise_id)
    curves = [
        ("Range of motion, degrees", course_svg(_ranges(progress.sessions), "°")),
        ("Heaviest load, kg", course_svg(_loads(progress.sessions), " kg")),
    ]
    return environment.get_template("progress.html.j2").render(
        progress=progress,
        client=client,
        css=Markup(loader.get_source(environment, "report.css")[0]),  # our own file; nothing stored is in it
        # Built from numbers and days only.
        curves=[(title, Markup(svg)) for title, svg in curves if svg],
        advice_word=ADVICE_WORDS[progress.advice.kind],
        cautions=[cautions()[key].text for key in exercise.cautions],
        version=formcheck.__version__,
    )


Point = tuple[str, float | None, float]


def _ranges(sessions: Sequence[SessionLine]) -> list[Point]:
    return [(f"{line.day:%d.%m.}", line.range_deg, line.range_margin_deg or 0.0) for line in sessions]


def _loads(sessions: Sequence[SessionLine]) -> list[Point]:
    return [(f"{line.day:%d.%m.}", line.load_kg, 0.0) for line in sessions]


def course_svg(points: Sequence[Point], unit: str) -> str:
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

    said = ", ".join(f"{day} {round(value, 1):g}{unit}" for day, value, _ in points if value is not None)
    parts = [f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{said}">']
    for level in (low + pad, high - pad):
        parts.append(_line((LEFT, WIDTH - RIGHT), (y(level), y(level)), "var(--line)"))
        parts.append(_text(LEFT - 6, y(level) + 4, f"{level:.0f}", "end"))
    line = " ".join(f"{x(i):.1f},{y(value):.1f}" for i, (_, value, _) in enumerate(points) if value is not None)
    parts.append(f'<polyline points="{line}" fill="none" stroke="var(--both)" stroke-width="1.5"/>')
    for index, (day, value, margin) in enumerate(points):
        parts.append(_text(x(index), HEIGHT - 10, day, "middle"))
        if value is None:
            continue
        if margin:
            parts.append(_line((x(index), x(index)), (y(value - margin), y(value + margin)), "var(--hold)", width=6))
        parts.append(f'<circle cx="{x(index):.1f}" cy="{y(value):.1f}" r="4" fill="var(--both)"/>')
    return "".join(parts) + "</svg>"


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="var(--muted)" font-size="13">{text}</text>'


def _line(x: tuple[float, float], y: tuple[float, float], colour: str, width: float = 1) -> str:
    ends = f'x1="{x[0]:.1f}" x2="{x[1]:.1f}" y1="{y[0]:.1f}" y2="{y[1]:.1f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width:g}"/>'
