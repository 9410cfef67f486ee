"""People on foot: a plain walk along a line, and the lifter between sets (walking about, drinking, adjusting)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from arm import Arm
from body import Array, Posed, RestBody, place, turn
from motion import NAMES, Track
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


# ---------------------------------------------------------------- the lifter without the exercise


def idle(body: RestBody, kind: str, t: Array, yaw: float) -> Iterator[tuple[Posed, dict[str, Hand]]]:
    """The lifter without the exercise: ``walking`` about across the picture, ``drinking`` or ``adjusting``."""
    if kind == "walking":
        for moment in t:
            along, way, forth = to_and_fro(float(moment), 0.7, 0.9)
            radians = np.radians(yaw)
            where = Where(
                along * float(np.cos(radians)), along * float(np.sin(radians)), yaw + (90.0 if forth else -90.0)
            )
            yield walk(body, way, where)
        return
    tracks = IDLE[kind]()
    values = {name: track.at(t) for name, track in tracks.items()}
    for i in range(len(t)):
        v = {name: float(course[i]) for name, course in values.items()}
        yield pose(
            body,
            Posture(
                lean=v["lean"],
                twist=v["twist"],
                head=v["head"],
                knee=v["knee"],
                sway_x=v["sway"],
                left=Arm(v["left"], v["left_ahead"], v["left_elbow"]),
                right=Arm(v["right"], v["right_ahead"], v["right_elbow"]),
            ),
        )


def _tracks(**start: float) -> dict[str, Track]:
    rest = dict.fromkeys((*NAMES, "left_ahead", "right_ahead", "left_elbow", "right_elbow"), 0.0)
    rest |= {"left": 8.0, "right": 8.0, "knee": 7.0, "left_ahead": 15.0, "right_ahead": 15.0}
    rest |= {"left_elbow": 14.0, "right_elbow": 14.0, "lean": 1.0}
    return {name: Track(value) for name, value in (rest | start).items()}


def _drinking() -> dict[str, Track]:
    """A bottle goes to the mouth with one hand, twice, with a look around in between."""
    tracks = _tracks()
    for begin in (0.5, 3.7):
        for name, up, down in (("right", 42.0, 8.0), ("right_ahead", 72.0, 15.0), ("right_elbow", 128.0, 14.0)):
            tracks[name].to(begin, begin + 0.9, up)
            tracks[name].to(begin + 2.1, begin + 3.0, down)
        tracks["head"].to(begin + 0.5, begin + 1.0, -22.0)
        tracks["head"].to(begin + 2.0, begin + 2.4, 0.0)
    tracks["twist"].to(2.9, 3.3, 14.0)
    tracks["twist"].to(3.4, 3.8, 0.0)
    return tracks


def _adjusting() -> dict[str, Track]:
    """Down to the weights and up again, a tug at the shirt with both hands, a hand to the head, a shift of the feet."""
    tracks = _tracks()
    for name, down, up in (("lean", 64.0, 1.0), ("knee", 74.0, 7.0), ("head", 30.0, 0.0)):
        tracks[name].to(0.4, 1.4, down)
        tracks[name].to(2.0, 3.0, up)
    for side in ("left", "right"):
        for name, there, back in ((side, 24.0, 8.0), (f"{side}_ahead", 60.0, 15.0), (f"{side}_elbow", 96.0, 14.0)):
            tracks[name].to(3.2, 3.8, there)
            tracks[name].to(4.1, 4.6, back)
    for name, there, back in (("left", 78.0, 8.0), ("left_ahead", 40.0, 15.0), ("left_elbow", 132.0, 14.0)):
        tracks[name].to(4.9, 5.5, there)
        tracks[name].to(6.1, 6.7, back)
    tracks["sway"].to(4.0, 4.5, 0.05)
    tracks["sway"].to(5.9, 6.4, 0.0)
    return tracks


IDLE: dict[str, Callable[[], dict[str, Track]]] = {"drinking": _drinking, "adjusting": _adjusting}
IDLE_SECONDS = 7.0
