"""Repetitions by the arm that makes them."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

from formcheck.core.model import SIDES, Rep, Side, Sides

ARM_DRIVERS = frozenset(
    {"arm_raise", "arm_raise_by_height", "arm_flexion", "arm_extension", "arm_opening", "elbow_flexion"}
)
"""Curves of one arm that may make the repetitions; with them a set tells which arms work."""


def tell_sides(reps: Sequence[Rep]) -> Sides:
    """Which arms work in a set; one that begins when the other is done with is one arm at a time, as one alone."""
    sides = [rep.side for rep in reps if rep.side is not None]
    if 2 * len(sides) <= len(reps):
        return "both"
    return "one" if sum(one != other for one, other in pairwise(sides)) <= 1 else "alternating"


def get_other_side(side: Side) -> Side:
    """Right of left, left of right."""
    return "right" if side == "left" else "left"


def count_by_side(reps: Sequence[Rep]) -> dict[Side, int]:
    """Strokes of each arm that makes some by itself, the left one first; empty where both work at once."""
    counts = {side: sum(rep.side == side for rep in reps) for side in SIDES}
    return {side: count for side, count in counts.items() if count}


def count_by_either_side(reps: Sequence[Rep]) -> dict[Side, int] | None:
    """Complete reps of the left and of the right by themselves; None where both work at once or nothing tells."""
    if not count_by_side(reps):
        return None
    counts = count_by_side([rep for rep in reps if rep.complete])
    return {side: counts.get(side, 0) for side in SIDES}


def write_by_side(counts: Mapping[Side, int], between: str = ", ") -> str:
    """``9 left, 7 right``."""
    return between.join(f"{count} {side}" for side, count in counts.items())


def format_reps_by_side(complete: int, left: int | None, right: int | None) -> str:
    """Complete reps as they are written in short: ``16``, ``9 left, 7 right``, or ``9 left`` where one arm has none."""
    counts: dict[Side, int] = {side: count for side, count in zip(SIDES, (left, right), strict=True) if count}
    return write_by_side(counts) or str(complete)
