"""A set reviewed as another exercise: the likely one is named, and reviewing it as that gives its reps."""

from dataclasses import replace
from functools import partial

import pytest

from formcheck.analysis import analyse
from formcheck.core.model import Analysis, LandmarkRecording, Settings
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.reps.edits import Edits, set_exercise
from formcheck.services.other_exercise import name_other_exercise
from tests import lifter
from tests.rendered import load_landmarks
from tests.shelf import POSES, Planted
from tests.test_shelf import FAULTS

PLAN = lifter.Set((92.0,) * 5)
T = lifter.times(PLAN.length_s)
FILM = lifter.film(T, left=PLAN.course(T), right=PLAN.course(T), elbow=8, noise_px=1.0)
QUICK = Settings(fit_body=False)
STOPS_AT_SHOULDER = ("014_overhead_lateral_raise",)
"""Rendered overhead raises in which most repetitions end at shoulder height, as their truth says."""
named = partial(name_other_exercise, exercises=load_exercises().values(), settings=QUICK)


def reviewed(film: LandmarkRecording, exercise: str, edits: Edits | None = None) -> tuple[Analysis, Analysis]:
    """The set reviewed as that exercise, and what comes back with another exercise named."""
    plain = analyse(film, get_exercise(exercise), settings=QUICK, edits=edits)
    return plain, named(plain, film)


def test_a_lateral_raise_reviewed_as_a_squat_names_the_raise() -> None:
    _, wrong = reviewed(FILM, "squat")
    (problem,) = wrong.review.quality.problems
    assert problem.code == "other-exercise"
    assert problem.parameters["exercise"] == "lateral-raise"
    assert problem.parameters["reps"] == 0
    assert 0.5 <= float(problem.parameters["confidence"]) <= 1.0
    assert len(reviewed(FILM, str(problem.parameters["exercise"]))[1].review.reps) == 5


@pytest.mark.parametrize(
    ("asked", "clip", "truth"),
    [
        ("machine-reverse-fly", "000_lateral_raise", "lateral-raise"),
        ("machine-reverse-fly", "013_lateral_raise", "lateral-raise"),
        ("lateral-raise", "040_overhead_lateral_raise", "overhead-lateral-raise"),
    ],
)
def test_reps_of_another_exercise_are_doubted_and_give_no_number(asked: str, clip: str, truth: str) -> None:
    film = load_landmarks(clip)
    plain, wrong = reviewed(film, asked)
    assert plain.review.reps
    first = wrong.review.quality.problems[0]
    assert first.code == "other-exercise"
    assert first.parameters["exercise"] == truth
    assert first.parameters["reps"] == len(plain.review.reps)
    assert [*wrong.review.reps, *wrong.review.measures, *wrong.review.findings] == []
    assert reviewed(film, truth)[1].review.reps


def test_a_set_with_reps_comes_back_as_it_is() -> None:
    plain, right = reviewed(FILM, "lateral-raise")
    assert right is plain


@pytest.mark.parametrize("clip", STOPS_AT_SHOULDER)
def test_reps_that_stop_half_way_are_a_fault_and_no_other_exercise(clip: str) -> None:
    plain, right = reviewed(load_landmarks(clip), "overhead-lateral-raise")
    assert plain.review.reps
    assert right is plain


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault.exercise}-{fault.check}")
def test_no_fault_makes_another_exercise_of_a_set(fault: Planted) -> None:
    plan = lifter.Set((1.0,) * 4, low=0.0)
    t = lifter.times(plan.length_s)
    seated = {"knee": 90.0, "shin": 0.0} if get_exercise(fault.exercise).position == "seated" else {}
    film = lifter.film(t, **{**POSES[fault.exercise](plan.course(t), **fault.change), **seated}, yaw=fault.yaw)
    plain, right = reviewed(film, fault.exercise)
    assert plain.review.reps
    assert right is plain


@pytest.mark.parametrize("reps", [1, 2])
def test_a_short_set_is_no_other_exercise(reps: int) -> None:
    plan = lifter.Set((92.0,) * reps)
    t = lifter.times(plan.length_s)
    plain, right = reviewed(lifter.film(t, left=plan.course(t), right=plan.course(t), noise_px=1.0), "lateral-raise")
    assert right is plain


def test_what_a_person_said_of_the_exercise_stands() -> None:
    asked = "machine-reverse-fly"
    film = load_landmarks("000_lateral_raise")
    plain, kept = reviewed(film, asked, set_exercise(Edits(), asked))
    assert plain.review.reps
    assert kept is plain


def test_an_exercise_of_ones_own_is_not_doubted() -> None:
    film = load_landmarks("000_lateral_raise")
    plain, _ = reviewed(film, "machine-reverse-fly")
    own = replace(plain, review=replace(plain.review, exercise=replace(plain.review.exercise, id="my-own")))
    assert named(own, film) is own


def test_somebody_who_stands_still_is_given_no_other_name() -> None:
    still = lifter.film(lifter.times(8.0), noise_px=1.0)
    assert [item.code for item in reviewed(still, "squat")[1].review.quality.problems] == ["no-reps"]
