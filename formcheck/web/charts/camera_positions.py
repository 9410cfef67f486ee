"""Pictures of where to put the phone, drawn from an exercise's data; pure functions that give SVG text."""

import base64
from dataclasses import dataclass
from html import escape

from formcheck.exercises.schema import Exercise
from formcheck.web.charts.stick_figure import Arms, Figure, Point, make_frontal, make_profile

BODY_M = 1.75
"""A middling height, for the numbers beside the pictures."""


@dataclass(frozen=True, slots=True)
class DrawingColours:
    """Colours of one theme."""

    line: str
    body: str
    phone: str
    cone: str
    soft: str
    ground: str


LIGHT_INK = DrawingColours("#50616a", "#0f1a20", "#0a5c73", "#cfe3ea", "#c9d3d8", "#ffffff")
DARK_INK = DrawingColours("#a3b1b8", "#e6ebed", "#74c7dc", "#1e3e4a", "#33414a", "#171f24")


def get_colours(*, dark: bool) -> DrawingColours:
    """The colours of the dark or the light theme."""
    return DARK_INK if dark else LIGHT_INK


def embed_svg(svg: str, alt: str) -> str:
    """An SVG as an image with a spoken text."""
    data = base64.b64encode(svg.encode()).decode("ascii")
    return f'<img class="fc-drawing" src="data:image/svg+xml;base64,{data}" alt="{escape(alt)}">'


def draw_from_above(exercise: Exercise, view: str, colours: DrawingColours) -> str:
    """The lifter and the phone seen from above; the lifter faces down the page."""
    x, y = {"front": (150, 236), "back": (150, 44), "left": (266, 140), "right": (34, 140)}.get(view, (266, 140))
    near, far = exercise.filming.distance_m
    dx, dy = 150 - x, 140 - y
    reach = (dx * dx + dy * dy) ** 0.5
    ux, uy = dx / reach, dy / reach
    spread = 46.0
    tip = (x + ux * (reach + 42), y + uy * (reach + 42))
    edges = [(tip[0] - turn * uy * spread, tip[1] + turn * ux * spread) for turn in (1, -1)]
    cone = f"M{x} {y}" + "".join(f"L{ex:.0f} {ey:.0f}" for ex, ey in edges) + "Z"
    label = f"{near:g} to {far:g} m"
    line = f"M{x} 196H150M{x} 191v10M150 191v10" if dx else f"M206 {y}V140M201 {y}h10M201 140h10"
    words = (
        _draw_text((x + 150) / 2, 216, label, colours, "middle")
        if dx
        else _draw_text(216, (y + 145) / 2, label, colours)
    )
    measure = f'<path d="{line}" fill="none" stroke="{colours.line}" stroke-width="1.5"/>{words}'
    other = ""
    if view in ("left", "right", "side"):
        ox = 34 if x > 150 else 266
        other = _draw_phone_above(ox, 140, colours, faint=True)
    body = (
        f'<ellipse cx="150" cy="140" rx="34" ry="13" fill="{colours.body}"/>'
        f'<circle cx="150" cy="146" r="13" fill="{colours.body}" stroke="{colours.ground}" stroke-width="3"/>'
        f'<path d="M150 164v22M143 179l7 8 7-8" fill="none" stroke="{colours.line}" stroke-width="2.5" '
        f'stroke-linecap="round" stroke-linejoin="round"/>'
    )
    parts = (
        f'<path d="{cone}" fill="{colours.cone}"/>{other}{body}{_draw_phone_above(x, y, colours)}'
        f"{measure}{_draw_text(150, 118, 'you', colours, 'middle')}"
    )
    return _wrap_svg(300, 280, parts)


def draw_from_side(exercise: Exercise, view: str, colours: DrawingColours) -> str:
    """Phone and lifter seen from the side of the line between them: height and distance."""
    scale, floor, lifter_x, phone_x = 190.0, 236.0, 222.0, 44.0
    figure = make_profile(exercise.position) if view in ("front", "back") else make_frontal(exercise.position, "down")
    level = make_profile(exercise.position).level(exercise.filming.phone_height)
    y = floor - level * scale
    near, far = exercise.filming.distance_m
    drawn = _draw_figure(figure, lifter_x, floor, scale, colours, flip=view == "back")
    stand = (
        f'<path d="M{phone_x} {y + 14:.0f}V{floor}M{phone_x - 14} {floor}L{phone_x} {floor - 26}'
        f'L{phone_x + 14} {floor}" fill="none" stroke="{colours.line}" stroke-width="3" stroke-linecap="round"/>'
    )
    phone = (
        f'<rect x="{phone_x - 5}" y="{y - 16:.0f}" width="10" height="32" rx="3" fill="{colours.phone}"/>'
        f'<path d="M{phone_x + 9} {y:.0f}H{lifter_x - 8}" stroke="{colours.phone}" stroke-width="2" '
        f'stroke-dasharray="5 5"/>'
    )
    ground = f'<path d="M10 {floor}H290" stroke="{colours.soft}" stroke-width="4" stroke-linecap="round"/>'
    metres = level * BODY_M
    measure = (
        f'<path d="M{phone_x} {floor + 14}H{lifter_x}M{phone_x} {floor + 9}v10M{lifter_x} {floor + 9}v10" fill="none" '
        f'stroke="{colours.line}" stroke-width="1.5"/>'
    )
    words = _draw_text(phone_x - 14, y - 24, f"{exercise.filming.phone_height} height", colours) + _draw_text(
        phone_x + 16, y + 18, f"{metres:.1f} m", colours, "start"
    )
    distance = _draw_text((phone_x + lifter_x) / 2, floor + 32, f"{near:g} to {far:g} m", colours, "middle")
    return _wrap_svg(300, 280, ground + drawn + stand + phone + measure + words + distance)


def draw_phone_screen(exercise: Exercise, view: str, colours: DrawingColours) -> str:
    """What the phone's screen should show, with the room to leave around."""
    arms = choose_arms(exercise)
    facing = view in ("front", "back", "oblique")
    figure = make_frontal(exercise.position, arms) if facing else make_profile(exercise.position)
    left, top, width, height = 86.0, 14.0, 128.0, 236.0
    tall = max(y for stroke in figure.strokes for _, y in stroke)
    tall = max(tall, figure.head[1] + 0.07)
    places = [x for stroke in figure.strokes for x, _ in stroke] + [figure.head[0] - 0.06, figure.head[0] + 0.06]
    wide = max(places) - min(places) + 0.06
    scale = min((height - 76) / tall, (width - 26) / wide)
    floor = top + height - 30
    middle = left + width / 2 - scale * (max(places) + min(places)) / 2
    frame = (
        f'<rect x="{left}" y="{top}" width="{width}" height="{height}" rx="14" fill="{colours.ground}" '
        f'stroke="{colours.phone}" stroke-width="4"/>'
        f'<path d="M{left + 6} {floor}H{left + width - 6}" stroke="{colours.soft}" stroke-width="3"/>'
    )
    head_room = floor - tall * scale
    room = (
        f'<path d="M{left + width + 12} {top + 8}V{head_room:.0f}M{left + width + 7} {top + 8}h10'
        f'M{left + width + 7} {head_room:.0f}h10" fill="none" stroke="{colours.line}" stroke-width="1.5"/>'
        f"{_draw_text(left + width + 20, (top + head_room) / 2 + 4, 'room', colours)}"
    )
    return _wrap_svg(300, 280, frame + _draw_figure(figure, middle, floor, scale, colours, flip=False) + room)


def choose_arms(exercise: Exercise) -> Arms:
    """Where the arms are at the top of the exercise, as far as a picture for filming needs it."""
    if exercise.filming.room_above:
        return "up"
    raised = {"arm_elevation_peak", "arm_raise_peak"}
    return "out" if any(check.measure in raised and check.at_least for check in exercise.checks) else "down"


# ---------------------------------------------------------------- strokes


def _draw_figure(figure: Figure, x: float, floor: float, scale: float, colours: DrawingColours, *, flip: bool) -> str:
    sign = -1.0 if flip else 1.0

    def at(point: Point) -> str:
        return f"{x + sign * point[0] * scale:.1f} {floor - point[1] * scale:.1f}"

    def path(points: tuple[Point, ...]) -> str:
        return "M" + "L".join(at(point) for point in points)

    thick = max(5.0, 0.062 * scale)
    prop = "".join(path(points) for points in figure.prop)
    body = "".join(path(points) for points in figure.strokes)
    cx, cy = at(figure.head).split()
    return (
        f'<path d="{prop}" fill="none" stroke="{colours.soft}" stroke-width="{thick:.1f}" stroke-linecap="round" '
        f'stroke-linejoin="round"/>'
        f'<path d="{body}" fill="none" stroke="{colours.body}" stroke-width="{thick:.1f}" stroke-linecap="round" '
        f'stroke-linejoin="round"/>'
        f'<circle cx="{cx}" cy="{cy}" r="{0.062 * scale:.1f}" fill="{colours.body}"/>'
    )


def _draw_phone_above(x: float, y: float, colours: DrawingColours, *, faint: bool = False) -> str:
    flat = abs(y - 140) > 1
    w, h = (30, 9) if flat else (9, 30)
    look = (
        f'fill="none" stroke="{colours.line}" stroke-width="1.5" stroke-dasharray="3 3"'
        if faint
        else f'fill="{colours.phone}"'
    )
    return f'<rect x="{x - w / 2}" y="{y - h / 2}" width="{w}" height="{h}" rx="3" {look}/>'


def _draw_text(x: float, y: float, text: str, colours: DrawingColours, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" fill="{colours.line}" font-family="sans-serif" font-size="15" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )


def _wrap_svg(width: int, height: int, parts: str) -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">{parts}</svg>'
