"""Random lifters, sets and cameras: material to tune and check the measuring with, never shipped."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from motion import FORMS, RepPlan, SetPlan
from scene import Camera, Room
from specs import ClipSpec, Faults
from wardrobe import Colour, Look

SKINS: tuple[Colour, ...] = (
    (0.93, 0.77, 0.68),
    (0.86, 0.68, 0.56),
    (0.74, 0.55, 0.42),
    (0.58, 0.41, 0.31),
    (0.45, 0.31, 0.23),
    (0.33, 0.22, 0.16),
)


def random_specs(count: int, seed: int) -> list[ClipSpec]:
    """`count` sets, the four exercises in turn."""
    return [_one(np.random.default_rng([seed, number]), seed, number) for number in range(count)]


def _one(rng: np.random.Generator, seed: int, number: int) -> ClipSpec:
    exercise = tuple(VIEWS)[number % len(VIEWS)]
    views = VIEWS[exercise]
    yaw, view = _yaw(rng, views[number // len(VIEWS) % len(views)])
    reps, faults = _reps(rng, exercise)
    base = FORMS[exercise]
    form = replace(
        base,
        forward=base.forward + rng.uniform(-6, 10),
        elbow_low=base.elbow_low + rng.uniform(-4, 10),
        elbow_high=base.elbow_high + rng.uniform(-4, 14),
        lean=base.lean + (rng.uniform(-14, 5) if base.lean > 45 else rng.uniform(-2, 4)),
        knee=base.knee + rng.uniform(-3, 8),
    )
    portrait = rng.random() < 0.6
    camera = Camera(
        yaw=yaw,
        distance=float(rng.uniform(2.8, 4.8)),
        height=float(rng.uniform(0.8, 1.5)),
        shift=float(rng.uniform(-0.1, 0.1)),
        margin=0.25 if exercise == "guided-bar-press" else float(rng.uniform(0.06, 0.3)),
        width=480 if portrait else 960,
        height_px=854 if portrait else 540,
    )
    plan = SetPlan(
        exercise,
        reps,
        seed=seed * 1000 + number,
        form=form,
        still=0.8,
        tail=0.6,
        variety=1.3,
        setup=str(rng.choice(["still", "settle"])),
    )
    return ClipSpec(
        name=f"{exercise.replace('-', '_')}_{view}_{seed}_{number}",
        plan=plan,
        body=_body(rng),
        look=_look(rng),
        camera=camera,
        view=view,
        room=_room(rng),
        faults=faults,
    )


VIEWS: dict[str, tuple[str, ...]] = {
    "lateral-raise": ("front", "side", "back", "front", "oblique"),
    "overhead-lateral-raise": ("front", "front", "side", "oblique", "back"),
    "bent-over-lateral-raise": ("side", "front", "side", "front", "oblique"),
    "guided-bar-press": ("front", "side", "front", "oblique", "front"),
}
"""Where the camera stands in the first, second, ... set of an exercise."""


def _yaw(rng: np.random.Generator, kind: str) -> tuple[float, str]:
    """Camera angle and what it is called."""
    sign = float(rng.choice([-1.0, 1.0]))
    if kind == "front":
        return float(rng.uniform(-20, 20)), "front"
    if kind == "back":
        return sign * float(rng.uniform(162, 180)), "back"
    if kind == "side":
        return sign * float(rng.uniform(78, 102)), "left" if sign > 0 else "right"
    return sign * float(rng.uniform(25, 45)), "oblique"


def _reps(rng: np.random.Generator, exercise: str) -> tuple[tuple[RepPlan, ...], Faults]:
    count = int(rng.integers(4, 6))
    form = FORMS[exercise]
    con, ecc = float(rng.uniform(0.7, 1.0)), float(rng.uniform(0.8, 1.3))
    plain = RepPlan(con=con, top=float(rng.uniform(0.2, 0.4)), ecc=ecc, bottom=float(rng.uniform(0.3, 0.5)))
    highs = form.high * (1 + rng.uniform(-0.04, 0.04) + rng.uniform(-0.02, 0.02, count))
    if exercise == "guided-bar-press":
        highs = np.minimum(highs, 1.0)
    reps = [replace(plain, high=float(high)) for high in highs]
    late = tuple(range(count - 1, count + 1))
    kinds = {
        "lateral-raise": ["none", "range_lost", "one_side_lower", "swing"],
        "overhead-lateral-raise": ["none", "stops_at_shoulder_height", "one_side_lower"],
        "bent-over-lateral-raise": ["none", "torso_rises", "range_lost"],
        "guided-bar-press": ["none", "rushed_lowering"],
    }[exercise]
    kind = str(rng.choice(kinds))
    if kind == "none":
        return tuple(reps), ()
    changes: dict[str, dict[str, Any]] = {
        "range_lost": {"high": form.high * float(rng.uniform(0.7, 0.85))},
        "stops_at_shoulder_height": {"high": float(rng.uniform(90, 98))},
        "one_side_lower": {str(rng.choice(["left_lower", "right_lower"])): float(rng.uniform(9, 16))},
        "swing": {"swing": float(rng.uniform(8, 14))},
        "torso_rises": {"torso_rise": float(rng.uniform(12, 24))},
        "rushed_lowering": {"ecc": float(rng.uniform(0.45, 0.6))},
    }
    which = late if kind in {"range_lost", "stops_at_shoulder_height"} else tuple(range(2, count + 1))
    for one in which:
        reps[one - 1] = replace(reps[one - 1], **changes[kind])
    return tuple(reps), ((kind, which),)


def _body(rng: np.random.Generator) -> dict[str, float]:
    gender = float(rng.choice([0.0, 1.0]))
    mix = rng.dirichlet([0.5, 0.5, 0.5])
    return {
        "gender": gender,
        "age": float(rng.uniform(0.5, 0.95)),
        "muscle": float(rng.uniform(0.4, 0.8)),
        "weight": float(rng.uniform(0.3, 0.85)),
        "height": 0.5,
        "proportions": float(rng.uniform(0.4, 0.7)),
        "african": float(mix[0]),
        "asian": float(mix[1]),
        "caucasian": float(mix[2]),
        "stature": float(rng.normal(1.77 - 0.12 * gender, 0.06)),
    }


def _look(rng: np.random.Generator) -> Look:
    def colour(low: float, high: float) -> Colour:
        red, green, blue = (float(x) for x in rng.uniform(low, high, 3))
        return red, green, blue

    grey = float(rng.uniform(0.05, 0.6))
    tights = bool(rng.random() < 0.35)
    return Look(
        skin=SKINS[int(rng.integers(len(SKINS)))],
        hair=(grey, grey * float(rng.uniform(0.7, 1.0)), grey * float(rng.uniform(0.5, 1.0))),
        hair_style=str(rng.choice(["short", "short", "bun", "long"])),
        shirt=colour(0.12, 0.88),
        sleeve=float(rng.choice([0.0, 0.4, 0.55])),
        shirt_ease=float(rng.uniform(0.005, 0.014)),
        shorts=colour(0.08, 0.6),
        leg=0.93 if tights else float(rng.uniform(0.32, 0.45)),
        shorts_ease=0.004 if tights else 0.010,
        shoes=colour(0.1, 0.9),
    )


def _room(rng: np.random.Generator) -> Room:
    wall, floor = float(rng.uniform(0.5, 0.85)), float(rng.uniform(0.22, 0.5))
    tint = rng.uniform(-0.05, 0.05, 6)
    things = tuple(str(x) for x in rng.permutation(["box", "window", "rack", "mat", "mirror", "plant"])[:2])
    return Room(
        wall=(wall + float(tint[0]), wall + float(tint[1]), wall + float(tint[2])),
        floor=(floor + float(tint[3]), floor + float(tint[4]), floor + float(tint[5])),
        depth=float(rng.uniform(1.6, 2.6)),
        turn=float(rng.uniform(-8, 8)),
        things=things,
        light=float(rng.uniform(0.75, 1.05)),
        plate=float(rng.uniform(0.038, 0.055)),
    )
