"""Drawings of where to put the phone, made from an exercise's data as SVG text, with a figure of round strokes."""

import base64
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from pathlib import Path
from typing import Any, Literal

from markupsafe import Markup

from formcheck.exercises.schema import Exercise
from formcheck.web.charts.palette import Palette
from formcheck.web.markup import render

Posture = Literal["standing", "seated", "bent-over", "prone"]
Arms = Literal["down", "out", "up"]
Point = Sequence[float]
"""x and y."""

_POSTURES: dict[str, Any] = tomllib.loads(Path(__file__).with_name("postures.toml").read_text(encoding="utf-8"))
_ARMS: dict[Arms, tuple[Point, Point]] = {
    "down": ((0.14, -0.19), (0.14, -0.34)),
    "out": ((0.28, 0.0), (0.43, 0.0)),
    "up": ((0.2, 0.14), (0.14, 0.32)),
}
"""Elbow and wrist of an arm seen from the front: outwards from the middle, up from the shoulder."""
BODY_M = 1.75
"""A middling height, for the numbers beside the drawings."""
_PHONES = {"front": (150, 236), "back": (150, 44), "left": (266, 140), "right": (34, 140)}
"""Where the phone stands, seen from above; the lifter stands at (150, 140) and faces down the sheet."""


@dataclass(frozen=True, slots=True)
class Figure:
    """Joints in body heights: x to the right from the middle, y up from the floor."""

    head: Point
    strokes: Sequence[Sequence[Point]]
    prop: Sequence[Sequence[Point]]
    """Seat or bench."""
    shoulder: float
    elbow: float
    hip: float

    def level(self, name: str) -> float:
        """Height of a part of the body above the floor."""
        chest = self.shoulder - 0.3 * (self.shoulder - self.hip)
        return {"hip": self.hip, "elbow": self.elbow, "chest": chest, "shoulder": self.shoulder}[name]


def make_profile(posture: Posture) -> Figure:
    """Seen from the side, facing left, the arms as they hang at the start."""
    return Figure(**_POSTURES[posture]["profile"])


def make_frontal(posture: Posture, arms: Arms) -> Figure:
    """Seen from the front."""
    base, front = make_profile(posture), _POSTURES[posture]["front"]
    strokes: list[list[Point]] = []
    for side in (-1.0, 1.0):
        shoulder, hip = (side * 0.1, base.shoulder), (side * 0.06, base.hip)
        if front["trunk"]:
            strokes.append([shoulder, hip])
        strokes.append([hip, (side * front["stance"], front["knee"]), (side * front["stance"], 0.04)])
        strokes.append([shoulder, *((side * x, base.shoulder + y) for x, y in _ARMS[arms])])
    strokes.append([(-0.1, base.shoulder), (0.1, base.shoulder)])
    head = (0.0, base.shoulder + front["head_above"])
    return Figure(head, strokes, front["prop"], base.shoulder, base.elbow, base.hip)


def embed_svg(svg: str, alt: str) -> Markup:
    """An SVG as an image with a spoken text."""
    data = base64.b64encode(svg.encode()).decode("ascii")
    return Markup('<img class="fc-drawing" src="data:image/svg+xml;base64,{}" alt="{}">').format(data, alt)


def draw_from_above(exercise: Exercise, view: str, palette: Palette) -> str:
    """The lifter and the phone seen from above; the lifter faces down the sheet."""
    x, y = _PHONES.get(view, _PHONES["left"])
    reach = hypot(150 - x, 140 - y)
    along, across = (150 - x) / reach, (140 - y) / reach
    far_x, far_y = x + along * (reach + 42), y + across * (reach + 42)
    corners = [(far_x - turn * across * 46, far_y + turn * along * 46) for turn in (1, -1)]
    cone = f"M{x} {y}" + "".join(f"L{corner_x:.0f} {corner_y:.0f}" for corner_x, corner_y in corners) + "Z"
    other_x = 300 - x if view in ("left", "right", "side") else None
    return render("camera_positions", "from_above", x, y, cone, other_x, _format_distance(exercise), palette)


def draw_from_side(exercise: Exercise, view: str, palette: Palette) -> str:
    """Phone and lifter seen from the side of the line between them: height and distance."""
    scale, floor, person_x = 190.0, 236.0, 222.0
    profile, height = make_profile(exercise.position), exercise.filming.phone_height
    figure = profile if view in ("front", "back") else make_frontal(exercise.position, "down")
    level = profile.level(height)
    return render(
        "camera_positions",
        "from_side",
        _draw_figure(figure, person_x, floor, scale, palette, turn=-1 if view == "back" else 1),
        44.0,
        floor - level * scale,
        floor,
        person_x,
        f"{height} height",
        f"{level * BODY_M:.1f} m",
        _format_distance(exercise),
        palette,
    )


def draw_phone_screen(exercise: Exercise, view: str, palette: Palette) -> str:
    """What the phone's screen should show, with the room to leave around."""
    facing = view in ("front", "back", "oblique")
    figure = make_frontal(exercise.position, choose_arms(exercise)) if facing else make_profile(exercise.position)
    left, top, width, height = 86.0, 14.0, 128.0, 236.0
    points = [point for stroke in figure.strokes for point in stroke]
    tall = max(figure.head[1] + 0.07, *(y for _, y in points))
    xs = [figure.head[0] - 0.06, figure.head[0] + 0.06, *(x for x, _ in points)]
    scale = min((height - 76) / tall, (width - 26) / (max(xs) - min(xs) + 0.06))
    floor = top + height - 30
    middle = left + width / 2 - scale * (max(xs) + min(xs)) / 2
    person = _draw_figure(figure, middle, floor, scale, palette)
    sizes = (left, top, width, height, floor, floor - tall * scale)
    return render("camera_positions", "phone_screen", person, *sizes, palette)


def choose_arms(exercise: Exercise) -> Arms:
    """Where the arms are at the top of the exercise, as far as a drawing for filming needs it."""
    if exercise.filming.room_above:
        return "up"
    raised = {"arm_elevation_peak", "arm_raise_peak", "arm_line_raise_peak"}
    return "out" if any(check.measure in raised and check.at_least for check in exercise.checks) else "down"


def _format_distance(exercise: Exercise) -> str:
    near, far = exercise.filming.distance_m
    return f"{near:g} to {far:g} m"


def _draw_figure(figure: Figure, x: float, floor: float, scale: float, palette: Palette, *, turn: int = 1) -> Markup:
    """The figure standing at x; `turn` -1 mirrors it."""

    def place(point: Point) -> str:
        return f"{x + turn * point[0] * scale:.1f} {floor - point[1] * scale:.1f}"

    def join(strokes: Sequence[Sequence[Point]]) -> str:
        return "".join("M" + "L".join(place(point) for point in stroke) for stroke in strokes)

    width, radius = f"{max(5.0, 0.062 * scale):.1f}", f"{0.062 * scale:.1f}"
    head = place(figure.head).split()
    return render("camera_positions", "figure", join(figure.prop), join(figure.strokes), head, radius, width, palette)
