"""Pairs of invented sets whose difference is known (tools/benchmarks/simulated_sets.py)."""

import math
from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.errors import UsageError
from formcheck.core.model import ExerciseRef, SetInfo
from formcheck.statistics.comparison import compare_early_with_late, compare_sets, is_same_camera
from formcheck.statistics.rep_series import list_measures
from formcheck.statistics.set_trends import analyse_set, find_session_trends
from formcheck.statistics.side_trend import DIFFERENCES
from tests.facts import says


def two(sets, lost, n=10, seed=1, *, moved=False):
    rng = np.random.default_rng(seed)
    common = sets.draw_common(rng)
    first = sets.invented_set(rng, n, common=common)
    course = {"range_of_motion": np.full(n, -float(lost))}
    return first, sets.invented_set(rng, n, course=course, common=sets.draw_common(rng) if moved else common)


def range_of(comparison):
    return next(item for item in comparison.differences if item.measure == "range_of_motion")


def test_lost_range_is_told_with_its_margin(sets):
    found = compare_sets(*two(sets, 9), labels=("set 1", "set 4"), same_session=True)
    item = range_of(found)
    assert found.differences[0] is item
    assert item.call == "changed"
    assert item.change == pytest.approx(-9, abs=item.margin)
    by = f"Range of motion fell by {-item.change:.0f}° ± {math.ceil(item.margin)}°"
    assert says(item.sentence, by, "set 1", "set 4", "beyond")
    assert found.sentence.startswith(item.sentence)
    assert item.effect_low < item.effect < item.effect_high < 0
    assert found.same_camera
    assert found.fatigue_can_be_told


def test_the_same_loss_is_blurred_when_the_camera_was_set_up_anew(sets):
    first, second = two(sets, 9)
    anew = range_of(compare_sets(first, second))
    kept = range_of(compare_sets(first, second, same_session=True))
    assert anew.call == "no_detectable_change"
    # Nearly the whole margin of each set, twice: √2 times the margin that stands beside the numbers.
    margins = [item.margin for item in first.measures if item.name == "range_of_motion" and item.margin is not None]
    assert anew.margin > 2**0.5 * float(np.median(margins)) * 0.9 > kept.margin
    assert anew.detectable > 3 * kept.detectable


def test_order_flips_the_sign_only(sets):
    first, second = two(sets, 9)
    one, other = (range_of(compare_sets(*pair, same_session=True)) for pair in ((first, second), (second, first)))
    assert one.change == pytest.approx(-other.change)
    assert (one.p, one.p_family, one.margin) == (other.p, other.p_family, pytest.approx(other.margin))
    assert "rose by" in other.sentence


def test_another_load_is_said_and_not_called_fatigue(sets):
    first, second = two(sets, 9)
    heavier = replace(second, set_info=SetInfo(load_kg=10))
    found = compare_sets(first, heavier, same_session=True)
    assert not found.fatigue_can_be_told
    assert says(found.notes[0], "set 1", "8 kg", "set 2", "10 kg")
    unknown = compare_sets(first, replace(second, set_info=SetInfo()), same_session=True)
    assert not unknown.fatigue_can_be_told
    assert "not known" in unknown.notes[0]


def test_few_reps_in_common_allow_no_claim(sets):
    found = compare_sets(*two(sets, 20, n=5), same_session=True)
    assert {item.call for item in found.differences} == {"too_few_reps"}
    assert says(found.sentence, "Too few reps", "5")


def test_sets_of_unlike_length_are_matched_by_rep(sets):
    first, second = two(sets, 9)
    shorter = replace(
        second, reps=second.reps[:7], measures=tuple(item for item in second.measures if (item.rep or 0) <= 7)
    )
    assert range_of(compare_sets(first, shorter, same_session=True)).reps == 7


def test_nothing_in_common_is_no_crash(sets):
    first, second = two(sets, 9)
    found = compare_sets(first, replace(second, measures=(), reps=()))
    assert found.differences == ()
    assert "Too few reps" in found.sentence


def test_other_exercises_are_refused(sets):
    first, second = two(sets, 0)
    with pytest.raises(UsageError, match="of one exercise"):
        compare_sets(first, replace(second, exercise=ExerciseRef("squat", "Squat")))
    with pytest.raises(UsageError):
        find_session_trends([first, replace(second, exercise=ExerciseRef("squat", "Squat"))])


def test_a_moved_camera_is_noticed(sets):
    first, second = two(sets, 0)
    assert is_same_camera(first, second)
    for change in (
        {"view": replace(second.view, yaw_deg=12.0)},
        {"view": replace(second.view, name="back")},
        {"view": replace(second.view, yaw_deg=None)},
        {"quality": replace(second.quality, subject_height_px=760.0)},
        {"clip": replace(second.clip, width=720)},
    ):
        assert not is_same_camera(first, replace(second, **change))
    found = compare_sets(first, replace(second, view=replace(second.view, yaw_deg=12.0)), same_session=True)
    assert not found.same_camera
    assert any("camera was moved" in note for note in found.notes)


def test_late_reps_against_early_ones(sets):
    course = {"range_of_motion": np.array([0.0] * 5 + [-12.0] * 5)}
    item = range_of(compare_early_with_late(sets.invented_set(np.random.default_rng(2), 10, course=course)))
    assert (item.call, item.reps) == ("changed", 5)
    assert item.change == pytest.approx(-12, abs=item.margin)
    assert says(item.sentence, "early reps", "late reps")
    short = compare_early_with_late(sets.invented_set(np.random.default_rng(2), 7))
    assert short.differences == ()
    assert says(short.sentence, "Too few reps", "7")


def test_trend_over_sessions(sets):
    rng = np.random.default_rng(3)
    common = sets.draw_common(rng)
    reviews = [
        sets.invented_set(rng, 8, common=common, course={"range_of_motion": np.full(8, 5.0 * week)})
        for week in range(8)
    ]
    found = {item.measure: item for item in find_session_trends(reviews)}
    item = found["range_of_motion"]
    assert (item.call, item.count) == ("changed", 8)
    assert item.slope == pytest.approx(5, abs=0.6)
    assert "over 8 sets" in item.sentence
    # Left against right has a test of its own, which needs three.
    few = {item.call for item in find_session_trends(reviews[:3]) if item.measure not in DIFFERENCES}
    assert few == {"too_few_reps"}


def test_equal_sets_seldom_raise_an_alarm(fatigue):
    # 5 % and three standard errors of a share of 150.
    for same in (True, False):
        assert fatigue.between_sets(150, 0.0, n=8, same_session=same, seed=31) <= 0.05 + 0.054
    assert fatigue.between_sets(40, 9.0, same_session=True, seed=32) >= 0.80


@pytest.mark.parametrize("course", [[0.0] * 7 + [-14.0] * 3, [0.0] * 8 + [-25.0] * 2, [0.0] * 4 + [-9.0] * 6])
def test_what_is_said_to_have_changed_is_nowhere_said_not_to(sets, course):
    """Within one review an aspect of form has one verdict, whichever of its numbers and tests shows it."""
    told = 0
    for seed in range(12):
        review = sets.invented_set(np.random.default_rng(seed), 10, course={"range_of_motion": np.array(course)})
        whole, halves = analyse_set(review), compare_early_with_late(review)
        changed = {measure for item in whole.onsets for measure in list_measures(item.aspect)}
        said = [*whole.trends, *halves.differences]
        assert not [item.sentence for item in said if item.measure in changed and item.call == "no_detectable_change"]
        told += bool(whole.onsets)
        if whole.onsets:
            assert not halves.sentence.startswith("No certain change")
    assert told >= 8


def test_without_a_change_every_number_says_so(sets):
    review = sets.invented_set(np.random.default_rng(3), 10)
    assert analyse_set(review).onsets == ()
    assert "range_of_motion" in {item.measure for item in compare_early_with_late(review).differences}


def test_numbers_of_other_definitions_stand_in_no_series_with_todays(sets):
    """Times are times in every version; an angle of one name may have come to mean another."""
    older, newer = two(sets, 9)
    newer = replace(newer, measures_version=older.measures_version + 1)
    found = compare_sets(older, newer, same_session=True)
    units = {item.unit for item in found.differences}
    assert units <= {"s"}
    assert any(says(note, "earlier formcheck", "times", "renew") for note in found.notes)
    assert not any("renew" in note for note in compare_sets(newer, newer, same_session=True).notes)
    trends = find_session_trends([older, older, newer])
    assert {item.count for item in trends if item.unit != "s"} <= {1}
    # Of older ones alone nothing is left out.
    assert {item.unit for item in find_session_trends([older] * 4)} >= {"deg"}
