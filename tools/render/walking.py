"""People on foot: a plain walk along a line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from arm import Arm
from body import Array, Posed, RestBody, place, turn
from posture import Hand, Posture, pose

STRIDE_M = 1.35
"""Way of one full gait cycle (two steps) of an unhurried walk (common practice)."""


@dataclass(frozen=True)
class Where:
    """Where a person is on the floor: x and y in metres, and the way they face (0 = -y), degrees about the vertical."""

    x: float
    y: float
    heading: float


def walk(body: RestBody, way: float, where: Where) -> tuple[Posed, dict[str, Hand]]:
    """The body in mid-walk after `way` metres, standing at `where`; arms swing against the legs."""
    phase = 2 * np.pi * way / STRIDE_M
    swing = {"left": np.sin(phase), "right": -np.sin(phase)}
    arms = {
        side: Arm(raise_=-22.0 * value + 4.0, forward=84.0, elbow=22.0 + 8.0 * value) for side, value in swing.items()
    }
    upper, hands = pose(body, Posture(lean=3.0, left=arms["left"], right=arms["right"]))
    rotations = {label: upper.rotations[i] for i, label in enumerate(body.labels)}
    for side, letter in (("left", "L"), ("right", "R")):
        thigh = -26.0 * swing[side] - 3.0
        # The knee bends most while its leg comes forwards.
        bend = 8.0 + 48.0 * max(0.0, float(np.cos(phase if side == "left" else phase + np.pi))) ** 2
        for bone, degrees in (("upperleg", thigh), ("lowerleg", thigh + bend)):
            for part in ("01", "02"):
                rotations[f"{bone}{part}.{letter}"] = turn([1, 0, 0], degrees)
        rotations[f"foot.{letter}"] = turn([1, 0, 0], 0.4 * (thigh + bend))
    posed = place(body, rotations, body.head("root"))
    ankles = [posed.heads[body.bone(f"foot.{letter}")][2] for letter in "LR"]
    drop = np.array([0.0, 0.0, body.head("foot.L")[2] - min(ankles)])
    shift = posed.heads[body.bone("wrist.L")] - upper.heads[body.bone("wrist.L")]
    hands = {side: replace(hand, centre=hand.centre + shift) for side, hand in hands.items()}
    return stand_at(replace(posed, heads=posed.heads + drop), hands, drop, where)


def stand_at(posed: Posed, hands: dict[str, Hand], drop: Array, where: Where) -> tuple[Posed, dict[str, Hand]]:
    """The posed body and its hands, turned and set down elsewhere on the floor."""
    spin, move = turn([0, 0, 1], where.heading), np.array([where.x, where.y, 0.0])
    moved = Posed(spin @ posed.rotations, posed.heads @ spin.T + move)
    return moved, {side: Hand(spin @ (hand.centre + drop) + move, spin @ hand.axes) for side, hand in hands.items()}


def to_and_fro(t: float, half: float, speed: float) -> tuple[float, float, bool]:
    """Place between -half and half, way gone (m), and whether on the way towards +half, of a walk that turns round."""
    way = speed * t
    lap, rest = divmod(way, 2 * half)
    forth = int(lap) % 2 == 0
    return (-half + rest if forth else half - rest), way, forth
