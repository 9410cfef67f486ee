"""What lifters do between sets: movements that are no exercise, drawn from random numbers."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from arm import Arm
from body import Array, Posed, RestBody
from motion import BENCH_TOP, Track, wander
from posture import Hand, Posture, pose

Frame = tuple[Posed, dict[str, Hand]]
Tracks = dict[str, Track]
Kind = Callable[[np.random.Generator, Tracks], float]
"""Moves the tracks; gives the length in seconds."""
BODY = ("lean", "knee", "head", "twist", "sway")
ARM = ("", "_ahead", "_elbow")


def pose_rest(rng: np.random.Generator, body: RestBody, kind: str, rate: float, *, seated: bool) -> list[Frame]:
    """A pose for each picture of one rest; `kind` is one of `RESTS`, `rate` pictures a second."""
    start = dict.fromkeys((*BODY, *(side + name for side in ("left", "right") for name in ARM)), 0.0)
    start |= {"knee": 7.0, "lean": 1.0}
    for side in ("left", "right"):
        start |= dict(zip((side + name for name in ARM), (8.0, 15.0, 14.0), strict=True))
    tracks = {name: Track(value) for name, value in start.items()}
    t = np.arange(0.0, RESTS[kind](rng, tracks), 1 / rate)
    v = {name: track.at(t) for name, track in tracks.items()}
    noise = [wander(rng)(t) for _ in range(4)]
    out = []
    for i in range(len(t)):
        arms = [
            Arm(v[side][i] + 0.4 * shake[i], v[side + "_ahead"][i], max(v[side + "_elbow"][i] + 0.5 * shake[i], 0))
            for side, shake in zip(("left", "right"), noise, strict=False)
        ]
        out.append(
            pose(
                body,
                Posture(
                    lean=v["lean"][i] + 0.4 * noise[2][i],
                    twist=v["twist"][i],
                    head=v["head"][i],
                    knee=v["knee"][i],
                    sway_x=v["sway"][i] + 0.005 * noise[3][i],
                    seat=BENCH_TOP if seated else None,
                    left=arms[0],
                    right=arms[1],
                ),
            )
        )
    return out


def _talking(rng: np.random.Generator, tracks: Tracks) -> float:
    """Gestures with one hand or both, forearms up before the body."""
    now = 0.4
    while now < 6.0:
        sides = [str(rng.choice(["left", "right"]))] if rng.random() < 0.5 else ["left", "right"]
        go, stay, back = (float(x) for x in rng.uniform((0.3, 0.05, 0.35), (0.6, 0.6, 0.7)))
        there = rng.uniform((14, 40, 60), (42, 80, 112))
        for side in sides:
            _there_and_back(tracks, side, now, go, stay, back, there + rng.uniform(-5, 5, 3))
        tracks["head"].to(now, now + go, float(rng.uniform(-6, 8)))
        tracks["twist"].to(now, now + go, float(rng.uniform(-12, 12)))
        now += go + stay + back + float(rng.uniform(0.0, 0.4))
    return now + 0.5


def _drinking(rng: np.random.Generator, tracks: Tracks) -> float:
    """A bottle goes to the mouth with one hand, a few times."""
    side, now = str(rng.choice(["left", "right"])), 0.4
    for _ in range(int(rng.integers(1, 4))):
        go, stay = float(rng.uniform(0.6, 1.0)), float(rng.uniform(0.5, 1.4))
        _there_and_back(tracks, side, now, go, stay, go, rng.uniform((34, 60, 118), (62, 85, 138)))
        tracks["head"].to(now + 0.4 * go, now + go, float(rng.uniform(-26, -10)))
        tracks["head"].to(now + go + stay, now + go + stay + 0.5, 0.0)
        now += 2 * go + stay + float(rng.uniform(0.3, 1.2))
    return now + 0.3


def _scratching(rng: np.random.Generator, tracks: Tracks) -> float:
    """A hand to the head, the neck or the other shoulder, moving there."""
    now = 0.4
    for _ in range(2):
        side = str(rng.choice(["left", "right"]))
        there = rng.uniform((40, 45, 120), (95, 110, 145))
        for name, value in zip(ARM, there, strict=True):
            tracks[side + name].to(now, now + 0.7, float(value))
        for step in range(5):
            tracks[side + "_elbow"].to(now + 0.8 + 0.2 * step, now + 1.0 + 0.2 * step, there[2] + (8, -8)[step % 2])
        for name, value in zip(ARM, (8.0, 15.0, 14.0), strict=True):
            tracks[side + name].to(now + 2.0, now + 2.7, value)
        now += 3.1
    return now


def _shirt(rng: np.random.Generator, tracks: Tracks) -> float:
    """Tugs at the shirt with both hands."""
    now = 0.5
    for _ in range(int(rng.integers(2, 5))):
        there = rng.uniform((16, 40, 75), (40, 75, 112))
        for side in ("left", "right"):
            _there_and_back(tracks, side, now, 0.5, float(rng.uniform(0.1, 0.5)), 0.5, there)
        now += float(rng.uniform(1.3, 2.0))
    return now + 0.4


def _hair(rng: np.random.Generator, tracks: Tracks) -> float:
    """Both hands to the head, as for hair, glasses or a towel; some time there."""
    now = 0.5
    for _ in range(2):
        there, stay = rng.uniform((45, 20, 118), (100, 75, 142)), float(rng.uniform(0.4, 1.4))
        for side in ("left", "right"):
            _there_and_back(tracks, side, now, 0.7, stay, 0.7, there + rng.uniform(-4, 4, 3))
        now += 1.9 + stay
    return now


def _hips(rng: np.random.Generator, tracks: Tracks) -> float:
    """Hands on the hips and off again; once the arms are folded."""
    now = 0.5
    for there in ((rng.uniform((34, -25, 80), (52, 5, 105))), rng.uniform((18, 55, 90), (30, 80, 110))):
        for side in ("left", "right"):
            _there_and_back(tracks, side, now, 0.7, 0.9, 0.7, there)
        now += 2.9
    return now + 0.3


def _stretching(rng: np.random.Generator, tracks: Tracks) -> float:
    """One arm up beside the head or across the chest, held; then the other."""
    now, kind = 0.5, rng.random() < 0.5
    for side in ("left", "right"):
        there = rng.uniform((150, 0, 15), (172, 25, 120)) if kind else rng.uniform((75, 100, 5), (90, 135, 40))
        _there_and_back(tracks, side, now, 1.0, 1.2, 1.0, there)
        now += 3.4
    return now


def _clasped(rng: np.random.Generator, tracks: Tracks) -> float:
    """Clasped hands go up before the body to above the head, once."""
    there = rng.uniform((150, 78, 15), (168, 88, 50))
    for side in ("left", "right"):
        for name, value, rest in zip(ARM, there, (8.0, 80.0, 14.0), strict=True):
            tracks[side + name].to(0.3, 0.8, rest)
            tracks[side + name].to(0.9, 2.2, float(value))
            tracks[side + name].to(3.2, 4.5, rest)
    return 5.4


def _weights(rng: np.random.Generator, tracks: Tracks) -> float:
    """Down to the weights and up, and down to put them back."""
    now = 0.5
    for _ in range(2):
        lean, knee = float(rng.uniform(52, 74)), float(rng.uniform(40, 90))
        for name, there, back in (("lean", lean, 1.0), ("knee", knee, 7.0), ("head", 30.0, 0.0)):
            tracks[name].to(now, now + 1.0, there)
            tracks[name].to(now + 1.5, now + 2.5, back)
        for side in ("left", "right"):
            _there_and_back(tracks, side, now, 0.9, 0.6, 0.8, rng.uniform((5, 20, 5), (25, 70, 25)))
        now += 3.2
    return now


def _waving(rng: np.random.Generator, tracks: Tracks) -> float:
    """One hand waves."""
    side = str(rng.choice(["left", "right"]))
    raised, elbow = float(rng.uniform(45, 110)), float(rng.uniform(50, 100))
    for name, value in zip(ARM, (raised, 15.0, elbow), strict=True):
        tracks[side + name].to(0.5, 1.2, value)
    for step in range(8):
        tracks[side].to(1.2 + 0.3 * step, 1.5 + 0.3 * step, raised + (22, -22)[step % 2])
        tracks[side + "_elbow"].to(1.2 + 0.3 * step, 1.5 + 0.3 * step, elbow + (20, -20)[step % 2])
    for name, value in zip(ARM, (8.0, 15.0, 14.0), strict=True):
        tracks[side + name].to(3.9, 4.6, value)
    return 5.4


def _shoulder_rolls(rng: np.random.Generator, tracks: Tracks) -> float:
    """Shoulders roll, hanging arms go along a little."""
    for step in range(6):
        now = 0.5 + step
        for side in ("left", "right"):
            _there_and_back(tracks, side, now, 0.4, 0.05, 0.4, rng.uniform((14, 0, 20), (28, 40, 45)))
        tracks["sway"].to(now, now + 0.5, 0.02 * (-1) ** step)
    return 7.0


def _clapping(rng: np.random.Generator, tracks: Tracks) -> float:
    """Hands clap before the chest."""
    raised, elbow = float(rng.uniform(22, 45)), float(rng.uniform(60, 95))
    for side in ("left", "right"):
        for name, value in zip(ARM, (raised, 50.0, elbow), strict=True):
            tracks[side + name].to(0.5, 1.2, value)
        for step in range(12):
            tracks[side + "_ahead"].to(1.2 + 0.25 * step, 1.45 + 0.25 * step, (88.0, 45.0)[step % 2])
            tracks[side].to(1.2 + 0.25 * step, 1.45 + 0.25 * step, raised + (8, -8)[step % 2])
        for name, value in zip(ARM, (8.0, 15.0, 14.0), strict=True):
            tracks[side + name].to(4.5, 5.2, value)
    return 6.0


def _standing(rng: np.random.Generator, tracks: Tracks) -> float:
    """Nothing but weight shifted from foot to foot and a look around."""
    for step in range(3):
        tracks["sway"].to(0.6 + 2 * step, 1.4 + 2 * step, float(rng.uniform(-0.06, 0.06)))
        tracks["twist"].to(0.9 + 2 * step, 1.6 + 2 * step, float(rng.uniform(-18, 18)))
    return 7.0


RESTS: dict[str, Kind] = {
    "talking": _talking,
    "drinking": _drinking,
    "scratching": _scratching,
    "shirt": _shirt,
    "hair": _hair,
    "hips": _hips,
    "stretching": _stretching,
    "clasped": _clasped,
    "weights": _weights,
    "waving": _waving,
    "shoulder_rolls": _shoulder_rolls,
    "clapping": _clapping,
    "standing": _standing,
}


def _there_and_back(tracks: Tracks, side: str, start: float, go: float, stay: float, back: float, there: Array) -> None:
    """One arm to a posture (raise, ahead, elbow) and back to where it hangs."""
    for name, value, rest in zip(ARM, there, (8.0, 15.0, 14.0), strict=True):
        tracks[side + name].to(start, start + go, float(value))
        tracks[side + name].to(start + go + stay, start + go + stay + back, rest)
