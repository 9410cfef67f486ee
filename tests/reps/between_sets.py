"""What lifters do between sets, made with the stick figure of `tests.lifter`: invented movements, none an exercise."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from formcheck.core.model import Array, LandmarkRecording
from formcheck.signals.skeleton import INDEX
from tests import lifter

RIGHT_ARM = [INDEX[f"right_{part}"] for part in ("elbow", "wrist", "index", "pinky")]
REST = {"raised": 7.0, "plane": 15.0, "elbow": 10.0}
"""How an arm hangs: upper arm from straight down, plane of its elevation, elbow; degrees."""
Keys = Sequence[tuple[float, float, Mapping[str, float]]]
"""Begin and end of a change, seconds, and what it leads to."""
Plan = tuple[float, Keys, Keys, Keys]
"""Seconds; what the left arm, the right arm and the body do."""


def filmed(plan: Plan, *, yaw: float = 0.0, rate: float = 30.0, noise_px: float = 1.0, seed: int = 0,
           standing: Mapping[str, float] | None = None) -> LandmarkRecording:  # fmt: skip
    """The movement before a distant camera."""
    length, left, right, body = plan
    t = lifter.times(length, rate)
    base = {"torso": 2.0, "knee": 8.0, "head": 0.0, **(standing or {})}
    common = {name: _course(t, body, name, value) for name, value in base.items()}
    arms = [{name: _course(t, keys, name, value) for name, value in REST.items()} for keys in (left, right)]
    films = [
        lifter.film(
            t, left=arm["raised"], right=arm["raised"], plane=arm["plane"], elbow=arm["elbow"], yaw=yaw,
            noise_px=noise_px, seed=seed, **common,
        )
        for arm in arms
    ]  # fmt: skip
    pixels, world = np.array(films[0].pixels), np.array(films[0].world)
    pixels[:, RIGHT_ARM], world[:, RIGHT_ARM] = films[1].pixels[:, RIGHT_ARM], films[1].world[:, RIGHT_ARM]
    return lifter.recording(t, pixels, world)


def _course(t: Array, keys: Keys, name: str, start: float) -> Array:
    out, now = np.full(t.shape, start), start
    for begin, end, goals in keys:
        if name in goals:
            out = out + (goals[name] - now) * lifter.minimum_jerk((t - begin) / (end - begin))
            now = goals[name]
    return out


def _visits(start: float, go: float, stay: float, back: float, **there: float) -> list[Any]:
    home = {name: REST.get(name, 2.0) for name in there}
    return [(start, start + go, there), (start + go + stay, start + go + stay + back, home)]


def drinking(rng: np.random.Generator) -> Plan:
    keys: list[Any] = []
    for start in (0.6, 4.2):
        keys += _visits(start, 0.9, 0.9, 0.9, raised=rng.uniform(35, 62), plane=rng.uniform(60, 85),
                        elbow=rng.uniform(120, 138))  # fmt: skip
    return 8.0, *_either(rng, keys), []


def scratching(rng: np.random.Generator) -> Plan:
    keys: list[Any] = []
    for start in (0.6, 4.0):
        keys += _visits(start, 0.7, 1.2, 0.7, raised=rng.uniform(45, 95), plane=rng.uniform(45, 110),
                        elbow=rng.uniform(122, 145))  # fmt: skip
    return 7.5, *_either(rng, keys), []


def shirt(rng: np.random.Generator) -> Plan:
    keys: list[Any] = []
    for start in (0.6, 2.6, 4.4):
        keys += _visits(start, 0.5, 0.3, 0.5, raised=rng.uniform(18, 40), plane=rng.uniform(40, 75),
                        elbow=rng.uniform(80, 112))  # fmt: skip
    return 6.5, keys, keys, []


def hair(rng: np.random.Generator) -> Plan:
    """Both hands to the head."""
    keys: list[Any] = []
    for start in (0.6, 3.8):
        keys += _visits(start, 0.7, 1.0, 0.7, raised=rng.uniform(50, 95), plane=rng.uniform(20, 75),
                        elbow=rng.uniform(122, 142))  # fmt: skip
    return 7.2, keys, keys, []


def hips(rng: np.random.Generator) -> Plan:
    """Hands on the hips, and off again."""
    keys: list[Any] = []
    for start in (0.6, 3.8):
        keys += _visits(start, 0.6, 1.0, 0.6, raised=rng.uniform(35, 52), plane=rng.uniform(-20, 5),
                        elbow=-rng.uniform(80, 100))  # fmt: skip
    return 7.0, keys, keys, []


def talking(rng: np.random.Generator) -> Plan:
    arms: list[list[Any]] = [[], []]
    now = 0.5
    while now < 7.0:
        both = rng.random() < 0.5
        go, stay, back = rng.uniform((0.3, 0.1, 0.35), (0.6, 0.6, 0.7))
        for index in (0, 1) if both else (int(rng.integers(2)),):
            arms[index] += _visits(now, go, stay, back, raised=rng.uniform(14, 40), plane=rng.uniform(40, 80),
                                   elbow=rng.uniform(65, 112))  # fmt: skip
        now += go + stay + back + 0.2
    return now + 0.5, arms[0], arms[1], []


def stretching(rng: np.random.Generator) -> Plan:
    """One arm up beside the head, then the other."""
    up = {"raised": rng.uniform(150, 170), "plane": rng.uniform(0, 20), "elbow": rng.uniform(10, 40)}
    return 8.0, _visits(0.6, 1.0, 1.2, 1.0, **up), _visits(4.2, 1.0, 1.2, 1.0, **up), []


def across(rng: np.random.Generator) -> Plan:
    """One arm across the chest, then the other."""
    there = {"raised": rng.uniform(75, 90), "plane": rng.uniform(95, 125), "elbow": rng.uniform(5, 30)}
    return 8.0, _visits(0.6, 1.0, 1.2, 1.0, **there), _visits(4.2, 1.0, 1.2, 1.0, **there), []


def waving(rng: np.random.Generator) -> Plan:
    raised, elbow = rng.uniform(55, 105), rng.uniform(60, 95)
    keys: list[Any] = [(0.6, 1.2, {"raised": raised, "plane": 10.0, "elbow": elbow})]
    for step in range(7):
        swing = (18, -18)[step % 2]
        keys.append((1.3 + 0.35 * step, 1.65 + 0.35 * step, {"raised": raised + swing, "elbow": elbow + swing}))
    keys.append((4.0, 4.8, dict(REST)))
    return 5.8, *_either(rng, keys), []


def clapping(rng: np.random.Generator) -> Plan:
    raised, elbow = rng.uniform(24, 42), rng.uniform(60, 95)
    keys: list[Any] = [(0.6, 1.2, {"raised": raised, "plane": 50.0, "elbow": elbow})]
    keys += [(1.3 + 0.25 * step, 1.5 + 0.25 * step, {"plane": (88.0, 50.0)[step % 2]}) for step in range(10)]
    keys.append((4.2, 5.0, dict(REST)))
    return 6.0, keys, keys, []


def weights(rng: np.random.Generator) -> Plan:
    """Down to the weights and up again, and down to put them back."""
    body: list[Any] = []
    arms: list[Any] = []
    for start in (0.6, 4.2):
        torso, knee = rng.uniform(50, 75), rng.uniform(40, 85)
        body += [(start, start + 1.0, {"torso": torso, "knee": knee, "head": 25.0}),
                 (start + 1.5, start + 2.5, {"torso": 2.0, "knee": 8.0, "head": 0.0})]  # fmt: skip
        arms += _visits(start, 1.0, 0.5, 0.9, raised=rng.uniform(5, 22), plane=rng.uniform(20, 70))
    return 7.5, arms, arms, body


def front_stretch(rng: np.random.Generator) -> Plan:
    """Both arms go up ahead, hands together, to above the head, once."""
    arms = [(0.1, 0.5, {"plane": 92.0})]
    arms += _visits(0.8, 1.2, 1.0, 1.2, raised=rng.uniform(150, 168), elbow=rng.uniform(10, 40))
    return 5.5, arms, arms, []


def _either(rng: np.random.Generator, keys: Keys) -> tuple[Keys, Keys]:
    return (keys, []) if rng.random() < 0.5 else ([], keys)


MOVEMENTS: dict[str, Callable[[np.random.Generator], Plan]] = {
    "drinking": drinking,
    "scratching": scratching,
    "adjusting the shirt": shirt,
    "both hands to the head": hair,
    "hands on the hips": hips,
    "talking": talking,
    "one arm up": stretching,
    "one arm across": across,
    "waving": waving,
    "clapping": clapping,
    "picking up and putting down": weights,
    "stretching ahead": front_stretch,
}
