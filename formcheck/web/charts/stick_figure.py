"""A figure drawn with round strokes, in the postures of the exercises, from the front and in profile."""

from dataclasses import dataclass
from typing import Literal

Posture = Literal["standing", "seated", "bent-over", "prone"]
Arms = Literal["down", "out", "up"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Figure:
    """Joints in body heights: x to the right from the middle, y up from the floor."""

    head: Point
    strokes: tuple[tuple[Point, ...], ...]
    prop: tuple[tuple[Point, ...], ...] = ()
    """Seat or bench."""
    shoulder: float = 0.82
    elbow: float = 0.62
    hip: float = 0.53

    def level(self, name: str) -> float:
        """Height of a part of the body above the floor."""
        chest = self.shoulder - 0.3 * (self.shoulder - self.hip)
        return {"hip": self.hip, "elbow": self.elbow, "chest": chest, "shoulder": self.shoulder}[name]


def make_profile(posture: Posture) -> Figure:
    """Seen from the side, facing left, the arms as they hang at the start."""
    if posture == "seated":
        return Figure(
            (0.0, 0.72),
            (
                ((0.03, 0.58), (0.06, 0.29), (-0.2, 0.29), (-0.2, 0.04), (-0.28, 0.03)),
                ((0.03, 0.58), (0.0, 0.43), (-0.05, 0.58)),
            ),
            (((0.15, 0.62), (0.13, 0.22), (-0.08, 0.22)), ((0.03, 0.22), (0.03, 0.01))),
            0.58,
            0.43,
            0.29,
        )
    if posture == "bent-over":
        return Figure(
            (-0.29, 0.64),
            (
                ((-0.19, 0.58), (0.12, 0.5), (-0.02, 0.27), (0.05, 0.04), (-0.04, 0.03)),
                ((-0.19, 0.58), (-0.18, 0.4), (-0.18, 0.24)),
            ),
            (),
            0.58,
            0.4,
            0.5,
        )
    if posture == "prone":
        return Figure(
            (-0.2, 0.6),
            (
                ((-0.1, 0.52), (0.15, 0.35), (0.32, 0.2), (0.44, 0.04)),
                ((-0.1, 0.52), (-0.11, 0.34), (-0.11, 0.18)),
            ),
            (((-0.1, 0.43), (0.22, 0.21)), ((0.07, 0.31), (0.07, 0.01)), ((-0.02, 0.01), (0.2, 0.01))),
            0.52,
            0.34,
            0.45,
        )
    return Figure(
        (-0.01, 0.92),
        (
            ((0.0, 0.82), (0.01, 0.53), (-0.01, 0.28), (0.01, 0.04), (-0.08, 0.03)),
            ((0.0, 0.82), (0.02, 0.63), (-0.03, 0.47)),
        ),
    )


def make_frontal(posture: Posture, arms: Arms) -> Figure:
    """Seen from the front."""
    base = make_profile(posture)
    shoulder, hip = base.shoulder, base.hip
    head = (0.0, {"bent-over": shoulder + 0.06, "prone": shoulder + 0.08}.get(posture, shoulder + 0.11))
    knee = {"seated": 0.27, "prone": 0.2}.get(posture, 0.28)
    strokes: list[tuple[Point, ...]] = []
    for sign in (-1.0, 1.0):
        if posture not in ("bent-over", "prone"):
            strokes.append(((sign * 0.1, shoulder), (sign * 0.06, hip)))
        stance = 0.12 if posture == "seated" else 0.08
        strokes.append(((sign * 0.06, hip), (sign * stance, knee), (sign * stance, 0.04)))
        elbow, wrist = {
            "down": ((0.14, shoulder - 0.19), (0.14, shoulder - 0.34)),
            "out": ((0.28, shoulder), (0.43, shoulder)),
            "up": ((0.2, shoulder + 0.14), (0.14, shoulder + 0.32)),
        }[arms]
        strokes.append(((sign * 0.1, shoulder), (sign * elbow[0], elbow[1]), (sign * wrist[0], wrist[1])))
    strokes.append(((-0.1, shoulder), (0.1, shoulder)))
    prop: tuple[tuple[Point, ...], ...] = ()
    if posture == "seated":
        prop = (((-0.16, 0.22), (0.16, 0.22)), ((0.0, 0.22), (0.0, 0.01)))
    return Figure(head, tuple(strokes), prop, shoulder, base.elbow, hip)
