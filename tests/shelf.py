"""Invented sets of every exercise for the stick figure of `tests.lifter`: a clean one, and one for each fault.

A set is a `Set` whose course runs from 0 at the stretched end to 1 at the shortened end (for lifts that begin with
the lowering: from standing, 0, to the bottom, 1), and a function from that course to the figure's angles.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from formcheck.analysis import analyse
from formcheck.core.model import Array, Review, Settings
from formcheck.exercises.registry import get_exercise
from tests import lifter

Pose = Callable[..., dict[str, Any]]
EXACT = Settings(correct_landmarks=False, fit_body=False)


def press(
    c: Array,
    *,
    elbow: tuple[float, float] = (112, 12),
    raised: tuple[float, float] = (58, 150),
    ahead: float = 20.0,
    lean: float = 0.0,
    torso: float = 5.0,
    rock: float = 0.0,
    turn: tuple[float, float] = (180, 180),
    from_share: float = 0.0,
    to_share: float = 1.0,
) -> dict[str, Any]:
    left = _between(raised, c)
    palm = _between(turn, np.clip((c - from_share) / (to_share - from_share), 0, 1))
    return {"left": left, "right": left - lean * c, "elbow": _between(elbow, c), "plane": ahead * (1 - c),
            "torso": torso - rock * c, "palm": palm}  # fmt: skip


def turning(c: Array, **wish: Any) -> dict[str, Any]:
    return press(c, **{"turn": (0, 180), "from_share": 0.1, "to_share": 0.9, **wish})


def fly(c: Array, *, opening: tuple[float, float] = (5, 95), raised: float = 88.0, rock: float = 0.0) -> dict[str, Any]:
    return {"left": raised, "right": raised, "plane": 90 - _between(opening, c), "torso": 5 - rock * c}


def bench(c: Array, *, arms: tuple[float, float] = (4, 88), elbow: float = 12.0, lift: float = 0.0,
          uneven: float = 0.0) -> dict[str, Any]:  # fmt: skip
    left = _between(arms, c)
    return {"left": left, "right": left - uneven * c, "elbow": elbow, "torso": 65 - lift * c}


def front_raise(c: Array, *, arms: tuple[float, float] = (3, 92), elbow: float = 10.0, swing: float = 0.0,
                side_lean: float = 0.0, legs: float = 0.0) -> dict[str, Any]:  # fmt: skip
    arm = _between(arms, c)
    return {"left": arm, "right": arm, "plane": 90.0, "elbow": elbow, "torso": 2 - swing * c, "tilt": side_lean * c,
            "knee": 10 + legs * (1 - c)}  # fmt: skip


def squat(c: Array, *, knee: tuple[float, float] = (5, 122), shin: float = 30.0, lean: float = 38.0, late: float = 1.0,
          ankles: float = 0.22, knees: tuple[float, float] = (0.22, 0.26),
          side_lean: float = 0.0) -> dict[str, Any]:  # fmt: skip
    return {"knee": _between(knee, c), "shin": knee[0] / 2 + shin * c, "torso": 2 + lean * c**late, "ankles": ankles,
            "knees": _between(knees, c), "tilt": side_lean * c}  # fmt: skip


def hinge(c: Array, *, torso: tuple[float, float] = (2, 75), knee: tuple[float, float] = (8, 22),
          side_lean: float = 0.0, arms: float = 35.0, head: float = 45.0,
          shin: float = 0.0) -> dict[str, Any]:  # fmt: skip
    return {"torso": _between(torso, c), "knee": _between(knee, c), "shin": 4.0 + shin * c, "tilt": side_lean * c,
            "left": arms * c, "right": arms * c, "plane": -90.0, "head": head * c}  # fmt: skip


def curl(c: Array, *, elbow: tuple[float, float] = (10, 140), arm: float = 5.0, swing: float = 0.0,
         side_lean: float = 0.0, legs: float = 0.0) -> dict[str, Any]:  # fmt: skip
    raised = 2 + arm * c
    return {"left": raised, "right": raised, "plane": 90.0, "elbow": _between(elbow, c), "torso": 1 - swing * c,
            "tilt": side_lean * c, "knee": 10 + legs * (1 - c)}  # fmt: skip


def row(c: Array, *, back: tuple[float, float] = (2, 75), torso: float = 65.0, rise: float = 0.0, knee: float = 28.0,
        bend: float = 0.0, head: float = 35.0) -> dict[str, Any]:  # fmt: skip
    arm = _between(back, c)
    return {"left": arm, "right": arm, "plane": -90.0, "elbow": -arm - bend, "torso": torso - rise * c, "knee": knee,
            "head": head}  # fmt: skip


@dataclass(frozen=True)
class Planted:
    """One fault: what is changed, seen from which camera angle, and what the check says."""

    exercise: str
    check: str
    change: dict[str, Any]
    yaw: float
    verdict: str = "not_met"


POSES: dict[str, Pose] = {
    "dumbbell-press": press,
    "turning-palm-press": turning,
    "machine-reverse-fly": fly,
    "bench-lateral-raise": bench,
    "front-raise": front_raise,
    "squat": squat,
    "hip-hinge": hinge,
    "biceps-curl": curl,
    "bent-over-row": row,
}


def review(exercise: str, *, yaw: float, peaks: tuple[float, ...] = (1.0,) * 4, noise: float = 0.0,
           plan: dict[str, Any] | None = None, **change: Any) -> Review:  # fmt: skip
    """The review of an invented set, landmarks taken as they are."""
    set_plan = lifter.Set(peaks, low=0.0, **(plan or {}))
    t = lifter.times(set_plan.length_s)
    film = lifter.film(t, **POSES[exercise](set_plan.course(t), **change), yaw=yaw, noise_px=noise)
    return analyse(film, get_exercise(exercise), settings=EXACT).review


def _between(ends: tuple[float, float], share: Array) -> Array:
    return ends[0] + (ends[1] - ends[0]) * share
