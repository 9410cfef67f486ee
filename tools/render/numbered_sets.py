"""The rendered sets by part and number: lifter, room, camera, movement and fault, all from one seed a part.

A set is made again from its part and number alone. Numbers go round the exercises, so that any first so many sets hold
every exercise alike; builds, pictures and company go round in cycles of other lengths. What is not on a cycle is drawn
from the set's own random numbers. All people are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from company import Company
from motion import RepPlan, SetPlan
from movements import MOVES
from rest_movements import RESTS
from scene import Camera, Room
from set_faults import FAULTS, ONE_ARM, Fault, Planted, plant
from spoil import Spoil
from wardrobe import Colour, Look

EXERCISES = tuple(MOVES)
SKINS: tuple[Colour, ...] = (
    (0.93, 0.77, 0.68),
    (0.86, 0.68, 0.56),
    (0.74, 0.55, 0.42),
    (0.58, 0.41, 0.31),
    (0.45, 0.31, 0.23),
    (0.33, 0.22, 0.16),
)
SEEDS = {
    "tuning": 5101,
    "tuning-half": 5623,
    "reporting-1": 6203,
    "reporting-2": 7307,
    "pairs": 8419,
    "sessions": 9521,
    "rests": 4801,
    "repeats": 10607,
}
"""A part's seed. The reporting parts are each opened once; docs/rendered-sets.md logs when."""
COUNTS = {
    "tuning": 260,
    "tuning-half": 60,
    "reporting-1": 130,
    "reporting-2": 130,
    "pairs": 60,
    "sessions": 13,
    "rests": 26,
    "repeats": 52,
}
HALF_ANGLE = (
    *("squat", "hip-hinge", "bent-over-row", "bent-over-lateral-raise", "biceps-curl", "machine-reverse-fly"),
    *("guided-bar-press", "dumbbell-press"),
)
"""Exercises of the part of half angles: those whose points a half angle shows only through depth."""
HALF_ANGLE_REPS = 8
"""No set of that part is longer."""
BUILDS = ("usual", "joints-elsewhere", "other-proportions", "strong-girdle")
"""How the bones lie in the body, each in turn."""
FAULTY = {
    "tuning": (False, True, True, False, True, True, True),
    "tuning-half": (True, False, True, True, False, True, True, False),
    "reporting-1": (False, True),
    "reporting-2": (True, False),
    "pairs": (False, False, True),
    "sessions": (False,),
    "rests": (False,),
}
"""Which sets of an exercise have a fault planted, in turn."""
CAMERAS = {
    "front": ("near", "half", "mid", "side", "half", "near", "back", "half", "mid"),
    "side": ("side", "half", "near", "half", "side", "behind", "half", "side", "mid"),
    "half": ("half", "half", "behind", "half", "half"),
}
"""Where the camera stands where no fault asks for a side, in turn, by where an exercise is best seen from."""
SIDE_BEST = (
    *("bent-over-lateral-raise", "machine-reverse-fly", "front-raise", "squat", "hip-hinge", "biceps-curl"),
    "bent-over-row",
)
YAWS = {"near": (0, 10), "mid": (10, 30), "half": (30, 60), "side": (80, 100), "behind": (125, 150), "back": (160, 180)}
"""Camera angle around the lifter, degrees; either side by chance."""
REPS = (5, 6, 5, 7, 6, 5, 8, 5, 6, 10, 5, 6, 5, 15, 6, 5, 7, 12, 5, 6, 5, 9, 6)
RATES = (30.0, 25.0, 30.0, 24.0, 30.0, 30.0, 25.0, 30.0, 30.0, 24.0, 50.0)
SIZES = ((288, 512), (640, 360), (288, 512), (360, 480))
"""Width and height: the pose model looks at the body on 256 pixels."""
SPOILS = (
    *(Spoil(crf=26), Spoil(exposure=0.5, crf=26), Spoil(crf=30), Spoil(exposure=0.8, crf=27), Spoil(noise=9.0, crf=27)),
    *(Spoil(crf=26), Spoil(light=0.35, noise=8.0, exposure=0.8, crf=28), Spoil(exposure=0.5, crf=28), Spoil(crf=36)),
)
COMPANY = (
    *("none", "none", "still", "none", "none", "before", "none", "none", "walking", "none", "none", "none"),
    *("mirror", "none", "none", "none", "none"),
)
VARIABLE_EVERY = 7
REPEAT_LESS_DEG = 4.0
"""By how much a lifter filmed again turns earlier, every second time."""
SIDES = ("both", "alternating", "both", "left", "both", "alternating", "right")
"""Which arms work in the clean sets of an exercise that is also done with one arm, in turn."""


@dataclass(frozen=True)
class NumberedSet:
    """One set to be rendered."""

    part: str
    number: int
    plan: SetPlan
    body: dict[str, float]
    build: str
    look: Look
    camera: Camera
    place: str
    """Key of `YAWS`."""
    room: Room
    fps: float
    phone_like: bool
    spoil: Spoil
    company: Company
    sides: str
    """both, alternating, left or right."""
    faults: tuple[Planted, ...] = ()
    suffix: str = ""
    """What the file name ends with: which camera of a pair."""
    begins: float = 0.0
    """Seconds of the set's own clock at which the camera starts."""
    stops_early: float = 0.0
    """Seconds before the end of the movement at which it stops."""
    sound: bool = False
    """The pair's clips have sound."""
    rests: tuple[str, ...] = ()
    """What the lifter does between the sets of a session, or instead of a set."""
    further: tuple[SetPlan, ...] = ()
    """The sets of a session after the first."""
    seated: bool = False
    """The lifter rests on the bench."""
    repeats: int | None = None
    """Number of the tuning set whose lifter is filmed again."""

    @property
    def name(self) -> str:
        """File name without ending: the number, the exercise or rest, and the camera of a pair."""
        what = self.plan.exercise if self.plan.reps else f"rest-{self.rests[0]}"
        return f"{self.number:03d}_{what.replace('-', '_')}{self.suffix}"


def numbered_set(part: str, number: int) -> NumberedSet:
    """The set of a part with a number from 0; raises KeyError for an unknown part."""
    rng = np.random.default_rng([SEEDS[part], number])
    exercises = HALF_ANGLE if part == "tuning-half" else EXERCISES
    exercise = exercises[number % len(exercises)]
    if part == "sessions" and MOVES[exercise].base == "prone":
        exercise = "front-raise"  # there would be a bench where the lifter rests on foot
    turn = number // len(exercises)
    """How many sets of this exercise came before."""
    pattern = FAULTY[part]
    faulty = pattern[turn % len(pattern)]
    before = sum(pattern[i % len(pattern)] for i in range(turn))
    kinds = FAULTS[exercise]
    if part == "tuning-half":
        kinds = tuple(
            kind for kind in kinds if kind.seen != "front" and kind.kind not in ("fast_lowering", "half_reps")
        )
    offset = exercises.index(exercise)
    fault = kinds[(before + 3 * offset + SEEDS[part]) % len(kinds)] if faulty else None
    sides = "both"
    if exercise in ONE_ARM and fault is None:
        sides = SIDES[(turn - before + offset) % len(SIDES)]
    if part == "tuning-half":
        place = CAMERAS["half"][(turn + offset) % len(CAMERAS["half"])]
    else:
        place = _place(rng, exercise, fault, turn - before + offset)
    company = _company(rng, COMPANY[(number + SEEDS[part]) % len(COMPANY)], number)
    room = make_room(rng, mirror=company.mirror)
    move_changes = vary_form(rng, exercise)
    count = REPS[(turn + 7 * offset + SEEDS[part]) % len(REPS)]
    if part == "tuning-half":
        count = min(count, HALF_ANGLE_REPS)
    reps = make_reps(rng, exercise, count, sides)
    planted: tuple[Planted, ...] = ()
    if fault is not None:
        reps, one = plant(fault, reps, rng, large=bool((before // len(kinds) + before) % 2))
        planted = (one,)
    plan = SetPlan(
        exercise,
        tuple(reps),
        seed=SEEDS[part] * 1000 + number,
        still=float(rng.uniform(0.5, 1.0)),
        tail=float(rng.uniform(0.4, 0.8)),
        variety=float(rng.uniform(0.8, 1.5)),
        setup=str(rng.choice(["still", "still", "settle"])),
        changes=tuple(move_changes.items()),
    )
    build = BUILDS[(number + turn) % len(BUILDS)]
    rate = RATES[number % len(RATES)]
    if rate > 40 and (len(reps) > 6 or part == "tuning-half"):
        rate = 30.0
    return NumberedSet(
        part=part,
        number=number,
        plan=plan,
        body=make_shape(rng, build),
        build=build,
        look=make_look(rng, room),
        camera=make_camera(rng, place, SIZES[number % len(SIZES)], exercise),
        place=place,
        room=room,
        fps=rate,
        phone_like=number % VARIABLE_EVERY == 3,
        spoil=SPOILS[number % len(SPOILS)],
        company=company,
        sides=sides,
        faults=planted,
    )


def films_of(part: str, number: int) -> tuple[NumberedSet, ...]:
    """What is rendered for a number: one film, or those of both cameras of a pair."""
    if part == "repeats":
        return (_repeat(number),)
    one = numbered_set(part, number)
    if part == "pairs":
        return _pair(one)
    if part == "sessions":
        return (_session(one),)
    if part == "rests":
        return (_rest(one),)
    return (one,)


def list_repeated(exercise: str) -> list[int]:
    """Numbers of the tuning sets of an exercise done with both sides before a camera that shows it well."""
    best = ("side",) if exercise in SIDE_BEST else ("near", "mid")
    tuning = [numbered_set("tuning", n) for n in range(EXERCISES.index(exercise), COUNTS["tuning"], len(EXERCISES))]
    return [one.number for one in tuning if one.sides == "both" and one.place in best]


def _repeat(number: int) -> NumberedSet:
    """A tuning set's lifter another day: clothes, room and picture anew, the camera about where it stood.

    Five clean reps as the lifter does them; every second time round the exercises each rep turns `REPEAT_LESS_DEG`
    earlier.
    """
    rng = np.random.default_rng([SEEDS["repeats"], number])
    exercise, turn = EXERCISES[number % len(EXERCISES)], number // len(EXERCISES)
    one = numbered_set("tuning", list_repeated(exercise)[turn])
    first = one.plan.reps[0]
    rep = RepPlan(con=first.con, top=first.top, ecc=max(first.ecc, 0.9), bottom=first.bottom)
    changes = dict(one.plan.changes)
    if turn % 2:
        name = next(key for key in FORM_RANGES[exercise] if changes[key][0] != changes[key][1])
        start, end = changes[name]
        changes[name] = (start, end - REPEAT_LESS_DEG * float(np.sign(end - start)))
    plan = replace(
        one.plan, reps=(rep,) * 5, seed=SEEDS["repeats"] * 1000 + number, changes=tuple(changes.items()), still=0.6
    )
    room = make_room(rng, mirror=False)
    camera = replace(
        one.camera,
        yaw=one.camera.yaw + float(rng.uniform(-8, 8)),
        distance=one.camera.distance + float(rng.uniform(-0.4, 0.4)),
        height=float(np.clip(one.camera.height + rng.uniform(-0.2, 0.2), 0.5, 1.8)),
        roll=float(rng.uniform(-2, 2)) if rng.random() < 0.4 else 0.0,
    )
    return replace(
        one,
        part="repeats",
        number=number,
        plan=plan,
        look=make_look(rng, room),
        camera=camera,
        room=room,
        fps=float(rng.choice([24.0, 25.0, 30.0])),
        phone_like=False,
        spoil=SPOILS[int(rng.integers(len(SPOILS)))],
        company=Company(),
        faults=(),
        repeats=one.number,
    )


def _pair(one: NumberedSet) -> tuple[NumberedSet, ...]:
    """The set filmed by two cameras that start and stop at moments of their own, at rates of their own."""
    rng = np.random.default_rng([SEEDS["pairs"], one.number, 1])
    places = (("near", "side"), ("mid", "side"), ("half", "side"), ("near", "half"), ("back", "side"))[one.number % 5]
    films = []
    for suffix, place, latest in (("_a", places[0], 0.4), ("_b", places[1], 2.5)):
        camera = make_camera(rng, place, SIZES[0], one.plan.exercise)
        films.append(
            replace(
                one,
                suffix=suffix,
                place=place,
                camera=camera,
                fps=float(rng.choice([24.0, 25.0, 30.0])),
                phone_like=bool(rng.random() < 0.3),
                begins=float(rng.uniform(0.0, latest)),
                stops_early=float(rng.uniform(0.0, 0.8)),
                sound=one.number % 2 == 1,
                spoil=SPOILS[int(rng.integers(len(SPOILS)))],
                company=Company(),
            )
        )
    return tuple(films)


def _session(one: NumberedSet) -> NumberedSet:
    """Three sets in one film, with rests between; from set to set a little range goes, on one side more."""
    rng = np.random.default_rng([SEEDS["sessions"], one.number, 1])
    side, further = str(rng.choice(["left", "right"])), []
    for number in (1, 2):
        reps = [replace(rep, con=rep.con * (1 + 0.1 * number)) for rep in one.plan.reps[:6]]
        shorter = [
            replace(
                rep,
                share=1.0 - 0.03 * number,
                left_lower=2.0 * number * (side == "left"),
                right_lower=2.0 * number * (side == "right"),
            )
            for rep in reps
        ]
        further.append(replace(one.plan, reps=tuple(shorter), seed=one.plan.seed + 100_000 * number))
    rests = ("standing", "talking", "drinking", "shirt", "hips", "shoulder_rolls")
    return replace(
        one,
        plan=replace(one.plan, reps=tuple(replace(rep, side="both") for rep in one.plan.reps[:6])),
        further=tuple(replace(plan, reps=tuple(replace(rep, side="both") for rep in plan.reps)) for plan in further),
        rests=tuple(str(name) for name in rng.permutation(rests)[:2]),
        seated=MOVES[one.plan.exercise].base == "sit",
        sides="both",
        company=Company(),
        fps=25.0,
    )


def _rest(one: NumberedSet) -> NumberedSet:
    """What lifters do between sets, and no set."""
    kind = tuple(RESTS)[one.number % len(RESTS)]
    seated = one.number % 4 == 1 and kind not in ("weights", "standing")
    plan = replace(one.plan, exercise="dumbbell-press" if seated else "lateral-raise", reps=(), changes=())
    return replace(one, plan=plan, rests=(kind,), seated=seated, fps=min(one.fps, 30.0))


def _place(rng: np.random.Generator, exercise: str, fault: Fault | None, turn: int) -> str:
    """Where the camera stands: most faults from where they show best, all else from all sides in turn."""
    best = "side" if exercise in SIDE_BEST else "front"
    if fault is not None and rng.random() < (0.45 if fault.seen == "any" else 0.75):
        seen = best if fault.seen == "any" else fault.seen
        return "side" if seen == "side" else str(rng.choice(["near", "near", "mid"]))
    cycle = CAMERAS[best]
    return cycle[turn % len(cycle)]


def make_reps(rng: np.random.Generator, exercise: str, count: int, sides: str) -> list[RepPlan]:
    """Clean reps of one tempo; long sets are done a little faster, and get slower on the way up."""
    quick = 0.8 if count > 8 else 1.0
    plain = RepPlan(
        con=float(rng.uniform(0.6, 1.15)) * quick,
        top=float(rng.uniform(0.12, 0.4)) + (0.35 if exercise == "bench-lateral-raise" else 0.0),
        ecc=float(rng.uniform(1.0, 1.6)) * max(quick, 0.92),
        bottom=float(rng.uniform(0.15, 0.5)),
    )
    order = {"alternating": ("left", "right")}.get(sides, (sides,))
    slower = float(rng.uniform(0.0, 0.25))
    return [
        replace(plain, con=plain.con * (1 + slower * number / count), side=order[number % len(order)])
        for number in range(count)
    ]


FORM_RANGES: dict[str, dict[str, tuple[float, float]]] = {
    "lateral-raise": {"raise_": (-3, 5), "forward": (-4, 10), "elbow": (-4, 12), "lean": (-2, 3)},
    "overhead-lateral-raise": {"raise_": (-14, 2), "forward": (-2, 10), "elbow": (-4, 10), "lean": (-2, 3)},
    "bent-over-lateral-raise": {"raise_": (-5, 4), "forward": (-3, 5), "elbow": (-4, 8), "lean": (-6, 1)},
    "guided-bar-press": {"elbow": (-4, 6), "lean": (-6, 2)},
    "dumbbell-press": {"raise_": (-4, 4), "forward": (-6, 8), "elbow": (-6, 6), "lean": (-6, 2)},
    "turning-palm-press": {"raise_": (-4, 4), "forward": (-4, 6), "elbow": (-6, 6), "lean": (-6, 2)},
    "machine-reverse-fly": {"raise_": (-6, 6), "forward": (-6, 4), "elbow": (-6, 10), "lean": (-3, 4)},
    "bench-lateral-raise": {"raise_": (-4, 6), "forward": (-4, 6), "elbow": (-4, 8), "lean": (-6, 6)},
    "front-raise": {"raise_": (-4, 8), "forward": (-6, 4), "elbow": (-4, 12), "lean": (-2, 3)},
    "squat": {"knee": (-4, 8), "lean": (-2, 8)},
    "hip-hinge": {"lean": (-8, 6), "knee": (-4, 10), "head": (-6, 6)},
    "biceps-curl": {"elbow": (-6, 6), "raise_": (-1, 5), "lean": (-2, 3)},
    "bent-over-row": {"raise_": (-6, 6), "elbow": (-4, 4), "lean": (-10, 10), "knee": (-6, 10)},
}
"""By how much a lifter's clean form differs from the exercise's, degrees at the turn; half of it where the rep begins.
All of it lies inside what the checks ask for."""


def vary_form(rng: np.random.Generator, exercise: str) -> dict[str, Any]:
    """Parts of the move as one lifter does it cleanly."""
    move = MOVES[exercise]
    changes: dict[str, Any] = {}
    for name, (low, high) in FORM_RANGES[exercise].items():
        start, end = getattr(move, name)
        by = float(rng.uniform(low, high))
        both = 1.0 if start == end else 0.3
        changes[name] = (start + both * by, end + by)
    if exercise == "squat":
        changes["stance"] = float(rng.uniform(0.0, 0.1))
    if move.held == "bar":
        changes["grip_out"] = float(rng.uniform(0.08, 0.2))
        changes["bar_forward"] = float(rng.uniform(0.16, 0.22))
    return changes


def make_shape(rng: np.random.Generator, build: str) -> dict[str, float]:
    """A body: either sex, light to heavy, young to old, with the bones as the build says."""
    female = bool(rng.random() < 0.5)
    mix = rng.dirichlet([0.5, 0.5, 0.5])
    body = {
        "gender": float(female),
        "age": float(rng.uniform(0.42, 1.0)),
        "muscle": float(rng.uniform(0.35, 0.85)),
        "weight": float(rng.uniform(0.2, 0.95)),
        "height": 0.5,
        "proportions": float(rng.uniform(0.25, 0.75)),
        "african": float(mix[0]),
        "asian": float(mix[1]),
        "caucasian": float(mix[2]),
        "stature": float(np.clip(rng.normal(1.77 - 0.12 * female, 0.07), 1.5, 2.0)),
    }
    if build == "joints-elsewhere":
        shift = {"shoulder_out": 0.012, "shoulder_up": 0.012, "hip_out": 0.015, "hip_up": 0.02}
        body |= {name: float(rng.uniform(-most, most)) for name, most in shift.items()}
        body["girdle"] = float(rng.uniform(0.15, 0.5))
    elif build == "other-proportions":
        arms, legs = float(rng.uniform(0.94, 1.07)), float(rng.uniform(0.95, 1.06))
        body |= {"upper_arm": arms * float(rng.uniform(0.94, 1.06)), "forearm": arms * float(rng.uniform(0.94, 1.06))}
        body |= {"thigh": legs * float(rng.uniform(0.96, 1.04)), "shin": legs * float(rng.uniform(0.96, 1.04))}
        body["girdle"] = float(rng.uniform(0.6, 0.9))
    elif build == "strong-girdle":
        body["girdle"] = float(rng.uniform(1.05, 1.25))
        body |= {"shoulder_out": float(rng.uniform(-0.016, 0.0)), "shoulder_up": float(rng.uniform(-0.014, 0.004))}
        body |= {"upper_arm": float(rng.uniform(0.97, 1.05)), "forearm": float(rng.uniform(0.96, 1.03))}
    return body


def make_look(rng: np.random.Generator, room: Room) -> Look:
    """Clothes tight or loose, plain or striped, which one time in five hardly stand out from wall or skin."""

    def colour(low: float, high: float) -> Colour:
        red, green, blue = (float(x) for x in rng.uniform(low, high, 3))
        return red, green, blue

    def near(other: Colour) -> Colour:
        red, green, blue = (float(np.clip(x + rng.uniform(-0.06, 0.06), 0, 1)) for x in other)
        return red, green, blue

    skin = SKINS[int(rng.integers(len(SKINS)))]
    similar, tight, grey = bool(rng.random() < 0.2), bool(rng.random() < 0.5), float(rng.uniform(0.05, 0.7))
    shirt_like_wall = bool(rng.random() < 0.5)
    shirt = near(room.wall if shirt_like_wall else skin) if similar else colour(0.1, 0.9)
    return Look(
        skin=skin,
        hair=(grey, grey * float(rng.uniform(0.75, 1.0)), grey * float(rng.uniform(0.55, 1.0))),
        hair_style=str(rng.choice(["short", "bun", "long", "none"])),
        shirt=shirt,
        sleeve=float(rng.choice([0.0, 0.45, 0.6, 0.95])),
        shirt_ease=float(rng.uniform(0.004, 0.008) if tight else rng.uniform(0.014, 0.024)),
        shorts=near(shirt) if similar and shirt_like_wall else colour(0.06, 0.7),
        leg=float(rng.choice([0.34, 0.45, 0.6, 0.93])),
        shorts_ease=0.005 if tight else 0.013,
        shoes=colour(0.1, 0.9),
        stripes=colour(0.1, 0.9) if rng.random() < 0.15 else None,
    )


def make_room(rng: np.random.Generator, *, mirror: bool) -> Room:
    """Walls, floor, things and light."""
    wall, floor = float(rng.uniform(0.4, 0.85)), float(rng.uniform(0.2, 0.55))
    tint = rng.uniform(-0.06, 0.06, 6)
    things = ["box", "mat"] if mirror else ["box", "window", "rack", "mat", "plant"]
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


def make_camera(rng: np.random.Generator, place: str, size: tuple[int, int], exercise: str) -> Camera:
    """A phone at one of the `YAWS`, on either side, two in five a little tilted."""
    tilted = bool(rng.random() < 0.4)
    return Camera(
        yaw=float(rng.choice([-1.0, 1.0])) * float(rng.uniform(*YAWS[place])),
        distance=float(rng.uniform(2.5, 6.0)),
        height=float(rng.uniform(0.5, 1.8)),
        shift=float(rng.uniform(-0.15, 0.15)),
        margin=max(0.25 * (exercise == "guided-bar-press"), float(rng.uniform(0.06, 0.4 if size[1] > 400 else 0.15))),
        width=size[0],
        height_px=size[1],
        roll=float(rng.uniform(-3, 3)) if tilted else 0.0,
    )


def _company(rng: np.random.Generator, kind: str, number: int) -> Company:
    if kind in ("still", "walking"):
        shape = make_shape(rng, BUILDS[0])
        return Company(person=kind, person_body=shape, person_look=make_look(rng, Room()))
    if kind == "mirror":
        return Company(mirror=True)
    if kind == "before":
        before = ("bench", "post", "machine")[number // len(COMPANY) % 3]
        return Company(before=before, right=bool(rng.random() < 0.5))
    return Company()
