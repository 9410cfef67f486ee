"""Monotone trends of any series: Mann–Kendall test, exact for few values, and Theil–Sen slope."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from math import factorial, prod

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Array

FEWEST = 5
"""Below five values even a perfect order is likelier than 5 % by chance (four: 2/24), so nothing is claimed."""

EXACT_UP_TO = 60
"""Beyond so many values counting orders takes long, and the normal approximation is as good: within 0.001 of the exact
chance where that is near 5 %, within 0.007 anywhere."""


def kendall_s(values: Sequence[float] | Array) -> int:
    """Mann–Kendall's S of values in order of time: rising pairs minus falling pairs."""
    array = np.asarray(values, dtype=float)
    later, earlier = _list_pairs(len(array))
    return int(np.sign(array[later] - array[earlier]).sum())


def mann_kendall(values: Sequence[float] | Array) -> tuple[int, float]:
    """S and its two-sided probability, of any order with one as large, if every order were equally likely.

    Exact for `EXACT_UP_TO` values, beyond by the normal approximation (`scipy.stats.kendalltau`). Ties are counted as
    they stand: the orders are those of the very values given. Sources: Mann 1945, Kendall 1975; the number of orders
    of a multiset by inversions is a q-multinomial coefficient (MacMahon). All from memory.
    """
    s = kendall_s(values)
    if len(values) > EXACT_UP_TO:
        from scipy.stats import kendalltau  # most of a second to load

        return s, float(kendalltau(range(len(values)), values, method="asymptotic").pvalue) if s else 1.0
    sizes = tuple(sorted(Counter(np.asarray(values, dtype=float).tolist()).values()))
    counts, pairs = _count_orders(sizes)
    extreme = sum(count for inversions, count in enumerate(counts) if abs(pairs - 2 * inversions) >= abs(s))
    return s, extreme / sum(counts)


@dataclass(frozen=True, slots=True)
class Slope:
    """Theil–Sen slope with its 95 % interval, a unit of `times`; NaN ends where no interval can be given."""

    value: float
    low: float
    high: float


def theil_sen(values: Sequence[float] | Array, times: Sequence[float] | Array) -> Slope:
    """Median of the slopes between all pairs, with the interval that belongs to the Mann–Kendall test.

    Up to `EXACT_UP_TO` values the interval leaves out zero exactly when the test (without ties) is below 5 %; beyond,
    it is by the normal approximation (`scipy.stats.theilslopes`). NaN where n is below two, or too small for any
    interval. Sources: Theil 1950; Sen 1968 (from memory).
    """
    y, x = np.asarray(values, dtype=float), np.asarray(times, dtype=float)
    if len(y) > EXACT_UP_TO:
        from scipy.stats import theilslopes

        found = theilslopes(y, x)
        return Slope(float(found.slope), float(found.low_slope), float(found.high_slope))
    later, earlier = _list_pairs(len(y))
    if not len(later):
        return Slope(float("nan"), float("nan"), float("nan"))
    slopes = np.sort((y[later] - y[earlier]) / (x[later] - x[earlier]))
    counts, pairs = _count_orders((1,) * len(y))
    total = factorial(len(y))
    tail = cut = 0
    # The largest number of slopes that may be left off at each end with at most 2.5 % beyond.
    while cut < len(counts) and tail + counts[cut] <= 0.025 * total:
        tail += counts[cut]
        cut += 1
    if cut == 0:
        return Slope(float(np.median(slopes)), float("nan"), float("nan"))
    return Slope(float(np.median(slopes)), float(slopes[cut - 1]), float(slopes[pairs - cut]))


@lru_cache(maxsize=64)
def _list_pairs(n: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of the later and of the earlier value of every pair of n."""
    return np.tril_indices(n, -1)


@lru_cache(maxsize=256)
def _count_orders(sizes: tuple[int, ...]) -> tuple[tuple[int, ...], int]:
    """Orders of a multiset by inversions, and its pairs of unequal values; ``sizes``: how often each value occurs.

    The quotient [n]! / ([size]! …) of products of 1 + q + … + q^(k−1), as coefficients.
    """
    n = sum(sizes)
    counts = [1]
    for k in range(2, n + 1):
        counts = _multiply(counts, k)
    for k in (k for size in sizes for k in range(2, size + 1)):
        counts = _divide(counts, k)
    assert sum(counts) == factorial(n) // prod(factorial(size) for size in sizes)
    return tuple(counts), len(counts) - 1


def _multiply(counts: list[int], k: int) -> list[int]:
    """A polynomial times 1 + q + … + q^(k−1): each coefficient is the sum of the k before it and at it."""
    upto = [0, *accumulate(counts), *[sum(counts)] * (k - 1)]
    return [after - before for before, after in zip([0] * (k - 1) + upto, upto[1:], strict=False)]


def _divide(counts: list[int], k: int) -> list[int]:
    """The polynomial that `_multiply` makes `counts` of."""
    quotient: list[int] = []
    for power in range(len(counts) - k + 1):
        before = quotient[power - k] if power >= k else 0
        quotient.append(counts[power] - (counts[power - 1] if power else 0) + before)
    return quotient
