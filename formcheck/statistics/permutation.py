"""Permutation tests of many measures at once on few reps, and the standardised size of a difference."""

from itertools import combinations
from math import comb, exp, lgamma

import numpy as np

from formcheck.core.model import Array

MOST_EXACT = 33_000
"""Up to this many orders every one is tried; beyond, this many are drawn, always the same ones."""
_TIE = 1e-9


def list_signs(n: int) -> Array:
    """(k, n) of ±1: every way to swap the two values within n pairs, the given one first."""
    if 2 ** (n - 1) <= MOST_EXACT:
        # A swap of all pairs changes only the direction, so half of the ways are enough.
        codes = np.arange(2 ** max(n - 1, 0))
        return np.asarray(1.0 - 2.0 * ((codes[:, None] >> np.arange(n)) & 1))
    drawn = np.random.default_rng(n).choice([-1.0, 1.0], size=(MOST_EXACT, n))
    drawn[0] = 1.0
    return np.asarray(drawn)


def list_labels(n: int, late: int) -> Array:
    """(k, n) of 0 and 1: every way to call `late` of n values the late ones, the last ones first."""
    given = np.zeros(n)
    given[n - late :] = 1.0
    if comb(n, late) <= MOST_EXACT:
        out = np.zeros((comb(n, late), n))
        for row, chosen in enumerate(combinations(range(n), late)):
            out[row, list(chosen)] = 1.0
        return out[::-1].copy()
    rng = np.random.default_rng([n, late])
    return np.array([given, *(rng.permutation(given) for _ in range(MOST_EXACT - 1))])


def permute_pairs(differences: Array, signs: Array) -> list[tuple[float, float]]:
    """Two-sided probability of each measure alone and within the family, for differences within pairs.

    differences : (n, m), NaN where a measure has no such pair. signs : from `list_signs`. The statistic is the size of
    Σd over √Σd², which orders the ways to swap as the paired t does.
    """
    d = np.nan_to_num(differences, nan=0.0)
    size = np.sqrt((d**2).sum(axis=0))
    return _rank(np.abs(signs @ d) / np.where(size > 0, size, 1.0))


def permute_groups(values: Array, labels: Array) -> list[tuple[float, float]]:
    """The same for two groups of unpaired values.

    values : (n, m), NaN where missing. labels : from `list_labels`. The statistic is the difference of the groups'
    means over the spread of all values, corrected for the groups' sizes, which orders the ways as t does.
    """
    seen = np.isfinite(values)
    v = np.where(seen, values - np.nanmean(values, axis=0), 0.0)
    late = labels @ seen
    early = seen.sum(axis=0) - late
    with np.errstate(divide="ignore", invalid="ignore"):
        difference = (labels @ v) / late - ((1 - labels) @ v) / early
        scaled = np.abs(difference) / np.sqrt(1 / late + 1 / early)
    size = np.sqrt((v**2).sum(axis=0))
    return _rank(np.nan_to_num(scaled, nan=0.0) / np.where(size > 0, size, 1.0))


def hedges_g(difference: float, sd: float, freedom: int, scale: float) -> tuple[float, float, float] | None:
    """Difference over the scatter between reps, free of small-sample bias, with its 95 % interval.

    scale : standard error of the difference over `sd` (1/√n for pairs, √(1/n₁ + 1/n₂) for two groups). The interval
    comes from the non-central t distribution. None without scatter. Sources: Hedges 1981; Steiger & Fouladi 1997
    (from memory).
    """
    from scipy.optimize import brentq
    from scipy.special import nctdtr

    if not sd > 1e-9 * abs(difference) or freedom < 1:
        return None
    t = difference / (sd * scale)
    unbiased = exp(lgamma(freedom / 2) - lgamma((freedom - 1) / 2)) / (freedom / 2) ** 0.5 if freedom > 1 else 1.0
    reach = 10 + 3 * abs(t)

    def below(shift: float) -> float:
        # Far from t the library's series gives NaN where the probability is 0 or 1.
        chance = float(nctdtr(freedom, shift, t))
        return chance if chance == chance else float(shift < t)

    def end(share: float) -> float:
        return float(brentq(lambda shift: below(shift) - share, t - reach, t + reach))

    return t * scale * unbiased, end(0.975) * scale * unbiased, end(0.025) * scale * unbiased


def _rank(statistics: Array) -> list[tuple[float, float]]:
    """(k ways, m measures), the given way first → probability of each alone, and against the largest of all."""
    given = statistics[0] - _TIE
    largest = statistics.max(axis=1)
    return [
        (float(np.mean(statistics[:, column] >= given[column])), float(np.mean(largest >= given[column])))
        for column in range(statistics.shape[1])
    ]
