"""A monotone trend in few values: exact Mann–Kendall test and Theil–Sen slope. Knows no body part."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import factorial, prod

import numpy as np

from formcheck.model import Array

FEWEST = 5
"""Below five values even a perfect order is likelier than 5 % by chance (four: 2/24), so nothing is claimed."""


def kendall_s(values: Sequence[float] | Array) -> int:
    """Mann–Kendall's S of values in order of time: rising pairs minus falling pairs."""
    array = np.asarray(values, dtype=float)
    return int(np.sign(array[None, :] - array[:, None])[np.triu_indices(len(array), 1)].sum())


def mann_kendall(values: Sequence[float] | Array) -> tuple[int, float]:
    """S and its exact two-sided probability, of any order with one as large, if every order were equally likely.

    Ties are counted as they stand: the orders are those of the very values given. Sources: Mann 1945, Kendall 1975;
    the number of orders of a multiset by inversions is a q-multinomial coefficient (MacMahon). All from memory.
    """
    s = kendall_s(values)
    sizes = tuple(sorted(Counter(np.asarray(values, dtype=float).tolist()).values()))
    counts, pairs = _orders_by_inversions(sizes)
    extreme = sum(count for inversions, count in enumerate(counts) if abs(pairs - 2 * inversions) >= abs(s))
    return s, extreme / sum(counts)


@dataclass(frozen=True, slots=True)
class Slope:
    """Theil–Sen slope with its 95 % interval, a unit of `times`; NaN ends where no interval can be given."""

    value: float
    low: float
    high: float


def theil_sen(values: Sequence[float] | Array, times: Sequence[float] | Array) -> Slope:
    """Median of the slopes between all pairs, with the interval that belongs to the exact Mann–Kendall test.

    The interval leaves out zero exactly when the test (without ties) is below 5 %. NaN where n is below two, or
    too small for any interval. Sources: Theil 1950; Sen 1968 (from memory).
    """
    y, x = np.asarray(values, dtype=float), np.asarray(times, dtype=float)
    later, earlier = np.tril_indices(len(y), -1)
    if not len(later):
        return Slope(float("nan"), float("nan"), float("nan"))
    slopes = np.sort((y[later] - y[earlier]) / (x[later] - x[earlier]))
    counts, pairs = _orders_by_inversions((1,) * len(y))
    total = factorial(len(y))
    tail = cut = 0
    # The largest number of slopes that may be left off at each end with at most 2.5 % beyond.
    while cut < len(counts) and tail + counts[cut] <= 0.025 * total:
        tail += counts[cut]
        cut += 1
    if cut == 0:
        return Slope(float(np.median(slopes)), float("nan"), float("nan"))
    return Slope(float(np.median(slopes)), float(slopes[cut - 1]), float(slopes[pairs - cut]))


@lru_cache(maxsize=256)
def _orders_by_inversions(sizes: tuple[int, ...]) -> tuple[tuple[int, ...], int]:
    """Orders of a multiset by inversions, and its pairs of unequal values; ``sizes``: how often each value occurs."""
    n = sum(sizes)
    counts = _q_factorial(n)
    for size in sizes:
        counts = _divide(counts, _q_factorial(size))
    assert sum(counts) == factorial(n) // prod(factorial(size) for size in sizes)
    return tuple(counts), len(counts) - 1


def _q_factorial(n: int) -> list[int]:
    """Coefficients of ∏ (1 + q + … + q^(k−1)), k = 1…n: orders of n different things by inversions."""
    counts = [1]
    for k in range(2, n + 1):
        longer = [0] * (len(counts) + k - 1)
        for shift in range(k):
            for power, count in enumerate(counts):
                longer[power + shift] += count
        counts = longer
    return counts


def _divide(counts: list[int], by: list[int]) -> list[int]:
    """Exact quotient of two polynomials whose constant terms are 1."""
    left, quotient = list(counts), []
    for power in range(len(counts) - len(by) + 1):
        factor = left[power]
        quotient.append(factor)
        for shift, coefficient in enumerate(by):
            left[power + shift] -= factor * coefficient
    return quotient
