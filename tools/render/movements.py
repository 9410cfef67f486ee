"""How the exercises move: what each joint does between the start of a rep and its turn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Pair = tuple[float, float]
"""A value where the rep begins, and where it turns."""


@dataclass(frozen=True)
class Move:
    """One exercise between its two ends; degrees and metres, names as in `posture`."""

    raise_: Pair = (4.0, 4.0)
    forward: Pair = (10.0, 10.0)
    elbow: Pair = (10.0, 10.0)
    bend: Literal["", "up", "in", "with", "against"] = ""
    palm: Literal["", "inward", "in", "down", "curl", "turned"] = ""
    palm_to: Pair = (180.0, 180.0)
    """Where a turned palm faces: 0 = the face, 90 = the other hand, 180 = forward."""
    turn_span: Pair = (0.15, 0.75)
    """The share of the way out in which the palm turns, and back again on the way home."""
    lean: Pair = (2.0, 2.0)
    knee: Pair = (7.0, 7.0)
    head: Pair = (0.0, 0.0)
    knees_out: Pair = (0.12, 0.12)
    shin: float | None = None
    """Share of the knees' bend by which the shins lean forwards, when the legs and not the trunk lead (squat)."""
    side_lean: Pair = (0.0, 0.0)
    squeeze: Pair = (0.0, 0.0)
    """Collar bones drawn back beyond where the arms take them."""
    stance: float = 0.0
    base: Literal["stand", "sit", "prone"] = "stand"
    furniture: Literal["", "seat", "pad", "incline"] = ""
    held: Literal["dumbbells", "handles", "bar"] = "dumbbells"
    bend_down: float = 0.0
    """0: the elbow bends forwards; 1: towards the chest side of a bent-over trunk."""
    bends_over: bool = False
    """Before the set the lifter bends over from standing, and stands up after it."""
    grip_out: float = 0.14
    """How far each hand stands outside its shoulder joint on the bar, metres."""
    bar_forward: float = 0.20
    """How far the bar runs before the shoulder joints, metres."""
    lowers_first: bool = False
    """The rep begins with the lowering: `RepPlan.ecc` is the way out."""


PRESS = Move(
    raise_=(42.0, 163.0),
    forward=(32.0, 12.0),
    elbow=(132.0, 17.0),
    bend="up",
    palm="turned",
    lean=(-4.0, -4.0),
    base="sit",
    furniture="seat",
)

MOVES: dict[str, Move] = {
    "lateral-raise": Move(raise_=(8.0, 90.0), elbow=(10.0, 14.0), lean=(1.0, 1.0), stance=-0.05),
    "overhead-lateral-raise": Move(
        raise_=(8.0, 170.0), forward=(8.0, 8.0), elbow=(10.0, 15.0), lean=(1.0, 1.0), stance=-0.05
    ),
    "bent-over-lateral-raise": Move(
        raise_=(4.0, 84.0),
        forward=(8.0, 8.0),
        elbow=(12.0, 17.0),
        lean=(77.0, 77.0),
        knee=(30.0, 30.0),
        head=(40.0, 40.0),
        bend_down=0.5,
        bends_over=True,
        stance=-0.05,
    ),
    "guided-bar-press": Move(
        elbow=(100.0, 17.0), lean=(-3.0, -3.0), head=(-6.0, -6.0), base="sit", furniture="seat", held="bar"
    ),
    "dumbbell-press": PRESS,
    "turning-palm-press": Move(
        raise_=(38.0, 163.0),
        forward=(50.0, 12.0),
        elbow=(136.0, 17.0),
        bend="up",
        palm="turned",
        palm_to=(5.0, 175.0),
        lean=(-4.0, -4.0),
        base="sit",
        furniture="seat",
    ),
    "machine-reverse-fly": Move(
        raise_=(87.0, 87.0),
        forward=(84.0, -4.0),
        elbow=(16.0, 16.0),
        bend="in",
        palm="in",
        lean=(3.0, 3.0),
        base="sit",
        furniture="pad",
        held="handles",
    ),
    "bench-lateral-raise": Move(
        raise_=(4.0, 87.0),
        forward=(8.0, 6.0),
        elbow=(12.0, 16.0),
        lean=(60.0, 60.0),
        knee=(40.0, 40.0),
        head=(35.0, 35.0),
        base="prone",
        furniture="incline",
    ),
    "front-raise": Move(
        raise_=(6.0, 91.0), forward=(78.0, 84.0), elbow=(10.0, 12.0), bend="with", palm="down", lean=(1.0, 1.0)
    ),
    "squat": Move(
        raise_=(5.0, 5.0),
        forward=(40.0, 40.0),
        palm="inward",
        lean=(2.0, 38.0),
        knee=(6.0, 118.0),
        head=(0.0, 6.0),
        knees_out=(0.16, 0.42),
        shin=0.24,
        stance=0.06,
        lowers_first=True,
    ),
    "hip-hinge": Move(
        raise_=(3.0, -20.0),
        forward=(80.0, 80.0),
        elbow=(6.0, 6.0),
        palm="inward",
        lean=(1.0, 74.0),
        knee=(8.0, 22.0),
        head=(0.0, 42.0),
        lowers_first=True,
    ),
    "biceps-curl": Move(
        raise_=(3.0, 9.0), forward=(82.0, 82.0), elbow=(9.0, 136.0), bend="with", palm="curl", lean=(1.0, 1.0)
    ),
    "bent-over-row": Move(
        raise_=(6.0, 70.0),
        forward=(-68.0, -68.0),
        elbow=(8.0, 76.0),
        bend="against",
        palm="inward",
        lean=(60.0, 60.0),
        knee=(28.0, 28.0),
        head=(40.0, 40.0),
    ),
}
"""Clean form of each exercise."""
