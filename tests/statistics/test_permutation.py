"""Against the reference library's permutation test, exact counts, and closed forms."""

from itertools import product
from math import comb

import numpy as np
import pytest
from scipy.stats import nct, permutation_test, ttest_1samp

from formcheck.statistics.permutation import hedges_g, list_labels, list_signs, permute_groups, permute_pairs


def test_pairs_agree_with_the_reference_library():
    rng = np.random.default_rng(1)
    first, second = rng.normal(80, 2, 9), rng.normal(78, 2, 9)
    [(p, p_family)] = permute_pairs((second - first)[:, None], list_signs(9))
    reference = permutation_test(
        (second, first), lambda a, b: np.mean(a - b), permutation_type="samples", n_resamples=np.inf
    )
    assert p == p_family == pytest.approx(reference.pvalue)


def test_two_groups_agree_with_the_reference_library():
    rng = np.random.default_rng(2)
    first, second = rng.normal(80, 2, 5), rng.normal(77, 2, 5)
    values = np.concatenate([first, second])[:, None]
    [(p, _)] = permute_groups(values, list_labels(10, 5))
    reference = permutation_test(
        (second, first), lambda a, b: np.mean(a) - np.mean(b), permutation_type="independent", n_resamples=np.inf
    )
    assert p == pytest.approx(reference.pvalue)


def test_all_ways_are_tried_and_the_given_one_is_first():
    signs, labels = list_signs(8), list_labels(8, 4)
    assert signs.shape == (2**7, 8)
    assert (signs[0] == 1).all()
    assert labels.shape == (comb(8, 4), 8)
    assert labels[0].tolist() == [0, 0, 0, 0, 1, 1, 1, 1]
    assert len({tuple(row) for row in labels.tolist()}) == comb(8, 4)


@pytest.mark.parametrize("n", [5, 6, 10])
def test_the_smallest_probability_is_that_of_all_pairs_agreeing(n):
    d = np.linspace(1, 2, n)[:, None]
    [(p, _)] = permute_pairs(d, list_signs(n))
    assert p == pytest.approx(2 / 2**n)


def test_a_family_is_held_to_its_largest():
    """The largest t of all measures under every swap (Westfall & Young 1993, from memory), by scipy's t."""
    d = np.random.default_rng(3).standard_normal((8, 6))
    swaps = np.array(list(product((1.0, -1.0), repeat=8)))
    t = np.abs(ttest_1samp(swaps[:, :, None] * d, 0.0, axis=1).statistic)
    for column, (p, p_family) in enumerate(permute_pairs(d, list_signs(8))):
        assert p == pytest.approx(np.mean(t[:, column] >= t[0, column] - 1e-9))
        assert p_family == pytest.approx(np.mean(t.max(axis=1) >= t[0, column] - 1e-9))
        assert p <= p_family


def test_family_error_is_kept():
    rng = np.random.default_rng(4)
    signs, labels = list_signs(8), list_labels(8, 4)
    pairs, groups = [], []
    for _ in range(800):
        values = rng.standard_normal((8, 1)) + 0.5 * rng.standard_normal((8, 7))
        pairs.append(min(p for _, p in permute_pairs(values, signs)) <= 0.05)
        groups.append(min(p for _, p in permute_groups(values, labels)) <= 0.05)
    # Three standard errors of a share of 800.
    assert np.mean(pairs) <= 0.05 + 0.023
    assert np.mean(groups) <= 0.05 + 0.023


def test_missing_reps_are_left_out():
    d = np.array([[1.0, 2.0], [1.1, np.nan], [0.9, 1.5], [1.2, 1.0], [1.0, np.nan], [1.3, 1.2]])
    tested = permute_pairs(d, list_signs(6))
    [(alone, _)] = permute_pairs(d[np.isfinite(d[:, 1]), 1][:, None], list_signs(4))
    assert tested[1][0] == pytest.approx(alone)


def test_size_of_a_difference():
    # Correction 1 − 3/(4·9 − 1) for 9 degrees of freedom (Hedges 1981, approximate form), from memory.
    g, low, high = hedges_g(2.0, 2.5, 9, 10**-0.5)
    assert g == pytest.approx(0.8 * (1 - 3 / 35), rel=2e-3)
    t, unbiased = 0.8 * 10**0.5, g / 0.8
    assert nct.cdf(t, 9, low / unbiased * 10**0.5) == pytest.approx(0.975, abs=1e-6)
    assert nct.cdf(t, 9, high / unbiased * 10**0.5) == pytest.approx(0.025, abs=1e-6)


def test_size_without_scatter_is_not_given():
    assert hedges_g(1.0, 0.0, 9, 0.3) is None
