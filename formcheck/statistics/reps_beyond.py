"""How many repetitions of a set are truly beyond a threshold, when their errors are partly the same.

The error of each value has a part that all repetitions of a set share and one of its own
(`formcheck.statistics.detectable_change`). Given the shared part the repetitions are independent, so the number beyond
has a Poisson binomial distribution; the shared part is integrated out on a grid.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

SHARE_OF_REPS = 0.25
"""A point of form is at fault in the set from so many of its repetitions on, and at least one (common practice)."""
FEWEST_SHRUNK = 3
"""Fewer repetitions do not tell how much they differ."""
_GRID = tuple(step / 10 for step in range(-40, 41))
_DENSITY = tuple(math.exp(-(z**2) / 2) for z in _GRID)
_TOTAL = sum(_DENSITY)


@dataclass(frozen=True, slots=True)
class Deviation:
    """One measured value: how far it lies beyond the threshold, and its two errors, all in one unit."""

    beyond: float
    """Positive outside."""
    own: float
    """Standard deviation of the error that differs from repetition to repetition."""
    shared: float
    """Standard deviation of the error that is the same for all of them."""


def count_needed(judged: int) -> int:
    """How many of the judged repetitions must be beyond for the set to be."""
    return max(1, round(SHARE_OF_REPS * judged))


def compute_normal_share(z: float) -> float:
    """Share of a standard normal distribution below z (Φ)."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def compute_count_probability(chances: Sequence[float], least: int) -> float:
    """Probability that at least so many of independent events happen, by convolution.

    chances : probability of each, 0..1.
    """
    fewer = [1.0] + [0.0] * (least - 1)  # probability of just 0, 1, ... least - 1 so far
    for chance in chances:
        for count in range(least - 1, 0, -1):
            fewer[count] = fewer[count] * (1 - chance) + fewer[count - 1] * chance
        fewer[0] *= 1 - chance
    return min(max(1.0 - sum(fewer), 0.0), 1.0) if least > 0 else 1.0


def compute_set_probability(reps: Sequence[Sequence[Deviation]], least: int) -> float:
    """Probability that at least so many repetitions are truly beyond.

    reps : for each repetition its values, one or one a side; it is beyond when one of them is. The shared errors of
    both sides are taken as one.
    """
    total = 0.0
    for z, density in zip(_GRID, _DENSITY, strict=True):
        chances = [1.0 - math.prod(_compute_inside(item, z) for item in values) for values in reps]
        total += density * compute_count_probability(chances, least)
    return total / _TOTAL


def shrink_to_set(values: Sequence[Deviation]) -> list[Deviation]:
    """The repetitions of one side drawn towards their mean, as far as their spread is no more than their own errors.

    Repetitions of one set are much alike: of what they differ by only `τ²/(τ² + o²)` is theirs, τ² being their variance
    less that of their own errors o (Efron & Morris 1975, J Am Stat Assoc 70:311; from memory). The error
    of the mean then is one that they share.
    """
    if len(values) < FEWEST_SHRUNK:
        return list(values)
    mean = sum(item.beyond for item in values) / len(values)
    error = sum(item.own**2 for item in values) / len(values)
    spread = sum((item.beyond - mean) ** 2 for item in values) / (len(values) - 1)
    theirs = max(1.0 - error / spread, 0.0) if spread > 0 else 0.0
    of_mean = (1.0 - theirs) * math.sqrt(error / len(values))
    return [
        Deviation(mean + theirs * (item.beyond - mean), math.sqrt(theirs) * item.own, math.hypot(item.shared, of_mean))
        for item in values
    ]


def _compute_inside(item: Deviation, z: float) -> float:
    """Probability that a value is not beyond, given the shared error in standard deviations."""
    beyond = item.beyond - z * item.shared
    if item.own <= 0:
        return 0.0 if beyond > 0 else 1.0
    return compute_normal_share(-beyond / item.own)
