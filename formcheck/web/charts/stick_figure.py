"""A figure drawn with round strokes, in the postures of the exercises, from the front and in profile."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

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
