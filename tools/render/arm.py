"""What a free arm does, and the directions that follow from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from body import Array, across

FORWARD = np.array([0.0, -1.0, 0.0])
UP = np.array([0.0, 0.0, 1.0])


@dataclass
class Arm:
    """What one arm does; angles in degrees, directions as seen by the room."""

    raise_: float = 8.0
    """Upper arm from straight down, towards the side."""
    forward: float = 8.0
    """How far the plane of the lift lies before the body's side."""
    elbow: float = 12.0
    bend_down: float = 0.0
    """0: the elbow bends forwards; 1: towards the chest side of a bent-over trunk (down)."""
    bend: str = ""
    """Where the elbow bends to: forwards (empty), up, in (closing the arms), with or against the raise."""
    palm: str = ""
    """Where the palm faces: the leg (empty), inward, in (closing), down (against the raise), curl, turned."""
    palm_to: float = 180.0
    """Of a turned palm, degrees: 0 = the face, 90 = the other hand, 180 = forward."""


def free_arm(arm: Arm, sign: float, facing: Array) -> tuple[Array, Array]:
    """Direction of the upper arm and the direction its elbow bends to."""
    swing = np.radians(arm.raise_)
    ahead = np.radians(arm.forward)
    outward = facing @ np.array([sign * np.cos(ahead), -np.sin(ahead), 0.0])
    upper = np.sin(swing) * outward - np.cos(swing) * UP
    bends = facing @ FORWARD * (1.0 - arm.bend_down) + arm.bend_down * (-UP - sign * 0.6 * np.array([1.0, 0, 0]))
    if arm.bend:
        bends = {"up": UP, "in": closing(arm, sign, facing), "with": 1.0, "against": -1.0}[arm.bend]
        if isinstance(bends, float):
            bends = bends * (np.cos(swing) * outward + np.sin(swing) * UP)
    return upper, across(bends, upper)


def closing(arm: Arm, sign: float, facing: Array) -> Array:
    """(3,) the level direction in which an arm closes towards the middle."""
    ahead = np.radians(arm.forward)
    return np.asarray(facing @ np.array([-sign * np.sin(ahead), -np.cos(ahead), 0.0]))


def palm_of(arm: Arm, sign: float, facing: Array, upper: Array, flex: Array) -> Array:
    """(3,) the direction a palm is wanted to face, not yet at right angles to the forearm."""
    inward = facing @ np.array([-sign, 0.0, 0.0])
    to = np.radians(arm.palm_to)
    bend = np.radians(arm.elbow)
    wanted = {
        "inward": inward,
        "in": closing(arm, sign, facing),
        "down": -flex,
        "curl": np.cos(bend) * flex - np.sin(bend) * upper,
        "turned": -np.cos(to) * (facing @ FORWARD) + np.sin(to) * inward,
    }
    return np.asarray(wanted[arm.palm])
