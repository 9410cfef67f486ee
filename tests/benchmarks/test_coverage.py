"""Coverage of few sets, against the closed forms of the binomial interval and of the design effect."""

import pytest


def test_interval_with_every_value_inside_is_the_closed_form() -> None:
    """Clopper-Pearson with no miss in n: from (alpha/2)^(1/n) to 1 (closed form)."""
    from coverage import interval

    low, high = interval(1.0, 17)
    assert low == pytest.approx(0.025 ** (1 / 17))
    assert high == 1.0
    assert interval(0.0, 17) == (0.0, pytest.approx(1 - 0.025 ** (1 / 17)))


def test_interval_agrees_with_scipys_exact_binomial_test() -> None:
    from scipy.stats import binomtest

    from coverage import interval

    exact = binomtest(8, 10).proportion_ci(method="exact")
    assert interval(0.8, 10) == pytest.approx((exact.low, exact.high))


def test_values_that_always_agree_within_a_set_are_worth_one_a_set() -> None:
    from coverage import alikeness, worth

    whole = [{"a": [True] * 4, "b": [False] * 4, "c": [True] * 4}]
    assert alikeness(whole) == 1.0
    assert worth(whole[0], 1.0) == pytest.approx(3.0)
    assert worth(whole[0], 0.0) == pytest.approx(12.0)


def test_values_that_differ_within_sets_and_not_between_them_are_not_alike() -> None:
    from coverage import alikeness

    assert alikeness([{"a": [True, False], "b": [True, False]}]) == 0.0
    assert alikeness([{"a": [True, True], "b": [True, True]}]) == 0.0


def test_five_values_missed_in_one_set_of_six_are_compatible_and_missed_in_many_sets_are_not() -> None:
    """6 independent values, 5 inside: the exact interval is 0.36 to 0.996; 36 values, 30 inside: 0.67 to 0.94."""
    from coverage import compatible

    one_bad = {str(n): [n > 0] * 6 for n in range(6)}
    assert compatible(one_bad, 1.0, 0.95)
    assert not compatible(one_bad, 0.0, 0.95)
