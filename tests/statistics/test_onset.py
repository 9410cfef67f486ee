"""Against a reference library, closed forms, and simulated series whose change is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import ttest_ind
from statsmodels.stats.multitest import multipletests

from formcheck.statistics.onset import USUAL_WEIGHT, find_credible, fit_onset, fit_step, holm


@settings(max_examples=30)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holm_agrees_with_the_reference_library(p):
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1].tolist())


def test_holm_of_nothing():
    assert holm([]) == []


def test_a_step_is_found_where_it_is():
    values = [80, 82, 81, 80, 81, 70, 71, 69, 70, 71]
    fit = fit_onset(values)
    assert (fit.first, fit.growth, fit.likely) == (5, 0.0, (5,))
    # Means of the first five and of the last five.
    assert fit.before == pytest.approx(80.8)
    assert fit.change == pytest.approx(70.2 - 80.8)
    # Margin: Student's t with 8 degrees of freedom (2.306, published table) on the pooled scatter of both halves.
    pooled = np.sqrt((np.var(values[:5]) * 5 + np.var(values[5:]) * 5) / 8)
    assert fit.margin == pytest.approx(2.306 * pooled * np.sqrt(2 / 5), rel=1e-3)


def test_direction_does_not_matter():
    values = np.array([1.0, 2, 1, 2, 1, 6, 7, 8, 9])
    up, down = fit_onset(values), fit_onset(-values)
    assert (up.first, up.likely, up.p) == (down.first, down.likely, down.p)
    assert up.change == pytest.approx(-down.change)


def test_level_and_scale_do_not_matter():
    values = np.array([1.0, 2, 1, 2, 1, 6, 7, 8, 9])
    one, other = fit_onset(values), fit_onset(50 + 3 * values)
    assert one.p == other.p
    assert one.probability == pytest.approx(other.probability)
    assert other.change == pytest.approx(3 * one.change)


def test_even_drift_is_a_ramp_from_the_start():
    fit = fit_onset(np.arange(10) + np.array([0.1, -0.1] * 5))
    assert fit.first <= 2
    assert fit.growth == 1.0
    assert fit.change == pytest.approx(9, abs=0.7)


def test_known_scatter_keeps_close_values_from_being_taken_for_exact():
    values = [10.0, 10.1, 10.0, 10.4, 10.5, 10.4]
    assert len(fit_onset(values, scatter=1.0).likely) > len(fit_onset(values).likely)
    assert fit_onset(values, scatter=1.0).margin > fit_onset(values).margin


def test_nothing_is_said_of_few_or_equal_values():
    assert fit_onset([1, 2, 3, 9]) is None
    assert fit_onset([7.0] * 8) is None
    assert fit_onset([]) is None


def test_credible_set_is_the_smallest_with_95_per_cent():
    assert find_credible([0.5, 0.3, 0.15, 0.05]) == (0, 1, 2)
    assert find_credible([0.01, 0.98, 0.01]) == (1,)


@pytest.mark.parametrize("n", [5, 8, 12])
def test_probability_is_uniform_when_nothing_changes(n):
    rng = np.random.default_rng([11, n])
    p = np.array([fit_onset(rng.standard_normal(n)).p for _ in range(1500)])
    for level in (0.05, 0.2, 0.5):
        # Four standard errors of a share of 1500.
        assert np.mean(p <= level) == pytest.approx(level, abs=4 * np.sqrt(level * (1 - level) / 1500))


def test_likely_places_hold_the_true_one_as_often_as_they_say():
    rng = np.random.default_rng(12)
    held = []
    for _ in range(600):
        first = int(rng.integers(2, 8))
        change = np.where(np.arange(10) >= first, 2.5, 0.0)
        held.append(first in fit_onset(change + rng.standard_normal(10)).likely)
    # Not below 95 % by more than three standard errors (0.027).
    assert np.mean(held) >= 0.95 - 0.027


@pytest.mark.parametrize("first", [1, 3, 6])
def test_a_step_is_student_s_t_of_two_means_times_the_indices_it_was_sought_among(first: int) -> None:
    y = np.array([80.0, 81.5, 79.0, 74.0, 75.5, 73.0, 74.5])
    step = fit_step(y, first)
    assert step is not None
    wanted = ttest_ind(y[first:], y[:first])
    assert step.p == pytest.approx(min(1.0, 6 * wanted.pvalue))
    assert step.after - step.before == pytest.approx(y[first:].mean() - y[:first].mean())
    assert step.margin == pytest.approx(wanted.confidence_interval(0.95).high - (step.after - step.before))


def test_a_step_counts_what_measuring_adds_and_needs_values_on_both_sides() -> None:
    y = [80.0, 80.0, 80.0, 70.0, 70.0]
    exact, blurred = fit_step(y, 3), fit_step(y, 3, scatter=6.0)
    assert exact is not None
    assert blurred is not None
    assert exact.p == 0.0
    # 1.96 standard deviations of a difference of means of 3 and 2, by t with 3 degrees of freedom: 3.182.
    assert blurred.margin == pytest.approx(3.1824 * 6 * np.sqrt(1 / 3 + 1 / 2), rel=1e-4)
    assert blurred.p > 0.05
    assert fit_step(y, 0) is fit_step(y, 5) is fit_step(y[:4], 2) is None
    same = fit_step([70.0] * 5, 2)
    assert same is not None
    assert same.p == 1.0


def test_what_values_usually_scatter_by_tells_a_change_in_five_of_them():
    y = [84.0, 80.0, 72.0, 68.0, 71.0]
    alone, beside = fit_onset(y), fit_onset(y, usual=2.5)
    assert alone.p > 0.05 / 6 > beside.p  # the first of six aspects (Holm)
    assert (beside.first, beside.change) == (alone.first, alone.change)
    # As large a change is none where values usually scatter so.
    assert fit_onset(y, usual=12.0).p > 0.05


@pytest.mark.parametrize("n", [5, 9])
def test_probability_is_uniform_where_scatter_is_drawn_about_the_usual(n):
    # Closed form: with as many degrees of freedom as it weighs, 8 / chi-square(8) of the usual variance.
    rng = np.random.default_rng([13, n])
    sds = 3.0 * np.sqrt(USUAL_WEIGHT / rng.chisquare(USUAL_WEIGHT, 1500))
    p = np.array([fit_onset(sd * rng.standard_normal(n), usual=3.0).p for sd in sds])
    for level in (0.05, 0.2, 0.5):
        assert np.mean(p <= level) == pytest.approx(level, abs=4 * np.sqrt(level * (1 - level) / 1500))
