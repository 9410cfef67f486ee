"""Sets of ten reps whose form breaks down from a known rep: to check the naming of that rep with, never shipped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from motion import FORMS, RepPlan, SetPlan
from random_specs import _body, _look, _room, _yaw
from scene import Camera
from specs import ClipSpec

REPS = 10
KINDS: tuple[tuple[str, str, str], ...] = (
    ("lateral-raise", "front", "range_lost"),
    ("lateral-raise", "side", "swing"),
    ("bent-over-lateral-raise", "side", "torso_rises"),
    ("guided-bar-press", "front", "rushed_lowering"),
    ("lateral-raise", "front", "none"),
    ("overhead-lateral-raise", "front", "range_lost"),
    ("lateral-raise", "front", "one_side_lower"),
    ("lateral-raise", "back", "slow_lift"),
    ("bent-over-lateral-raise", "front", "range_lost"),
    ("guided-bar-press", "front", "slow_lift"),
    ("overhead-lateral-raise", "front", "none"),
    ("lateral-raise", "back", "range_lost"),
)
"""Exercise, where the camera stands, and what breaks down; ``none``: a set that stays as it is."""


def breakdown_specs(count: int, seed: int) -> list[ClipSpec]:
    """`count` sets, the kinds in turn; ``faults`` names the reps from the first broken one to the last."""
    return [_one(np.random.default_rng([seed, number, REPS]), seed, number) for number in range(count)]


def _one(rng: np.random.Generator, seed: int, number: int) -> ClipSpec:
    exercise, place, kind = KINDS[number % len(KINDS)]
    yaw, view = _yaw(rng, place)
    form = FORMS[exercise]
    plain = RepPlan(con=float(rng.uniform(0.75, 0.95)), top=0.25, ecc=float(rng.uniform(1.0, 1.3)), bottom=0.35)
    first = int(rng.integers(4, REPS - 1))
    change = _change(rng, exercise, kind)
    reps = tuple(plain if rep < first else replace(plain, **change(plain, rep - first)) for rep in range(1, REPS + 1))
    return ClipSpec(
        name=f"{exercise.replace('-', '_')}_{view}_{kind}_{seed}_{number}",
        plan=SetPlan(exercise, reps, seed=seed * 1000 + number, form=form, still=0.8, tail=0.6),
        body=_body(rng),
        look=_look(rng),
        camera=Camera(
            yaw=0.6 * yaw if place == "front" else yaw,
            distance=float(rng.uniform(3.0, 4.5)),
            height=float(rng.uniform(0.9, 1.4)),
            margin=0.25 if exercise == "guided-bar-press" else float(rng.uniform(0.08, 0.25)),
            width=480,
            height_px=854,
        ),
        view=view,
        room=_room(rng),
        faults=() if kind == "none" else ((kind, tuple(range(first, REPS + 1))),),
        fps=25.0,
    )


def _change(rng: np.random.Generator, exercise: str, kind: str) -> Callable[[RepPlan, int], dict[str, Any]]:
    """What a broken rep has instead, by the number of broken reps before it: at once, and often more with each rep."""
    grows = float(rng.choice([0.0, 0.5, 1.0]))
    form = FORMS[exercise]
    share, side = float(rng.uniform(0.10, 0.15)), str(rng.choice(["left_lower", "right_lower"]))
    span = form.high - form.low
    at_once: dict[str, Callable[[RepPlan, int], dict[str, Any]]] = {
        "none": lambda plain, late: {},
        "range_lost": lambda plain, late: {"high": form.high - span * (share + 0.04 * grows * min(late, 4))},
        "swing": lambda plain, late: {"swing": 60 * share + 1.5 * grows * late},
        "torso_rises": lambda plain, late: {"torso_rise": 90 * share + 3.0 * grows * late},
        "one_side_lower": lambda plain, late: {side: 80 * share + 1.5 * grows * late},
        "rushed_lowering": lambda plain, late: {"ecc": plain.ecc * (0.65 - 0.05 * grows * min(late, 3))},
        "slow_lift": lambda plain, late: {"con": plain.con * (1.3 + 0.1 * grows * late)},
    }
    return at_once[kind]
