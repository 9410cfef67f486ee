"""Steadiness of a figure that moves in a known way."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import Array, CameraView, Measure, Quality, Review, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.measures.margins import compute_margin
from formcheck.measures.steadiness import (
    NO_BOTTOM_PAUSE,
    NO_PAUSE,
    TOO_FEW_REPS,
    TORSO_APART,
    TORSO_MOVES_DEG,
    TORSO_STILL,
)
from tests import lifter

RATE = 30.0
PLAN = lifter.Set((90.0,) * 4)


def reviewed(course: Array, *, torso: Array | float = 0.0, yaw: float = 0.0) -> Review:
    t = np.arange(len(course)) / RATE
    film = lifter.film(t, left=course, right=course, torso=torso, yaw=yaw)
    return analyse(
        film, get_exercise("lateral-raise"), settings=Settings(correct_landmarks=False, fit_body=False)
    ).review


def measured(review: Review, name: str, rep: int = 2) -> Measure:
    found = review.measure(name, rep=rep)
    assert found is not None, name
    return found


def analyse_set_course(*strokes: tuple[float, float], start: float = 10.0) -> Array:
    """Minimum-jerk strokes one after the other: (level to go to, seconds it takes)."""
    parts, level = [np.full(round(RATE), start)], start
    for goal, seconds in strokes:
        share = np.arange(1, round(seconds * RATE) + 1) / round(seconds * RATE)
        parts.append(level + (goal - level) * lifter.minimum_jerk(share))
        level = goal
    return np.concatenate([*parts, np.full(round(RATE), level)])


def test_one_even_push_is_as_smooth_as_minimum_jerk() -> None:
    """-1.40: see test_smoothness."""
    review = reviewed(PLAN.course(lifter.times(PLAN.length_s, RATE)))
    assert len(review.reps) == 4
    for name in ("concentric_smoothness", "eccentric_smoothness"):
        assert measured(review, name).value == pytest.approx(-1.40, abs=0.03)
        assert measured(review, name).unit == "none"


def test_a_lift_in_two_pushes_is_less_smooth_and_the_lowering_is_not_blamed() -> None:
    """Two equal pushes of a second each: -2.24 (see test_smoothness)."""
    rep = ((50.0, 1.0), (90.0, 1.0), (90.0, 0.5), (10.0, 1.5), (10.0, 0.5))
    review = reviewed(analyse_set_course(*rep * 3))
    assert len(review.reps) == 3
    assert measured(review, "concentric_smoothness").value == pytest.approx(-2.24, abs=0.1)
    assert measured(review, "eccentric_smoothness").value == pytest.approx(-1.40, abs=0.03)


def test_same_path_at_another_tempo_is_the_same_path() -> None:
    quick = ((90.0, 0.9), (90.0, 0.4), (10.0, 1.2), (10.0, 0.5))
    slow = ((90.0, 2.0), (90.0, 0.8), (10.0, 2.5), (10.0, 0.5))
    review = reviewed(analyse_set_course(*quick, *quick, *slow, *quick))
    assert len(review.reps) == 4
    for number in range(1, 5):
        assert measured(review, "path_deviation", number).value == pytest.approx(0, abs=0.6)


def test_a_rep_that_goes_less_far_strays_by_the_difference() -> None:
    """Root mean square of a unit minimum-jerk position over its time: the square root of 181/462 (closed form)."""
    review = reviewed(replace(PLAN, peaks=(90.0, 90.0, 90.0, 60.0)).course(lifter.times(PLAN.length_s, RATE)))
    assert measured(review, "path_deviation", 4).value == pytest.approx(30 * np.sqrt(181 / 462), abs=0.6)
    assert measured(review, "path_deviation", 1).value == pytest.approx(0, abs=0.3)


def test_two_reps_have_no_usual_path() -> None:
    plan = lifter.Set((90.0,) * 2)
    found = measured(reviewed(plan.course(lifter.times(plan.length_s, RATE))), "path_deviation")
    assert found.value is None
    assert found.missing_reason_coded == TOO_FEW_REPS


def test_arms_that_sink_while_they_should_be_held() -> None:
    held = ((90.0, 1.2), (90.0, 1.0), (10.0, 1.5), (10.0, 0.5))
    sinking = ((90.0, 1.2), (85.0, 1.0), (10.0, 1.5), (10.0, 0.5))
    hasty = ((90.0, 1.2), (10.0, 1.5), (10.0, 0.5))
    review = reviewed(analyse_set_course(*held, *sinking, *held, *hasty))
    assert len(review.reps) == 4
    assert measured(review, "top_drift", 1).value == pytest.approx(0, abs=0.4)
    assert measured(review, "top_drift", 2).value == pytest.approx(5, abs=0.4)
    assert measured(review, "top_drift", 4).missing_reason_coded == NO_PAUSE


def test_sinking_in_the_pause_at_the_bottom_of_a_squat() -> None:
    held = ((110.0, 1.2), (110.0, 1.0), (5.0, 1.5), (5.0, 0.5))
    sinking = ((107.0, 1.2), (110.0, 1.0), (5.0, 1.5), (5.0, 0.5))
    hasty = ((110.0, 1.2), (5.0, 1.5), (5.0, 0.5))
    course = analyse_set_course(*held, *sinking, *held, *hasty, start=5.0)
    film = lifter.film(np.arange(len(course)) / RATE, knee=course, shin=0.25 * course, yaw=90.0)
    review = analyse(film, get_exercise("squat"), settings=Settings(correct_landmarks=False, fit_body=False)).review
    assert len(review.reps) == 4
    assert measured(review, "bottom_drift", 1).value == pytest.approx(0, abs=0.4)
    assert measured(review, "bottom_drift", 2).value == pytest.approx(3, abs=0.5)
    assert measured(review, "bottom_drift", 4).missing_reason_coded == NO_BOTTOM_PAUSE


@pytest.mark.parametrize("rock", [0.0, 12.0])
def test_the_bodys_share_is_the_way_of_the_shoulders_over_that_of_the_hands(rock: float) -> None:
    """Both ways as straight lines from start to top, from the figure's own lengths (closed form)."""
    plan = lifter.Set((90.0,) * 4, low=5.0)
    t = lifter.times(plan.length_s, RATE)
    share = (plan.course(t) - 5.0) / 85.0
    film = lifter.film(t, left=plan.course(t), right=plan.course(t), plane=90.0, torso=-rock * share, yaw=90.0)
    review = analyse(
        film, get_exercise("front-raise"), settings=Settings(correct_landmarks=False, fit_body=False)
    ).review
    shoulder = lifter.TRUNK * np.array([-np.sin(np.radians(rock)), np.cos(np.radians(rock)) - 1])
    reach = lifter.UPPER_ARM + lifter.FOREARM
    hand = shoulder + reach * np.array([1 - np.sin(np.radians(5)), np.cos(np.radians(5))])
    expected = np.linalg.norm(shoulder) / np.linalg.norm(hand)
    for number in range(1, 5):
        assert measured(review, "shoulder_share", number).value == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("lead_s", [0.3, 0.1, 0.0, -0.15])
def test_a_torso_that_moves_like_the_hands_but_earlier(lead_s: float) -> None:
    t = lifter.times(PLAN.length_s, RATE)
    height = -np.cos(np.radians(PLAN.course(t + lead_s)))
    review = reviewed(PLAN.course(t), torso=6 - 12 * height, yaw=90)
    for number in range(1, 5):
        assert measured(review, "torso_lead", number).value == pytest.approx(lead_s, abs=0.02)


def test_a_torso_that_stays_still_cannot_lead() -> None:
    t = lifter.times(PLAN.length_s, RATE)
    found = measured(reviewed(PLAN.course(t), torso=3.0, yaw=90), "torso_lead")
    assert found.value is None
    assert found.missing_reason_coded == TORSO_STILL


def test_a_torso_that_sinks_as_the_hands_rise_does_not_lead() -> None:
    t = lifter.times(PLAN.length_s, RATE)
    height = -np.cos(np.radians(PLAN.course(t)))
    found = measured(reviewed(PLAN.course(t), torso=4 + 12 * height, yaw=90), "torso_lead")
    assert found.value is None
    assert found.missing_reason_coded == TORSO_APART


def test_torso_movement_is_timed_only_beyond_its_own_margin() -> None:
    side = CameraView("left", 90.0, 10.0, "given")
    margin = compute_margin(
        "torso_inclination_range", TORSO_MOVES_DEG, side, Quality(1.0, 30.0, 800.0, {}, {}), "in_plane"
    )
    assert margin is not None
    assert margin < TORSO_MOVES_DEG
