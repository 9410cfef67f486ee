"""Against published exact probabilities, two reference libraries, and counting every order."""

from itertools import permutations

import numpy as np
import pymannkendall
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from formcheck.statistics import rank_trend
from formcheck.statistics.rank_trend import EXACT_UP_TO, kendall_s, mann_kendall, theil_sen

# One-sided P(S >= s) without ties, n → s → probability. From the table of Kendall's S as printed with the trend test
# (Kendall 1975; Gilbert 1987, table A18), three decimals, from memory; checked by counting inversions.
TABLE = {
    4: {0: 0.625, 2: 0.375, 4: 0.167, 6: 0.042},
    5: {0: 0.592, 2: 0.408, 4: 0.242, 6: 0.117, 8: 0.042, 10: 0.0083},
    6: {1: 0.500, 3: 0.360, 5: 0.235, 7: 0.136, 9: 0.068, 11: 0.028, 13: 0.0083, 15: 0.0014},
    7: {1: 0.500, 3: 0.386, 5: 0.281, 7: 0.191, 9: 0.119, 11: 0.068, 13: 0.035, 15: 0.015, 17: 0.0054, 19: 0.0014},
    8: {0: 0.548, 2: 0.452, 4: 0.360, 6: 0.274, 8: 0.199, 10: 0.138, 12: 0.089, 14: 0.054, 16: 0.031, 18: 0.016},
    9: {0: 0.540, 2: 0.460, 4: 0.381, 6: 0.306, 8: 0.238, 10: 0.179, 12: 0.130, 14: 0.090, 16: 0.060, 18: 0.038},
    10: {1: 0.500, 3: 0.431, 5: 0.364, 7: 0.300, 9: 0.242, 11: 0.190, 13: 0.146, 15: 0.108, 17: 0.078, 19: 0.054},
}
# Speeds of ten reps, invented; slope and interval as scipy gives them, counted by hand for S.
FALLING = [100, 98, 99, 95, 92, 90, 86, 83, 80, 74]


def order_with(n, s):
    """An order of 1..n whose S is s: each swap of neighbours that are still in rising order lowers S by 2."""
    values = list(range(n))
    while kendall_s(values) > s:
        index = next(i for i in range(n - 1) if values[i] < values[i + 1])
        values[index], values[index + 1] = values[index + 1], values[index]
    return values


@pytest.mark.parametrize(("n", "s"), [(n, s) for n, row in TABLE.items() for s in row])
def test_exact_probability_is_the_published_one(n, s):
    found, p = mann_kendall(order_with(n, s))
    assert found == s
    digits = 0.00051 if TABLE[n][s] >= 0.01 else 0.00006
    # The table is one-sided; of S = 0 the two sides share the middle, so the two-sided probability is 1.
    assert p == pytest.approx(min(1.0, 2 * TABLE[n][s]), abs=2 * digits)


def test_four_values_never_reach_five_per_cent():
    assert mann_kendall([1, 2, 3, 4])[1] == pytest.approx(2 / 24)


@given(st.lists(st.integers(0, 4), min_size=2, max_size=7))
def test_ties_are_counted_as_over_all_orders(values):
    s, p = mann_kendall(values)
    reached = [abs(kendall_s(order)) >= abs(s) for order in permutations(values)]
    assert p == pytest.approx(sum(reached) / len(reached))


@given(st.lists(st.floats(-50, 50), min_size=4, max_size=15, unique=True))
def test_s_and_slope_agree_with_the_reference_library(values):
    reference = pymannkendall.original_test(np.array(values))
    s, p = mann_kendall(values)
    assert s == reference.s
    assert theil_sen(values, range(len(values))).value == pytest.approx(reference.slope)
    # The library's probability is the normal approximation; it is near the exact one from about ten values on.
    if len(values) >= 10:
        assert p == pytest.approx(reference.p, abs=0.02)


@pytest.mark.parametrize("n", [EXACT_UP_TO - 20, EXACT_UP_TO, EXACT_UP_TO + 1, 200])
@pytest.mark.parametrize("ties", [False, True])
def test_many_values_agree_with_the_reference_library(n, ties):
    rng = np.random.default_rng(n)
    for slope in (0.0, 0.005, 0.02):
        values = slope * np.arange(n) + rng.standard_normal(n)
        values = values.round() if ties else values
        reference, (s, p) = pymannkendall.original_test(values), mann_kendall(values)
        assert s == reference.s
        assert p == pytest.approx(reference.p, abs=0.01)
        assert theil_sen(values, range(n)).value == pytest.approx(reference.slope)


def test_where_exact_counting_ends_the_approximation_is_as_good(monkeypatch):
    """So that nothing jumps when one value more is there; every S that decides something is tried."""
    n = EXACT_UP_TO
    pairs = n * (n - 1) // 2
    values = {s: order_with(n, s) for s in range(pairs % 2, pairs // 3, 20)}
    exact = {s: mann_kendall(order)[1] for s, order in values.items()}
    slopes = {s: theil_sen(order, range(n)) for s, order in values.items()}
    monkeypatch.setattr(rank_trend, "EXACT_UP_TO", 0)
    for s, order in values.items():
        # The approximation leaves out half of the chance of S itself, which is largest where S is small.
        assert mann_kendall(order)[1] == pytest.approx(exact[s], abs=0.001 if exact[s] < 0.06 else 0.007)
        near = theil_sen(order, range(n))
        assert near.low == pytest.approx(slopes[s].low, abs=0.03)
        assert near.high == pytest.approx(slopes[s].high, abs=0.03)


def test_many_equal_values_have_no_trend():
    assert mann_kendall([3.0] * 100) == (0, 1.0)


def test_worked_example():
    s, p = mann_kendall(FALLING)
    assert (s, p) == (-43, pytest.approx(5.511e-6, rel=1e-3))
    slope = theil_sen(FALLING, range(1, 11))
    reference = theilslopes(FALLING, range(1, 11))
    assert slope.value == reference.slope == -3.0
    assert (slope.low, slope.high) == (pytest.approx(reference.low_slope), pytest.approx(reference.high_slope))


def test_one_wild_rep_does_not_move_the_slope():
    wild = [*FALLING[:4], 20, *FALLING[5:]]
    assert theil_sen(wild, range(10)).value == pytest.approx(-3.0)


@given(st.lists(st.floats(-50, 50), min_size=5, max_size=12, unique=True))
def test_interval_leaves_zero_out_exactly_when_the_test_does(values):
    slope, p = theil_sen(values, range(len(values))), mann_kendall(values)[1]
    assert (slope.low > 0 or slope.high < 0) == (p <= 0.05)


@pytest.mark.parametrize("n", [6, 10])
def test_interval_holds_the_true_slope_as_often_as_it_says(n):
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(1000):
        slope = theil_sen(0.7 * np.arange(n) + rng.standard_normal(n), range(n))
        held += slope.low <= 0.7 <= slope.high
    # Exact and discrete, so at least 95 % (three standard errors of a share of 1000 allowed).
    assert held / 1000 >= 0.95 - 0.021


def test_too_few_values_have_no_interval():
    slope = theil_sen([1, 2, 3], range(3))
    assert slope.value == 1
    assert np.isnan(slope.low)
    assert np.isnan(slope.high)
    assert np.isnan(theil_sen([1], [0]).value)
