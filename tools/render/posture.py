"""From a handful of posture values to a posed body: legs that stand or sit, a trunk that leans, arms that lift."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from arm import FORWARD, UP, Arm, free_arm, palm_of
from body import SIDES, Array, Posed, RestBody, across, bend_point, between, frame, part_of, place, turn, unit


@dataclass
class Posture:
    """One moment; angles in degrees, lengths in metres."""

    lean: float = 1.0
    """Trunk from upright, forwards positive."""
    roll: float = 0.0
    """Trunk from upright, towards the lifter's left positive."""
    twist: float = 0.0
    head: float = 0.0
    """Pitch of the face from the horizon, down positive."""
    knee: float = 6.0
    sway_x: float = 0.0
    sway_y: float = 0.0
    stance: float = 0.03
    """How much wider than at rest each foot stands."""
    seat: float | None = None
    """Height of the bench top when sitting."""
    prone: float | None = None
    """Height of the hips when lying chest down on an inclined bench."""
    knees_out: float = 0.12
    """How far the knees bend outwards for each part they bend forwards."""
    squeeze: float = 0.0
    """Collar bones turned back from where the arms take them, degrees: blades drawn together."""
    shrug: float = 0.0
    """Collar bones lifted beyond where the arms take them, degrees: shoulders drawn up."""
    shin: float | None = None
    """Share of the knees' bend by which the shins lean forwards; None: the hips go where they balance the trunk."""
    left: Arm = field(default_factory=Arm)
    right: Arm = field(default_factory=Arm)
    bar_height: float | None = None
    """Height of the bar's axis when both hands hold it."""
    bar_forward: float = 0.20
    """How far the bar runs before the shoulder joints."""
    grip_out: float = 0.14
    """How far each hand stands outside its shoulder joint on the bar."""
    bar_tilt: float = 0.0
    """How far the bar hangs lower on the lifter's left, degrees."""


@dataclass(frozen=True, eq=False)
class Hand:
    """Where a hand holds: (3,) centre of the grip and (3, 3) axes: along the hand, palm, along the handle."""

    centre: Array
    axes: Array


def pose(body: RestBody, want: Posture) -> tuple[Posed, dict[str, Hand]]:
    """The posed body and its two hands."""
    trunk = turn([0, 0, 1], want.twist) @ turn([0, -1, 0], -want.roll) @ turn([1, 0, 0], want.lean)
    pelvis = turn([0, 0, 1], want.twist * 0.4) @ turn([0, -1, 0], -want.roll * 0.7)
    pelvis = pelvis @ turn([1, 0, 0], want.lean * 0.9)
    rotations: dict[str, Array] = {"root": pelvis}
    step = part_of(trunk @ pelvis.T, 0.25)
    spine = pelvis
    for label in ("spine05", "spine04", "spine03", "spine02"):
        spine = step @ spine
        rotations[label] = spine
    rotations["spine01"] = trunk
    face = turn([0, 0, 1], want.twist) @ turn([1, 0, 0], want.head)
    nod = part_of(face @ trunk.T, 0.25)
    neck = trunk
    for label in ("neck01", "neck02", "neck03", "head"):
        neck = nod @ neck
        rotations[label] = neck
    if want.prone is not None:
        root = _lie(body, want, pelvis, rotations)
    else:
        root = _stand(body, want, pelvis, rotations) if want.seat is None else _sit(body, want, pelvis, rotations)
    hands = _arms(body, want, trunk, root, rotations)
    posed = place(body, rotations, root)
    return posed, {side: _grip(body, posed, side, axes) for side, axes in hands.items()}


# ---------------------------------------------------------------- legs


def _stand(body: RestBody, want: Posture, pelvis: Array, rotations: dict[str, Array]) -> Array:
    """Feet stay where they are; the pelvis goes back as far as the trunk leans forwards."""
    ankle, hip, knee = (body.head(f"{bone}.L") for bone in ("foot", "upperleg01", "lowerleg01"))
    upper, lower = float(np.linalg.norm(knee - hip)), float(np.linalg.norm(ankle - knee))
    reach = np.sqrt(upper**2 + lower**2 + 2 * upper * lower * np.cos(np.radians(want.knee)))
    offset = pelvis @ (hip - body.head("root"))
    trunk_length = 0.3 * body.height
    back = 0.5 * trunk_length * np.sin(np.radians(max(want.lean, 0.0))) + 0.05 * np.sin(np.radians(want.knee))
    if want.shin is not None:
        shin = np.radians(want.shin * want.knee)
        back = 0.035 + upper * np.sin(np.radians(want.knee) - shin) - lower * np.sin(shin)
    hip_y = ankle[1] - 0.035 + back + want.sway_y
    spread = ankle[0] + want.stance - abs(offset[0])
    height = ankle[2] + np.sqrt(max(reach**2 - (hip_y - ankle[1]) ** 2 - spread**2, 0.01))
    root = np.array([want.sway_x, hip_y - offset[1], height - offset[2]])
    for side, letter in SIDES.items():
        sign = 1.0 if side == "left" else -1.0
        target = body.head(f"foot.{letter}") + np.array([sign * want.stance, 0.0, 0.0])
        _leg(body, letter, root, pelvis, target, np.array([sign * want.knees_out, -1.0, 0.0]), rotations)
    return root


def _sit(body: RestBody, want: Posture, pelvis: Array, rotations: dict[str, Array]) -> Array:
    """Hips on the bench, shins upright before it."""
    assert want.seat is not None
    hip, knee = body.head("upperleg01.L"), body.head("lowerleg01.L")
    root = np.array([want.sway_x, want.sway_y, want.seat + 0.095 * body.height / 1.75])
    root[2] -= float((pelvis @ (hip - body.head("root")))[2])
    thigh = float(np.linalg.norm(knee - hip))
    for side, letter in SIDES.items():
        sign = 1.0 if side == "left" else -1.0
        ankle = body.head(f"foot.{letter}") + np.array([sign * (want.stance + 0.04), 0.0, 0.0])
        ankle[1] = root[1] - thigh * 0.93
        _leg(body, letter, root, pelvis, ankle, np.array([sign * 0.1, -1.0, 0.6]), rotations)
    return root


def _lie(body: RestBody, want: Posture, pelvis: Array, rotations: dict[str, Array]) -> Array:
    """Chest on an inclined bench, legs back, on the toes."""
    assert want.prone is not None
    scale = body.height / 1.75
    root = np.array([want.sway_x, 0.0, want.prone * scale])
    for side, letter in SIDES.items():
        sign = 1.0 if side == "left" else -1.0
        ankle = body.head(f"foot.{letter}") + np.array([sign * (want.stance + 0.05), 0.0, 0.03])
        ankle[1] = root[1] + 0.56 * scale
        _leg(body, letter, root, pelvis, ankle, np.array([sign * 0.12, -1.0, 0.0]), rotations)
        rotations[f"foot.{letter}"] = rotations[f"foot.{letter}"] @ turn([1, 0, 0], 38.0)
    return root


def _leg(
    body: RestBody,
    letter: str,
    root: Array,
    pelvis: Array,
    target: Array,
    bend: Array,
    rotations: dict[str, Array],
) -> None:
    hip0, knee0, ankle0 = (body.head(f"{bone}.{letter}") for bone in ("upperleg01", "lowerleg01", "foot"))
    hip = root + pelvis @ (hip0 - body.head("root"))
    upper, lower = float(np.linalg.norm(knee0 - hip0)), float(np.linalg.norm(ankle0 - knee0))
    knee = bend_point(hip, target, upper, lower, bend)
    thigh = frame(knee - hip, bend) @ frame(knee0 - hip0, FORWARD).T
    shin = frame(target - knee, bend - 0.5 * unit(target - hip)) @ frame(ankle0 - knee0, FORWARD).T
    rotations[f"upperleg01.{letter}"] = rotations[f"upperleg02.{letter}"] = thigh
    rotations[f"lowerleg01.{letter}"] = rotations[f"lowerleg02.{letter}"] = shin
    rotations[f"foot.{letter}"] = turn([0, 0, 1], 8.0 if letter == "L" else -8.0)


# ---------------------------------------------------------------- arms


def _arms(body: RestBody, want: Posture, trunk: Array, root: Array, rotations: dict[str, Array]) -> dict[str, Array]:
    """Set all arm bones; the axes each hand must take (along the hand, palm, handle)."""
    axes: dict[str, Array] = {}
    facing = turn([0, 0, 1], want.twist)
    for side, letter in SIDES.items():
        sign = 1.0 if side == "left" else -1.0
        arm = want.left if side == "left" else want.right
        if want.bar_height is None:
            upper, flex = free_arm(arm, sign, facing)
            girdle = _girdle(upper, trunk, sign, body.girdle, want.squeeze, want.shrug)
            lower = np.cos(np.radians(arm.elbow)) * upper + np.sin(np.radians(arm.elbow)) * flex
            along = unit(lower)
            if arm.palm:
                palm = across(palm_of(arm, sign, facing, upper, flex), along)
            else:
                palm = across(across(np.cross(unit(upper), facing @ FORWARD) * sign, unit(upper)), along)
        else:
            upper, lower, girdle = _arm_to_bar(body, want, letter, sign, trunk, root, rotations)
            along, palm = unit(UP + 0.25 * lower), FORWARD + 0.0
        _set_arm(body, letter, upper, lower, frame(along, palm), girdle, trunk, rotations)
        axes[side] = frame(along, palm)
    return axes


def _girdle(
    upper: Array, trunk: Array, sign: float, share: float, squeeze: float = 0.0, shrug: float = 0.0
) -> tuple[Array, Array]:
    """World rotations of clavicle and shoulder blade that go with an upper-arm direction, by `share` of the usual."""
    local = trunk.T @ upper
    raised = float(np.degrees(np.arccos(np.clip(-local[2], -1, 1))))
    lift = np.clip((raised - 42.0) * 0.21, -9.0, 30.0) * (1.0 - 0.6 * max(-local[1], 0.0))
    ahead = 22.0 * max(-local[1], 0.0) - 10.0 * max(local[1], 0.0)
    lift, ahead = share * lift + shrug, share * ahead - squeeze
    clavicle = turn([0, -sign, 0], float(lift)) @ turn([0, 0, -sign], ahead)
    blade = turn([0, -sign, 0], float(lift) * 1.5) @ turn([0, 0, -sign], ahead * 1.3)
    return trunk @ clavicle, trunk @ blade


def _arm_to_bar(
    body: RestBody, want: Posture, letter: str, sign: float, trunk: Array, root: Array, rotations: dict[str, Array]
) -> tuple[Array, Array, tuple[Array, Array]]:
    """Upper arm, forearm and girdle of an arm whose hand is on the bar (the girdle follows the arm, so two rounds)."""
    assert want.bar_height is not None
    shoulder0, elbow0, wrist0 = (body.head(f"{bone}.{letter}") for bone in ("upperarm01", "lowerarm01", "wrist"))
    lengths = float(np.linalg.norm(elbow0 - shoulder0)), float(np.linalg.norm(wrist0 - elbow0))
    girdle = _girdle(unit(np.array([sign, -0.3, -0.6])), trunk, sign, body.girdle)
    spine = place(body, rotations, root)
    base = spine.heads[body.bone("spine01")]
    neutral = base + trunk @ (shoulder0 - body.head("spine01"))
    out = neutral[0] + sign * want.grip_out
    height = want.bar_height - out * np.tan(np.radians(want.bar_tilt))
    grip = np.array([out, neutral[1] - want.bar_forward, height])
    wrist = grip - 0.085 * body.height / 1.75 * unit(UP + 0.1 * FORWARD) - 0.02 * FORWARD
    upper = lower = UP
    for _ in range(3):
        clavicle = base + trunk @ (body.head(f"clavicle.{letter}") - body.head("spine01"))
        blade = clavicle + girdle[0] @ (body.head(f"shoulder01.{letter}") - body.head(f"clavicle.{letter}"))
        shoulder = blade + girdle[1] @ (shoulder0 - body.head(f"shoulder01.{letter}"))
        elbow = bend_point(shoulder, wrist, *lengths, np.array([sign * 0.9, -0.35, -0.6]))
        upper, lower = unit(elbow - shoulder), unit(wrist - elbow)
        girdle = _girdle(upper, trunk, sign, body.girdle, 0.0, want.shrug)
    return upper, lower, girdle


def _set_arm(
    body: RestBody,
    letter: str,
    upper: Array,
    lower: Array,
    hand: Array,
    girdle: tuple[Array, Array],
    trunk: Array,
    rotations: dict[str, Array],
) -> None:
    """World rotations from clavicle to fingers, the turn about the bone spread along it."""
    shoulder0, elbow0, wrist0 = (body.head(f"{bone}.{letter}") for bone in ("upperarm01", "lowerarm01", "wrist"))
    upper0, lower0 = unit(elbow0 - shoulder0), unit(wrist0 - elbow0)
    rotations[f"clavicle.{letter}"], rotations[f"shoulder01.{letter}"] = girdle
    full = frame(upper, lower) @ frame(upper0, lower0).T
    swing = between(girdle[1] @ upper0, upper) @ girdle[1]
    rotations[f"upperarm01.{letter}"] = part_of(full @ swing.T, 0.4) @ swing
    rotations[f"upperarm02.{letter}"] = full
    hand0 = _hand_axes(body, letter)
    forearm = between(full @ lower0, lower) @ full
    wrist = hand @ hand0.T
    straight = between(wrist @ lower0, lower) @ wrist  # the hand's turn, without its bend at the wrist
    twist = straight @ forearm.T
    rotations[f"lowerarm01.{letter}"] = part_of(twist, 0.3) @ forearm
    rotations[f"lowerarm02.{letter}"] = part_of(twist, 0.75) @ forearm
    rotations[f"wrist.{letter}"] = wrist
    curl = np.cross(hand0[:, 0], hand0[:, 1])
    for finger in "2345":
        for joint, degrees in (("1", 60.0), ("2", 130.0), ("3", 165.0)):
            rotations[f"finger{finger}-{joint}.{letter}"] = wrist @ turn(curl, degrees)
    for joint, degrees in (("2", 25.0), ("3", 50.0)):
        rotations[f"finger1-{joint}.{letter}"] = wrist @ turn(curl, degrees)


def _hand_axes(body: RestBody, letter: str) -> Array:
    """(3, 3) rest axes of a hand: along it, out of the palm, along a handle."""
    knuckles = [body.head(f"finger{i}-1.{letter}") for i in "2345"]
    along = unit(np.mean(knuckles, axis=0) - body.head(f"wrist.{letter}"))
    palm = np.cross(along, knuckles[0] - knuckles[3])
    tip = body.head(f"finger3-3.{letter}") - knuckles[1]
    return frame(along, palm if palm @ tip > 0 else -palm)


def _grip(body: RestBody, posed: Posed, side: str, axes: Array) -> Hand:
    letter = SIDES[side]
    knuckles = np.mean([posed.heads[body.bone(f"finger{i}-1.{letter}")] for i in "2345"], axis=0)
    size = body.height / 1.75
    return Hand(knuckles - 0.008 * size * axes[:, 0] + 0.030 * size * axes[:, 1], axes)
