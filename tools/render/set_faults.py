"""Faults planted in the numbered sets, of two sizes: what a coach would just name, and larger.

Sizes are counted from the limit of the exercise's own check, so that a fault of 8 degrees of height ends 8 degrees
short of what the check asks for. Which faults lifters make is common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from motion import RepPlan
from movements import MOVES

Changes = dict[str, Any]
"""What is different in one rep: fields of `RepPlan`, or of `Move` for the rep's own move."""
PLAN_FIELDS = set(RepPlan.__dataclass_fields__)

HEIGHT, SIDES_APART, SWING, DEPTH, DRIFT, LOWERING = 8.0, 10.0, 10.0, 12.0, 8.0, 0.5
"""A coach's sizes: degrees, and seconds of a lowering that is too fast."""
COACH, LARGE = (1.0, 1.25), (1.5, 2.3)
"""Shares of a coach's size that the two kinds of a planted fault have."""
FAST_COACH, FAST_LARGE = (0.46, 0.52), (0.3, 0.4)
"""Seconds of a lowering that is too fast."""


@dataclass(frozen=True)
class Planted:
    """One fault as it is planted in a set."""

    kind: str
    reps: tuple[int, ...]
    """From 1."""
    size: float
    """Beyond the limit: degrees, shares or seconds, as the fault's kind says."""
    large: bool
    side: str = ""
    """left or right, where one side has it."""


@dataclass(frozen=True)
class Fault:
    """One way in which an exercise goes wrong."""

    kind: str
    seen: Literal["front", "side", "any"]
    """From where it shows."""
    size: float
    """A coach's size."""
    make: Callable[[float], Changes]
    """The changes of a rep that has the fault by a size."""
    reps: Literal["all", "late", "few", "growing"] = "late"
    """All reps; from one on; one or two by themselves; all, growing from nothing to the size."""
    sided: bool = False


def plant(fault: Fault, reps: list[RepPlan], rng: np.random.Generator, *, large: bool) -> tuple[list[RepPlan], Planted]:
    """The reps with the fault in some of them, and what was planted."""
    count = len(reps)
    size = fault.size * float(rng.uniform(*(LARGE if large else COACH)))
    if fault.kind == "fast_lowering":
        size = float(rng.uniform(*(FAST_LARGE if large else FAST_COACH)))
    first = int(rng.integers(2, max(count - 1, 3)))
    which = tuple(range(1, count + 1))
    if fault.reps == "late":
        which = tuple(range(first, count + 1))
    elif fault.reps == "few":
        which = tuple(sorted(int(n) for n in rng.choice(np.arange(2, count + 1), 1 + (count > 6), replace=False)))
    side = str(rng.choice(["left", "right"])) if fault.sided else ""
    changed = list(reps)
    for number in which:
        share = (number - 1) / max(count - 1, 1) if fault.reps == "growing" else 1.0
        changed[number - 1] = change(reps[number - 1], fault.make(size * share), side)
    return changed, Planted(fault.kind, which, round(size, 3), large, side)


def change(rep: RepPlan, changes: Changes, side: str = "") -> RepPlan:
    """A rep with other values; `lower` is that of the side."""
    own = {f"{side}_lower" if name == "lower" else name: value for name, value in changes.items()}
    plan = {name: value for name, value in own.items() if name in PLAN_FIELDS}
    move = dict(rep.changes) | {name: value for name, value in own.items() if name not in PLAN_FIELDS}
    return RepPlan(**{**{name: getattr(rep, name) for name in PLAN_FIELDS}, **plan, "changes": tuple(move.items())})


# ---------------------------------------------------------------- faults of several exercises

FAST = Fault("fast_lowering", "any", LOWERING, lambda seconds: {"ecc": seconds})
HALVES = Fault("half_reps", "any", 1.0, lambda _: {"share": 0.48}, "few")
FADES = Fault("range_fades", "any", 0.16, lambda lost: {"share": 1.0 - lost})
"""From one rep on the range is smaller by a share of the clean one (limit of the checks: 0.13)."""
SHRUG = Fault("shrugs", "front", 9.0, lambda size: {"shrug": size}, "late")
UNEVEN = Fault("one_side_lower", "front", SIDES_APART, lambda size: {"lower": 5.0 + size}, "all", sided=True)
UNEVEN_LATE = Fault("one_side_lower", "front", SIDES_APART, lambda size: {"lower": 5.0 + size}, "late", sided=True)
SWINGS = Fault("swings", "side", SWING, lambda size: {"swing": 7.0 + size})
LEANS_BACK = Fault("leans_back", "side", SWING, lambda size: {"torso_rise": 7.0 + size})
LEANS_SIDE = Fault("leans_sideways", "front", 7.0, lambda size: {"side_lean": (0.0, 7.0 + size)}, "late")
LEGS_HELP = Fault("legs_help", "side", 12.0, lambda size: {"knee": (14.0 + size + 7.0, 7.0)}, "late")


def short(exercise: str, limit: float) -> Fault:
    """The arms of every rep are raised less than the limit."""
    low = MOVES[exercise].raise_[0]
    return Fault("falls_short", "any", HEIGHT, lambda by: {"raise_": (low, limit - by)}, "all")


def bent_arms(exercise: str, limit: float) -> Fault:
    """Elbows bent too far, at both ends."""
    low, high = MOVES[exercise].elbow
    return Fault("elbows_bent", "side", 15.0, lambda by: {"elbow": (limit + by - (high - low) / 2, limit + by)}, "all")


def _press(exercise: str) -> tuple[Fault, ...]:
    low_raise, low_elbow = MOVES[exercise].raise_[0], MOVES[exercise].elbow[0]
    return (
        Fault(
            "falls_short",
            "any",
            DEPTH,
            lambda by: {"elbow": (low_elbow, 30.0 + by), "raise_": (low_raise, 150.0 - by)},
            "all",
        ),
        UNEVEN,
        FAST,
        LEANS_BACK,
        HALVES,
        Fault("stays_high", "any", 12.0, lambda by: {"raise_": (72.0 + by, 163.0), "elbow": (108.0 - by, 17.0)}, "all"),
        Fault(
            "forearms_not_upright",
            "front",
            12.0,
            lambda by: {"elbow": (low_elbow - by, 17.0), "raise_": (low_raise + 10.0, 163.0)},
            "late",
        ),
        FADES,
        Fault("elbows_behind", "side", 12.0, lambda by: {"forward": (-8.0 - by, 8.0)}, "all"),
        SHRUG,
    )


FAULTS: dict[str, tuple[Fault, ...]] = {
    "lateral-raise": (
        short("lateral-raise", 82.0),
        SWINGS,
        UNEVEN,
        FAST,
        SHRUG,
        HALVES,
        FADES,
        Fault("raised_too_high", "any", HEIGHT, lambda by: {"raise_": (8.0, 100.0 + by)}, "all"),
        Fault("wrists_low", "front", 18.0, lambda by: {"elbow": (10.0, 14.0 + by), "bend_down": 1.0}, "late"),
        LEANS_SIDE,
        bent_arms("lateral-raise", 35.0),
    ),
    "overhead-lateral-raise": (
        short("overhead-lateral-raise", 140.0),
        LEANS_BACK,
        UNEVEN,
        FAST,
        Fault("stops_at_shoulders", "any", 1.0, lambda _: {"raise_": (8.0, 95.0)}, "late"),
        HALVES,
        FADES,
        bent_arms("overhead-lateral-raise", 40.0),
        Fault("pauses_long", "any", 1.2, lambda by: {"bottom": 1.5 + by}, "late"),
        SHRUG,
    ),
    "bent-over-lateral-raise": (
        short("bent-over-lateral-raise", 75.0),
        Fault("torso_drifts_up", "side", DRIFT, lambda by: {"drift": by}, "growing"),
        Fault("torso_rises", "side", SWING, lambda by: {"torso_rise": 8.0 + by}),
        UNEVEN,
        FAST,
        Fault("torso_high", "side", 10.0, lambda by: {"lean": (70.0 - by, 70.0 - by)}, "all"),
        HALVES,
        Fault("arms_out_of_line", "side", 15.0, lambda by: {"forward": (8.0, 8.0 + by)}, "late"),
        FADES,
        Fault("neck_back", "side", 20.0, lambda by: {"head": (40.0 - by, 40.0 - by)}, "late"),
        bent_arms("bent-over-lateral-raise", 35.0),
    ),
    "guided-bar-press": (
        Fault("falls_short", "any", DEPTH, lambda by: {"elbow": (100.0, 30.0 + by)}, "all"),
        FAST,
        Fault("bar_tilts", "front", 5.0, lambda by: {"lower": by}, "all", sided=True),
        HALVES,
        LEANS_BACK,
        FADES,
        Fault("stays_high", "any", 25.0, lambda by: {"elbow": (100.0 - by, 17.0)}, "all"),
        Fault("pauses_long", "any", 1.2, lambda by: {"top": 2.0 + by}, "late"),
        SHRUG,
    ),
    "dumbbell-press": _press("dumbbell-press"),
    "turning-palm-press": (
        *_press("turning-palm-press")[:6],
        Fault("palms_do_not_turn", "front", 1.0, lambda _: {"palm_to": (175.0, 175.0)}, "all"),
        FADES,
        Fault("palms_stay_in", "front", 1.0, lambda _: {"palm_to": (5.0, 5.0)}, "all"),
        SHRUG,
    ),
    "machine-reverse-fly": (
        Fault("falls_short", "any", DEPTH, lambda by: {"forward": (84.0, 10.0 + by)}, "all"),
        Fault("chest_leaves_pad", "side", SWING, lambda by: {"torso_rise": 7.0 + by}),
        FAST,
        Fault("arms_low", "any", HEIGHT, lambda by: {"raise_": (70.0 - by, 70.0 - by)}, "all"),
        UNEVEN,
        HALVES,
        FADES,
        Fault("elbows_bent", "any", 20.0, lambda by: {"elbow": (16.0 + by, 16.0 + by)}, "late"),
        SHRUG,
    ),
    "bench-lateral-raise": (
        short("bench-lateral-raise", 75.0),
        Fault("chest_lifts", "side", SWING, lambda by: {"torso_rise": 7.0 + by}),
        UNEVEN,
        FAST,
        HALVES,
        bent_arms("bench-lateral-raise", 32.0),
        FADES,
        Fault("no_hold", "any", 0.25, lambda by: {"top": max(0.3 - by, 0.03)}, "late"),
    ),
    "front-raise": (
        short("front-raise", 80.0),
        SWINGS,
        FAST,
        LEANS_BACK,
        HALVES,
        Fault("raised_too_high", "any", HEIGHT, lambda by: {"raise_": (6.0, 105.0 + by)}, "all"),
        FADES,
        bent_arms("front-raise", 35.0),
        UNEVEN_LATE,
        SHRUG,
        LEGS_HELP,
    ),
    "squat": (
        Fault(
            "falls_short",
            "any",
            DEPTH,
            lambda by: {"knee": (6.0, (82.0 - by) / 0.76), "lean": (2.0, 38.0 * (82.0 - by) / 90.0)},
            "all",
        ),
        Fault(
            "gets_shallow",
            "any",
            DEPTH,
            lambda by: {"knee": (6.0, (82.0 - by) / 0.76), "lean": (2.0, 38.0 * (82.0 - by) / 90.0)},
            "late",
        ),
        Fault("tips_forward", "side", 10.0, lambda by: {"lean": (2.0, 52.0 + by)}, "late"),
        Fault("knees_in", "front", 0.13, lambda by: {"knees_out": (0.16, max(0.33 - by, 0.02))}, "late"),
        FAST,
        Fault("hips_first", "side", 0.3, lambda by: {"legs_first": min(by, 0.6)}, "late"),
        HALVES,
        Fault("leans_sideways", "front", 7.0, lambda by: {"side_lean": (0.0, 7.0 + by)}, "late"),
        Fault("not_upright", "any", 10.0, lambda by: {"knee": (22.0 + by, 118.0)}, "late"),
    ),
    "hip-hinge": (
        Fault("falls_short", "any", DEPTH, lambda by: {"lean": (1.0, 55.0 - by)}, "all"),
        Fault("gets_shallow", "any", DEPTH, lambda by: {"lean": (1.0, 74.0 - 8.0 - by)}, "late"),
        Fault("knees_bend", "side", 15.0, lambda by: {"knee": (8.0, 40.0 + by)}, "late"),
        FAST,
        Fault("weight_drifts", "side", 10.0, lambda by: {"raise_": (3.0, -20.0 + 12.0 + by)}, "late"),
        HALVES,
        Fault("neck_back", "side", 20.0, lambda by: {"head": (0.0, 42.0 - by)}, "late"),
        Fault("leans_back_at_top", "side", 8.0, lambda by: {"lean": (-12.0 - by, 74.0)}, "late"),
        Fault("not_upright", "any", 10.0, lambda by: {"lean": (15.0 + by, 74.0)}, "late"),
    ),
    "biceps-curl": (
        Fault("falls_short", "any", HEIGHT, lambda by: {"elbow": (9.0, 110.0 - by)}, "all"),
        Fault("upper_arm_drifts", "side", 10.0, lambda by: {"raise_": (3.0, 25.0 + by)}, "late"),
        SWINGS,
        FAST,
        HALVES,
        FADES,
        Fault("not_straightened", "any", 10.0, lambda by: {"elbow": (35.0 + by, 136.0)}, "late"),
        LEANS_BACK,
        LEGS_HELP,
        UNEVEN_LATE,
    ),
    "bent-over-row": (
        Fault("falls_short", "any", DEPTH, lambda by: {"raise_": (6.0, 48.0 - by), "elbow": (8.0, 54.0 - by)}, "all"),
        Fault("torso_drifts_up", "side", DRIFT, lambda by: {"drift": by}, "growing"),
        Fault("torso_jerks", "side", SWING, lambda by: {"torso_rise": 8.0 + by}),
        FAST,
        Fault("torso_high", "side", 8.0, lambda by: {"lean": (40.0 - by, 40.0 - by)}, "all"),
        HALVES,
        FADES,
        UNEVEN_LATE,
        Fault("neck_back", "side", 20.0, lambda by: {"head": (40.0 - by, 40.0 - by)}, "late"),
    ),
}
"""The faults of each exercise, the most usual first."""
ONE_ARM = ("lateral-raise", "overhead-lateral-raise", "front-raise", "dumbbell-press", "biceps-curl", "bent-over-row")
"""Exercises also done with one arm, or with both in turn."""
