"""One-repetition maximum from a set near failure, by two published formulas and the spread between them."""

import math

from formcheck.core.errors import UsageError
from formcheck.statistics.results import OneRepMax

MOST_REPS = 12
"""Reps to failure beyond which no estimate is given; above `RELIABLE_REPS` it is given with a warning."""
RELIABLE_REPS = 10
"""Above this the two formulas drift apart and are known to be unreliable (common practice)."""
MOST_IN_RESERVE = 3.0
"""Farther from failure, what a lifter says is still possible is too vague to count on (common practice)."""
_PLAIN = "The most that could be lifted once (one-repetition maximum)"
CAVEAT = (
    "The formulas come from barbell lifts, mostly bench press and squat; for raises and other lifts of one joint they "
    "are a rough guide, and never a reason to try such a load."
)


def epley(load_kg: float, reps: float) -> float:
    """load·(1 + reps/30), kg, for reps to failure; Epley 1985 (from memory)."""
    return load_kg * (1 + reps / 30)


def brzycki(load_kg: float, reps: float) -> float:
    """load·36/(37 − reps), kg, for reps to failure below 37; Brzycki 1993, JOPERD 64:88 (from memory)."""
    return load_kg * 36 / (37 - reps)


def estimate_one_rep_max(load_kg: float, reps: int, *, reps_in_reserve: float | None) -> OneRepMax:
    """Estimate from a set of `reps` with so many left in reserve; without an estimate the sentence says why.

    reps_in_reserve : None when the lifter did not say. Reps and reserve together count as reps to failure.

    Raises UsageError when load or reps are not those of a set.
    """
    if not (math.isfinite(load_kg) and load_kg > 0 and reps >= 1):
        raise UsageError(f"{_PLAIN} needs a load above 0 kg and at least one rep.")
    if reps_in_reserve is None:
        return _refuse(load_kg, reps, "it is not known how near to failure the set was")
    if not (math.isfinite(reps_in_reserve) and reps_in_reserve >= 0):
        raise UsageError("Reps in reserve are 0 or more.")
    to_failure = reps + reps_in_reserve
    if reps_in_reserve > MOST_IN_RESERVE:
        return _refuse(load_kg, reps, f"the set ended {reps_in_reserve:g} reps before failure, too far from it")
    if to_failure > MOST_REPS:
        return _refuse(load_kg, reps, f"the formulas do not hold beyond {MOST_REPS} reps to failure")
    # One rep to failure is the maximum itself; Epley's formula does not give it back.
    both = (load_kg,) * 2 if to_failure == 1 else (epley(load_kg, to_failure), brzycki(load_kg, to_failure))
    low, high = min(both), max(both)
    shown = f"{low:.1f} kg" if f"{low:.1f}" == f"{high:.1f}" else f"{low:.1f} to {high:.1f} kg"
    doubt = (
        f" Above {RELIABLE_REPS} reps to failure both formulas are unreliable." if to_failure > RELIABLE_REPS else ""
    )
    sentence = f"{_PLAIN}: about {shown} (formulas: Epley {both[0]:.1f}, Brzycki {both[1]:.1f} kg).{doubt}"
    return OneRepMax(load_kg, reps, both[0], both[1], low, high, sentence, CAVEAT)


def _refuse(load_kg: float, reps: int, why: str) -> OneRepMax:
    return OneRepMax(load_kg, reps, None, None, None, None, f"{_PLAIN}: not estimated, {why}.", CAVEAT)
