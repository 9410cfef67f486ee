"""The sets of the accuracy benchmark: made from one seed and a number each, split by number, never by result.

Conditions run in cycles of different lengths, so that every part of the split holds every condition, and what is not
on a cycle is drawn at random from the set's own seed. The pictures are rendered where they are needed
(``render.py --benchmark DIR``); only this list, the split and the landmarks seen are kept.
Longer than other modules, since it is mostly a list: data.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from company import Company
from motion import FORMS, Form, RepPlan, SetPlan
from random_specs import SKINS
from scene import Camera, Room
from specs import ClipSpec, Faults
from spoil import Spoil
from wardrobe import Colour, Look

Part = Literal["tuning", "reporting"]
SEED = 2611
COUNT = 70
TUNING = 32
"""Sets numbered below this, and those of `FURTHER`, are for tuning, the others for reporting only."""
IDLE_EVERY, IDLE_KINDS = 11, ("walking", "drinking", "adjusting")
"""Every eleventh clip shows the lifter without the exercise."""

EXERCISES = ("lateral-raise", "overhead-lateral-raise", "bent-over-lateral-raise", "guided-bar-press")
VIEWS = {
    "lateral-raise": ("near", "mid", "side", "far", "back"),
    "overhead-lateral-raise": ("mid", "near", "far", "side", "back"),
    "bent-over-lateral-raise": ("side", "near", "mid", "far", "back"),
    "guided-bar-press": ("near", "side", "mid", "far", "mid"),
}
"""Where the camera stands in the first, second, ... set of an exercise: yaw 0-10, 10-30, 30-45, side, behind."""
FAULTS: dict[tuple[str, bool], tuple[str, ...]] = {
    ("lateral-raise", False): ("none", "one_side_lower", "range_lost", "none", "partial", "rushed_lowering"),
    ("lateral-raise", True): ("swing", "none", "swing"),
    ("overhead-lateral-raise", False): (
        *("stops_at_shoulder_height", "none", "one_side_lower", "range_lost", "none", "partial"),
        *("stops_at_shoulder_height", "none", "one_side_lower", "stops_at_shoulder_height", "none", "partial"),
    ),
    ("overhead-lateral-raise", True): ("none", "swing", "none"),
    ("bent-over-lateral-raise", False): ("none", "one_side_lower", "partial", "none", "range_lost", "rushed_lowering"),
    ("bent-over-lateral-raise", True): ("torso_rises", "none", "torso_rises"),
    ("guided-bar-press", False): ("none", "rushed_lowering", "range_lost", "none", "partial"),
    ("guided-bar-press", True): ("none", "rushed_lowering"),
}
"""What is planted in the first, second, ... set of an exercise seen otherwise than (False) or from (True) the side."""
RATES = (30.0, 24.0, 25.0, 30.0, 24.0, 60.0, 25.0, 24.0, 30.0, 25.0, 50.0, 24.0, 25.0)
VARIABLE_EVERY = 7
SIZES = ((480, 854), (854, 480), (480, 640), (720, 1280), (480, 854), (1280, 720), (848, 480))
FULL_HD_EVERY, FULL_HD = 33, (1080, 1920)
SPOILS = (
    Spoil(),
    Spoil(exposure=0.8),
    Spoil(),
    Spoil(noise=11.0, crf=26),
    Spoil(),
    Spoil(light=0.3, noise=8.0, exposure=0.9, crf=27),
    Spoil(),
    Spoil(crf=38),
    Spoil(),
)
COMPANY = ("none", "still", "none", "mirror", "none", "walking", "none", "before", "none", "none", "none")
SLOW_EVERY = 12

FURTHER_FROM = 100
FURTHER: tuple[tuple[str, str, str, str], ...] = (
    ("lateral-raise", "back", "none", "slow"),
    ("overhead-lateral-raise", "behind", "none", ""),
    ("bent-over-lateral-raise", "back", "range_lost", ""),
    ("guided-bar-press", "back", "none", ""),
    ("lateral-raise", "behind", "range_lost", "fast"),
    ("overhead-lateral-raise", "back", "stops_at_shoulder_height", ""),
    ("bent-over-lateral-raise", "behind", "none", "slow"),
    ("guided-bar-press", "behind", "range_lost", "fast"),
    ("lateral-raise", "back", "one_side_lower", "bent"),
    ("overhead-lateral-raise", "behind", "one_side_lower", "slow"),
    ("bent-over-lateral-raise", "back", "rushed_lowering", ""),
    ("guided-bar-press", "back", "rushed_lowering", ""),
    ("lateral-raise", "near", "one_side_lower", ""),
    ("overhead-lateral-raise", "mid", "one_side_lower", "bent"),
    ("bent-over-lateral-raise", "near", "one_side_lower", ""),
    ("guided-bar-press", "mid", "rushed_lowering", ""),
    ("lateral-raise", "side", "swing", ""),
    ("bent-over-lateral-raise", "side", "torso_rises", ""),
    ("lateral-raise", "mid", "rushed_lowering", "bent"),
    ("overhead-lateral-raise", "back", "none", "fast"),
)
"""Sets numbered from `FURTHER_FROM` on, for tuning only: exercise, place, what is planted, and strokes slow or fast or
elbows bent more than the exercise asks. Most are seen from behind, of which the cycles above make few."""
FURTHER_SIZES, FURTHER_RATES = ((360, 640), (640, 360), (480, 480)), (30.0, 25.0, 24.0, 30.0)
BENT_MORE_DEG = 25.0


@dataclass(frozen=True)
class BenchmarkSet:
    """One clip of the benchmark."""

    number: int
    part: Part
    spec: ClipSpec
    spoil: Spoil
    company: Company
    idle: str | None
    """What the lifter does instead of the exercise, or None."""
    slow: bool
    second_build: bool
    """The joints lie elsewhere under the skin and the shoulder girdle follows the arm less than in the usual bodies."""


def benchmark_sets(part: Part | None = None) -> tuple[BenchmarkSet, ...]:
    """All sets, or those of one part, in the order of their numbers."""
    seen: Counter[tuple[str, bool]] = Counter()
    sets, turn = [], 0
    for number in range(COUNT):
        idle = number % IDLE_EVERY == IDLE_EVERY - 1
        exercise = EXERCISES[turn % len(EXERCISES)]
        views = VIEWS[exercise]
        view = "near" if idle else views[turn // len(EXERCISES) % len(views)]
        faults = FAULTS[exercise, view == "side"]
        fault = faults[seen[exercise, view == "side"] % len(faults)]
        kind = IDLE_KINDS[number // IDLE_EVERY % len(IDLE_KINDS)] if idle else None
        sets.append(_one(number, exercise, view, "none" if idle else fault, kind))
        if not idle:
            turn += 1
            seen[exercise, view == "side"] += 1
    sets += [_further(FURTHER_FROM + index, *row) for index, row in enumerate(FURTHER)]
    return tuple(one for one in sets if part in (None, one.part))


def _further(number: int, exercise: str, place: str, fault: str, manner: str) -> BenchmarkSet:
    """A set of `FURTHER`: drawn like the others, with a small picture, and done in the manner named."""
    one = _one(number, exercise, place, fault, None, slow=manner == "slow")
    plan, form = one.spec.plan, one.spec.plan.form
    if manner == "fast":
        plan = replace(plan, reps=tuple(replace(rep, con=0.5, ecc=min(rep.ecc, 0.95)) for rep in plan.reps))
    if manner == "bent" and form is not None:
        elbows = {name: getattr(form, name) + BENT_MORE_DEG for name in ("elbow_low", "elbow_high")}
        plan = replace(plan, form=replace(form, **elbows))
    width, height = FURTHER_SIZES[number % len(FURTHER_SIZES)]
    spec = replace(
        one.spec,
        plan=plan,
        camera=replace(one.spec.camera, width=width, height_px=height),
        fps=30.0 if one.spec.phone_like else FURTHER_RATES[number % len(FURTHER_RATES)],
    )
    return replace(one, part="tuning", spec=spec)


def _one(
    number: int, exercise: str, place: str, fault: str, idle: str | None, *, slow: bool | None = None
) -> BenchmarkSet:
    rng = np.random.default_rng([SEED, number])
    yaw, view = _yaw(rng, place)
    if slow is None:
        slow = number % SLOW_EVERY == SLOW_EVERY - 5 and idle is None and fault == "none"
    rate = 25.0 if slow else RATES[number % len(RATES)]
    variable = number % VARIABLE_EVERY == 3
    second = number % 3 == 2
    size = FULL_HD if number % FULL_HD_EVERY == 5 else SIZES[number % len(SIZES)]
    few = rate > 40 or number % 2 == 1
    reps, faults = _reps(rng, exercise, fault, slow=slow, few=few)
    room = _room(rng, COMPANY[number % len(COMPANY)])
    look = _look(rng, number, room)
    what = f"no_exercise_{idle}" if idle else exercise.replace("-", "_")
    plan = SetPlan(
        exercise,
        () if idle else reps,
        seed=SEED * 100 + number,
        form=_form(rng, exercise),
        still=0.6,
        tail=0.4,
        variety=1.2,
        setup=str(rng.choice(["still", "still", "settle"])),
    )
    spec = ClipSpec(
        name=f"set_{number:02}_{what}_{view}",
        plan=plan,
        body=_body(rng, number, second=second),
        look=look,
        camera=_camera(rng, yaw, size, exercise),
        view=view,
        room=room,
        faults=() if idle else faults,
        fps=30.0 if variable else rate,
        phone_like=variable,
    )
    company = _company(rng, COMPANY[number % len(COMPANY)], number)
    return BenchmarkSet(
        number,
        "tuning" if number < TUNING else "reporting",
        spec,
        SPOILS[number % len(SPOILS)],
        company,
        idle,
        slow,
        second,
    )


def _yaw(rng: np.random.Generator, place: str) -> tuple[float, str]:
    """Camera angle, and what a view from there is called."""
    sign = float(rng.choice([-1.0, 1.0]))
    if place == "side":
        return sign * float(rng.uniform(80, 100)), "left" if sign > 0 else "right"
    if place == "back":
        return sign * float(rng.uniform(160, 180)), "back"
    if place == "behind":
        yaw = sign * float(rng.uniform(135, 160))
        return yaw, "back" if abs(yaw) >= 155 else "oblique"
    low, high = {"near": (0.0, 10.0), "mid": (10.0, 30.0), "far": (30.0, 45.0)}[place]
    yaw = sign * float(rng.uniform(low, high))
    return yaw, "front" if abs(yaw) <= 25 else "oblique"


def _camera(rng: np.random.Generator, yaw: float, size: tuple[int, int], exercise: str) -> Camera:
    tilted = rng.random() < 0.4
    return Camera(
        yaw=yaw,
        distance=float(rng.uniform(2.5, 6.0)),
        height=float(rng.uniform(0.5, 1.8)),
        shift=float(rng.uniform(-0.15, 0.15)),
        margin=0.25 if exercise == "guided-bar-press" else float(rng.uniform(0.06, 0.45)),
        width=size[0],
        height_px=size[1],
        roll=float(rng.uniform(-3, 3)) if tilted else 0.0,
    )


def _form(rng: np.random.Generator, exercise: str) -> Form:
    """How this lifter does the exercise, inside what its checks allow."""
    base = FORMS[exercise]
    bent = exercise == "bent-over-lateral-raise"
    return replace(
        base,
        forward=base.forward + float(rng.uniform(-6, 10)),
        elbow_low=base.elbow_low + float(rng.uniform(-4, 6)),
        elbow_high=base.elbow_high + float(rng.uniform(-2, 6)),
        lean=base.lean + float(rng.uniform(0, 6) if bent else rng.uniform(-2, 3)),
        knee=base.knee + float(rng.uniform(-3, 8)),
    )


def _reps(
    rng: np.random.Generator, exercise: str, fault: str, *, slow: bool, few: bool
) -> tuple[tuple[RepPlan, ...], Faults]:
    """Repetitions and where the fault is planted; a clean lowering takes the second its check asks for, and more."""
    low_high = ((2.2, 4.0), (2.2, 4.0)) if slow else ((0.6, 1.0), (1.25, 1.5))
    con, ecc = (float(rng.uniform(*span)) for span in low_high)
    plain = RepPlan(con=con, top=float(rng.uniform(0.1, 0.3)), ecc=ecc, bottom=float(rng.uniform(0.2, 0.4)))
    high = FORMS[exercise].high
    whole_set = fault in ("none", "one_side_lower", "stops_at_shoulder_height")
    count = 2 if slow or (whole_set and few) else 3
    highs = high * (1 + rng.uniform(-0.03, 0.03) + rng.uniform(-0.01, 0.01, count))
    if exercise == "guided-bar-press":
        highs = np.minimum(highs, 1.0)
    reps = [replace(plain, high=float(one)) for one in highs]
    pressing = exercise == "guided-bar-press"
    last = len(reps)
    changes: dict[str, tuple[tuple[int, ...], dict[str, Any]]] = {
        "none": ((), {}),
        "range_lost": ((last,), {"high": high * float(rng.uniform(0.66, 0.78))}),
        "partial": ((last,), {"high": high * float(rng.uniform(0.48, 0.56) if pressing else rng.uniform(0.38, 0.5))}),
        "stops_at_shoulder_height": (tuple(range(1, last + 1)), {"high": float(rng.uniform(88, 105))}),
        "one_side_lower": (
            tuple(range(1, last + 1)),
            {str(rng.choice(["left_lower", "right_lower"])): float(rng.uniform(12, 20))},
        ),
        "swing": (tuple(range(2, last + 1)), {"swing": float(rng.uniform(9, 16))}),
        "torso_rises": (tuple(range(2, last + 1)), {"torso_rise": float(rng.uniform(16, 28))}),
        "rushed_lowering": (tuple(range(2, last + 1)), {"ecc": float(rng.uniform(0.6, 0.7))}),
    }
    which, change = changes[fault]
    for number in which:
        reps[number - 1] = replace(reps[number - 1], **change)
    if not which:
        return tuple(reps), ()
    # A partial repetition has lost its range as well.
    kinds = ("range_lost", "partial") if fault == "partial" else (fault,)
    return tuple(reps), tuple((kind, which) for kind in kinds)


def _body(rng: np.random.Generator, number: int, *, second: bool) -> dict[str, float]:
    """Sexes in turn, light to heavy, young to old; the second build has its joints elsewhere."""
    female = number % 2 == 1
    mix = rng.dirichlet([0.5, 0.5, 0.5])
    body = {
        "gender": float(female),
        "age": float(rng.uniform(0.45, 1.0)),
        "muscle": float(rng.uniform(0.35, 0.85)),
        "weight": float(rng.uniform(0.2, 0.95)),
        "height": 0.5,
        "proportions": float(rng.uniform(0.25, 0.75)),
        "african": float(mix[0]),
        "asian": float(mix[1]),
        "caucasian": float(mix[2]),
        "stature": float(np.clip(rng.normal(1.77 - 0.12 * female, 0.07), 1.5, 2.0)),
    }
    if second:
        shift = {"shoulder_out": 0.012, "shoulder_up": 0.012, "hip_out": 0.015, "hip_up": 0.02}
        body |= {name: float(rng.uniform(-most, most)) for name, most in shift.items()}
        body["girdle"] = float(rng.uniform(0.15, 0.5))
    return body


def _look(rng: np.random.Generator, number: int, room: Room) -> Look:
    """Clothes that stand out from skin and wall, or (every fourth) hardly do; tight or loose, plain or striped."""

    def colour(low: float, high: float) -> Colour:
        red, green, blue = (float(x) for x in rng.uniform(low, high, 3))
        return red, green, blue

    def near(other: Colour) -> Colour:
        red, green, blue = (float(np.clip(x + rng.uniform(-0.06, 0.06), 0, 1)) for x in other)
        return red, green, blue

    skin = SKINS[number % len(SKINS)]
    similar = number % 4 == 1
    grey = float(rng.uniform(0.05, 0.7))
    tight = bool(rng.random() < 0.5)
    shirt = near(room.wall if rng.random() < 0.5 else skin) if similar else colour(0.1, 0.9)
    return Look(
        skin=skin,
        hair=(grey, grey * float(rng.uniform(0.75, 1.0)), grey * float(rng.uniform(0.55, 1.0))),
        hair_style=str(rng.choice(["short", "bun", "long", "none"])),
        shirt=shirt,
        sleeve=float(rng.choice([0.0, 0.45, 0.6, 0.95])),
        shirt_ease=float(rng.uniform(0.004, 0.008) if tight else rng.uniform(0.014, 0.024)),
        shorts=near(shirt) if similar else colour(0.06, 0.7),
        leg=float(rng.choice([0.34, 0.45, 0.6, 0.93])),
        shorts_ease=0.005 if tight else 0.013,
        shoes=colour(0.1, 0.9),
        stripes=colour(0.1, 0.9) if number % 6 == 4 else None,
    )


def _room(rng: np.random.Generator, company: str) -> Room:
    wall, floor = float(rng.uniform(0.4, 0.85)), float(rng.uniform(0.2, 0.55))
    tint = rng.uniform(-0.06, 0.06, 6)
    mirror = company == "mirror"
    things = ["box", "window", "rack", "mat", "plant"] if not mirror else ["box", "mat"]
    chosen = tuple(str(x) for x in rng.permutation(things)[:2])
    return Room(
        wall=(wall + float(tint[0]), wall + float(tint[1]), wall + float(tint[2])),
        floor=(floor + float(tint[3]), floor + float(tint[4]), floor + float(tint[5])),
        depth=float(rng.uniform(2.1, 2.8)),
        # Turned enough for the mirror image to stand beside the lifter, not behind.
        turn=float(rng.choice([-1.0, 1.0]) * rng.uniform(7, 12) if mirror else rng.uniform(-8, 8)),
        things=("mirror wall", *chosen) if mirror else chosen,
        light=float(rng.uniform(0.7, 1.05)),
        plate=float(rng.uniform(0.038, 0.06)),
    )


def _company(rng: np.random.Generator, kind: str, number: int) -> Company:
    if kind in ("still", "walking"):
        room = Room()
        return Company(
            person=kind,
            person_body=_body(rng, number + 1, second=False),
            person_look=_look(rng, number + 2, room),
        )
    if kind == "mirror":
        return Company(mirror=True)
    if kind == "before":
        return Company(before=("bench", "post", "machine")[number // len(COMPANY) % 3], right=bool(rng.random() < 0.5))
    return Company()
