"""How many reps are beyond, against every way it can come out."""

from itertools import product
from math import comb, prod, sqrt
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.statistics.reps_beyond import (
    Deviation,
    compute_count_probability,
    compute_set_probability,
    count_needed,
    shrink_to_set,
)


@given(chances=st.lists(st.floats(0, 1), min_size=1, max_size=8), least=st.integers(0, 9))
def test_the_count_is_that_of_all_outcomes_summed(chances: list[float], least: int) -> None:
    brute = sum(
        prod(p if happens else 1 - p for p, happens in zip(chances, outcome, strict=True))
        for outcome in product((False, True), repeat=len(chances))
        if sum(outcome) >= least
    )
    assert compute_count_probability(chances, least) == pytest.approx(brute, abs=1e-12)


def test_equal_chances_are_binomial() -> None:
    """Tables of the binomial distribution: n = 10, p = 0.3, P(X >= 5) = 0.1503 (any handbook; from memory)."""
    assert compute_count_probability([0.3] * 10, 5) == pytest.approx(0.1503, abs=5e-5)
    assert compute_count_probability([0.3] * 10, 5) == pytest.approx(
        sum(comb(10, k) * 0.3**k * 0.7 ** (10 - k) for k in range(5, 11))
    )


@given(beyond=st.floats(-6, 6), own=st.floats(0.2, 2), shared=st.floats(0, 3))
def test_one_rep_is_beyond_as_its_whole_error_says(beyond: float, own: float, shared: float) -> None:
    """Independent normal errors add up in squares."""
    whole = NormalDist().cdf(beyond / sqrt(own**2 + shared**2))
    assert compute_set_probability([[Deviation(beyond, own, shared)]], 1) == pytest.approx(whole, abs=1e-3)


def test_without_a_shared_error_reps_are_independent() -> None:
    """Two of Phi(1) = 0.84134 each: both 0.7079, at least one 0.9748."""
    reps = [[Deviation(1.0, 1.0, 0.0)]] * 2
    assert compute_set_probability(reps, 2) == pytest.approx(0.84134**2, abs=1e-4)
    assert compute_set_probability(reps, 1) == pytest.approx(1 - (1 - 0.84134) ** 2, abs=1e-4)


def test_with_a_shared_error_alone_all_reps_are_beyond_or_none() -> None:
    reps = [[Deviation(1.0, 1e-3, 1.0)]] * 5
    for least in (1, 3, 5):
        assert compute_set_probability(reps, least) == pytest.approx(0.84134, abs=0.03)


def test_a_rep_is_beyond_when_one_of_its_sides_is() -> None:
    sides = [Deviation(0.0, 1.0, 0.0), Deviation(0.0, 1.0, 0.0)]
    assert compute_set_probability([sides], 1) == pytest.approx(0.75)


def test_how_many_reps_make_a_fault_of_the_set() -> None:
    assert [count_needed(reps) for reps in (1, 3, 5, 6, 8, 10, 12, 15)] == [1, 1, 1, 2, 2, 2, 3, 4]


def test_values_are_drawn_to_their_mean_by_what_of_their_spread_is_error() -> None:
    """Kelley's formula: variance 4 of which 1 is error, so reliability 3/4 (1947; from memory)."""
    spread = [Deviation(value, 1.0, 2.0) for value in (-2.0, 0.0, 2.0)]  # mean 0, variance 4
    drawn = shrink_to_set(spread)
    assert [item.beyond for item in drawn] == pytest.approx([-1.5, 0.0, 1.5])
    assert drawn[0].own == pytest.approx(sqrt(0.75))
    assert drawn[0].shared == pytest.approx(sqrt(2.0**2 + (0.25 / sqrt(3)) ** 2))


def test_what_differs_by_error_alone_is_one_value() -> None:
    """Then only the mean is known, with the error of a mean: σ/√n."""
    drawn = shrink_to_set([Deviation(value, 3.0, 0.0) for value in (0.5, 1.0, 1.5, 1.0)])
    assert {item.beyond for item in drawn} == {1.0}
    assert [(item.own, item.shared) for item in drawn] == [(0.0, pytest.approx(1.5))] * 4


def test_two_reps_are_taken_as_they_are() -> None:
    pair = [Deviation(0.0, 1.0, 1.0), Deviation(0.1, 1.0, 1.0)]
    assert shrink_to_set(pair) == pair
