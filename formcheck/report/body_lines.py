"""Points of the body in one picture, and the lines drawn between them: plane geometry for what is drawn on the body.

Directions are radians in the picture: 0 to the right, growing clockwise, since y points down.
"""

from collections.abc import Sequence
from math import atan2, copysign, cos, degrees, hypot, pi, sin

import numpy as np

from formcheck.core.model import SIDES, Array, Side
from formcheck.signals.skeleton import INDEX
from formcheck.video.mark_drawing import Stroke

Point = tuple[float, float]
Place = tuple[str, ...]
"""Landmarks whose middle is meant."""


def find_places(part: str, side: Side | None) -> Place:
    """The landmarks of a part of the body; ``#`` stands for the side, without one both are meant."""
    if part in ("hips", "shoulders"):
        return tuple(f"{one}_{part[:-1]}" for one in SIDES)
    return (part.replace("#", side),) if side is not None else tuple(part.replace("#", one) for one in SIDES)


def locate(pixels: Array, place: Place) -> Point | None:
    """The middle of some landmarks; None where one of them was not seen."""
    found = pixels[[INDEX[name] for name in place]].mean(axis=0)
    return (float(found[0]), float(found[1])) if np.isfinite(found).all() else None


def find_direction(pixels: Array, start: Place, end: Place) -> float | None:
    """Direction from one place to another; None where one was not seen."""
    one, other = locate(pixels, start), locate(pixels, end)
    return None if one is None or other is None else atan2(other[1] - one[1], other[0] - one[0])


def go(start: Point, direction: float, length: float) -> Point:
    """The point so far away in a direction."""
    return start[0] + length * cos(direction), start[1] + length * sin(direction)


def wrap(angle: float) -> float:
    """The same angle from -π to π."""
    return (angle + pi) % (2 * pi) - pi


def trace_arc(middle: Point, radius: float, start: float, end: float) -> tuple[Point, ...]:
    """Points of an arc, one every six degrees."""
    steps = max(2, round(abs(degrees(end - start)) / 6) + 1)
    return tuple(go(middle, float(angle), radius) for angle in np.linspace(start, end, steps))


def lay_upon(start: Point, chain: Sequence[Point]) -> list[Point]:
    """A chain moved so that it begins at a point."""
    return [(start[0] + x - chain[0][0], start[1] + y - chain[0][1]) for x, y in chain]


def point_from(start: Point, end: Point) -> list[Stroke]:
    """The head of an arrow from one point to another; none where they are the same."""
    length = hypot(end[0] - start[0], end[1] - start[1])
    if length < 1.0:
        return []
    way, size = atan2(end[1] - start[1], end[0] - start[0]), min(0.6 * length, 14.0)
    back = go(end, way + pi, size)
    return [Stroke("head", (end, go(back, way + pi / 2, 0.55 * size), go(back, way - pi / 2, 0.55 * size)))]


def measure_trunk(pixels: Array) -> float:
    """Pixels from the middle of the hips to that of the shoulders; 0 where they were not seen."""
    one, other = locate(pixels, find_places("shoulders", None)), locate(pixels, find_places("hips", None))
    return 0.0 if one is None or other is None else hypot(other[0] - one[0], other[1] - one[1])


def find_beside(pixels: Array, ends: Sequence[Point]) -> Point:
    """A place for a number beside what it is about: outward from the body, a little above."""
    x, y = max(ends, key=lambda end: abs(end[0] - float(np.nanmean(pixels[:, 0]))))
    trunk = measure_trunk(pixels)
    away = copysign(1.0, x - float(np.nanmean(pixels[:, 0])))
    return x + away * 0.2 * trunk, y - 0.3 * trunk
