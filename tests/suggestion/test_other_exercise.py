"""A set reviewed as another exercise: the likely one is named, and reviewing it as that gives its reps."""

from formcheck.analysis import analyse
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.model import Settings
from formcheck.suggestion import name_other_exercise
from tests import lifter

PLAN = lifter.Set((92.0,) * 5)
T = lifter.times(PLAN.length_s)
FILM = lifter.film(T, left=PLAN.course(T), right=PLAN.course(T), elbow=8, noise_px=1.0)
QUICK = Settings(fit_body=False)


def test_a_lateral_raise_reviewed_as_a_squat_names_the_raise() -> None:
    shelf = load_exercises()
    wrong = name_other_exercise(analyse(FILM, shelf["squat"], settings=QUICK), FILM, shelf.values(), settings=QUICK)
    (problem,) = wrong.review.quality.problems
    assert problem.code == "other-exercise"
    assert problem.parameters["exercise"] == "lateral-raise"
    assert 0.5 <= float(problem.parameters["confidence"]) <= 1.0
    assert len(analyse(FILM, get_exercise(str(problem.parameters["exercise"])), settings=QUICK).review.reps) == 5


def test_a_set_with_reps_comes_back_as_it_is() -> None:
    right = analyse(FILM, get_exercise("lateral-raise"), settings=QUICK)
    assert name_other_exercise(right, FILM, load_exercises().values(), settings=QUICK) is right


def test_somebody_who_stands_still_is_given_no_other_name() -> None:
    still = lifter.film(lifter.times(8.0), noise_px=1.0)
    shelf = load_exercises()
    named = name_other_exercise(analyse(still, shelf["squat"], settings=QUICK), still, shelf.values(), settings=QUICK)
    assert [item.code for item in named.review.quality.problems] == ["no-reps"]
