"""Invented sets whose every rep is known (tools/benchmarks/simulated_sets.py), and small ones written out."""

import math
from dataclasses import replace

import numpy as np
import pytest

from formcheck.statistics.rep_series import find_aspects, list_series, list_series_by_side
from formcheck.statistics.set_trends import (
    analyse_set,
    compute_speed_loss,
    find_breakdown,
    find_form_changes,
    find_trends,
)
from tests.facts import says


def made(sets, n=10, seed=1, **course):
    planted = {name: np.asarray(values, dtype=float) for name, values in course.items()}
    return sets.invented_set(np.random.default_rng(seed), n, course=planted)


def keep(review, *names):
    return replace(review, measures=tuple(item for item in review.measures if item.name in names))


def with_values(review, name, values):
    measures = tuple(
        replace(item, value=values[item.rep - 1]) if item.name == name else item for item in review.measures
    )
    return replace(review, measures=measures)


def test_breakdown_names_rep_aspect_and_amount(sets):
    course = analyse_set(made(sets, range_of_motion=[0, 0, 0, 0, 0, 0, -14, -14, -14, -14]))
    assert course.breakdown.rep == 7
    first = course.breakdown.first[0]
    assert (first.aspect, first.worse, first.grows) == ("range", True, False)
    assert first.change == pytest.approx(-14, abs=first.margin)
    assert says(course.sentence, "rep 7", "first", "range")
    assert says(course.sentence, "fell", f"{-first.change:.0f}°", f"{math.ceil(first.margin)}°")


def test_what_changed_first_comes_first(sets):
    course = analyse_set(
        made(
            sets,
            n=12,
            torso_side_lean_range=[0] * 3 + [6.0] * 9,
            range_of_motion=[0] * 8 + [-16] * 4,
        )
    )
    assert [item.aspect for item in course.onsets] == ["torso", "range"]
    assert course.breakdown.rep == 4
    assert [item.aspect for item in course.breakdown.later] == ["range"]
    assert says(course.sentence, "rep 9", "range")


def test_a_change_for_the_better_is_no_breakdown(sets):
    course = analyse_set(made(sets, range_of_motion=[0] * 5 + [14] * 5))
    assert [(item.aspect, item.worse) for item in course.onsets] == [("range", False)]
    assert course.breakdown is None
    assert "not for the worse" in course.sentence


def test_sides_growing_apart_are_worse_in_either_direction(sets):
    for sign in (1, -1):
        named = find_breakdown(find_form_changes(made(sets, arm_peak_difference=np.array([0] * 5 + [12] * 5) * sign)))
        assert named.first[0].aspect == "asymmetry"


def test_a_change_smaller_than_the_measurement_can_tell_is_none(sets):
    quiet = with_values(made(sets), "arm_peak_difference", [1.0, 1.1, 1.0, 1.1, 1.0, 2.0, 2.1, 2.0, 2.1, 2.0])
    changes = find_form_changes(keep(quiet, "arm_peak_difference"))
    assert changes == ()
    item = next(item for _, _, item in find_aspects(list_series(quiet)) if item.measure == "arm_peak_difference")
    assert 1.96 * 2**0.5 * item.scatter > 1.0
    [trend] = find_trends(keep(quiet, "arm_peak_difference"))
    assert (trend.call, trend.p <= 0.05) == ("no_detectable_change", True)
    assert "less than the measurement error" in trend.sentence


@pytest.mark.parametrize("n", [1, 2, 4])
def test_no_claim_below_five_reps(sets, n):
    course = analyse_set(made(sets, n=n, range_of_motion=-20.0 * np.arange(n)))
    assert course.breakdown is None
    assert course.onsets == ()
    assert {item.call for item in course.trends} == {"too_few_reps"}
    assert all(item.p is None for item in course.trends)
    assert says(" ".join(course.notes), "Too few reps", str(n), "5")
    assert course.sentence == course.notes[0]


def test_a_set_without_reps_says_so(sets):
    course = analyse_set(replace(made(sets), reps=(), measures=()))
    assert (course.trends, course.onsets, course.speed_loss, course.breakdown) == ((), (), None, None)
    assert "No reps" in course.sentence


def test_reps_that_were_not_measured_are_left_out(sets):
    review = made(sets, range_of_motion=[0] * 6 + [-16] * 4)
    holes = tuple(
        replace(item, value=None, margin=None, missing_reason="hidden") if item.rep == 3 else item
        for item in review.measures
    )
    course = analyse_set(replace(review, measures=holes))
    assert course.breakdown.rep == 7
    assert all(item.count == 9 for item in course.trends)


def test_trend_of_every_measure_and_side_is_given(sets):
    review = made(sets, range_of_motion=-2.0 * np.arange(10))
    found = {(item.measure, item.side): item for item in find_trends(review)}
    assert set(found) == {(item.name, item.side) for item in review.measures}
    left = found["range_of_motion", "left"]
    assert left.call == "changed"
    assert left.slope_low <= left.slope <= left.slope_high < 0
    assert left.change == pytest.approx(9 * left.slope)
    assert left.p_family >= left.p


def test_sides_are_averaged_rep_by_rep(sets):
    review = made(sets)
    by_side = {item.side: item for item in list_series_by_side(review) if item.measure == "range_of_motion"}
    both = next(item for item in list_series(review) if item.measure == "range_of_motion")
    assert both.values == pytest.approx((by_side["left"].values + by_side["right"].values) / 2)
    assert both.side is None


# Invented speeds; loss = 100·(fastest − rep)/fastest: 26 % in the last.
SPEEDS = [100, 98, 99, 95, 92, 90, 86, 83, 80, 74]


def test_speed_loss_is_against_the_sets_own_fastest(sets):
    review = with_values(made(sets), "mean_concentric_speed", SPEEDS)
    found = compute_speed_loss(review)
    assert found.loss_percent == pytest.approx([0, 2, 1, 5, 8, 10, 14, 17, 20, 26])
    assert (found.last_percent, found.fastest_rep, found.reached_rep) == (pytest.approx(26), 1, None)
    assert "26 %" in found.sentence
    assert "as fast as possible" in found.caveat


def test_threshold_is_the_coachs_and_passed_only_beyond_the_margin(sets):
    review = with_values(made(sets), "mean_concentric_speed", SPEEDS)
    margin = compute_speed_loss(review).margin_percent
    low = compute_speed_loss(review, threshold_percent=5)
    reached = next(rep for rep, loss in enumerate(low.loss_percent, start=1) if loss - margin > 5)
    assert low.reached_rep == reached > 5
    assert compute_speed_loss(review, threshold_percent=25).reached_rep is None


def test_even_speed_is_no_loss(sets):
    found = compute_speed_loss(
        with_values(made(sets), "mean_concentric_speed", [100.0, 99, 98, 99, 100, 99, 98, 99, 98, 99])
    )
    assert found.call == "no_detectable_change"
    assert says(found.sentence, "No loss of speed")


def test_unchanged_sets_seldom_raise_an_alarm(fatigue):
    # 5 % and three standard errors of a share of 200.
    named, claimed = fatigue.false_alarms(200, 10, seed=21)
    assert named <= 0.05 + 0.047
    assert claimed <= 0.05 + 0.047


def test_lost_range_is_found_and_placed(fatigue):
    evenly, _, _ = fatigue.found_losses(60, [2], grows=True, seed=22)
    assert evenly >= 0.80
    for grows in (False, True):
        found, near, held = fatigue.found_losses(60, range(4, 9), grows=grows, seed=23)
        assert found >= 0.80
        assert near >= 0.80
        assert held >= 0.80
