"""Sets whose exercise is known because the stick figure was made to do it."""

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from formcheck.cli.exercise_choice import describe_suggestion
from formcheck.core.model import Array, ClipDamage, LandmarkRecording
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.recognition.suggest import CONFIDENT, suggest
from formcheck.report.words import describe_reason
from tests import lifter, shelf

SHELF = load_exercises().values()
PLAN = lifter.Set((1.0,) * 4, low=0.0)


def bar(c: Array) -> dict[str, Any]:
    """Both hands on one bar: the elbows bend just so that their distance stays as it is."""
    raised = 55 + 95 * c
    out = (0.26 - lifter.UPPER_ARM * np.sin(np.radians(raised))) / lifter.FOREARM
    fold = 360 - np.degrees(np.arccos(np.clip(out, -1, 1))) - 270
    return {"left": raised, "right": raised, "elbow": 180 - fold - raised, "torso": 3.0}


POSES: dict[str, shelf.Pose] = {
    **shelf.POSES,
    "lateral-raise": lambda c: {"left": 8 + 82 * c, "right": 8 + 82 * c, "elbow": 12.0},
    "overhead-lateral-raise": lambda c: {"left": 8 + 162 * c, "right": 8 + 162 * c, "elbow": 12.0},
    "bent-over-lateral-raise": lambda c: {"left": 4 + 80 * c, "right": 4 + 80 * c, "torso": 78.0, "knee": 30.0},
    "guided-bar-press": bar,
}
ALIKE = {
    "bench-lateral-raise": "bent-over-lateral-raise",  # the bench is no landmark
    "bent-over-lateral-raise": "bench-lateral-raise",
    "guided-bar-press": "dumbbell-press",  # nor is the bar
}


def filmed(exercise: str, yaw: float) -> LandmarkRecording:
    t = lifter.times(PLAN.length_s)
    angles = POSES[exercise](PLAN.course(t))
    if get_exercise(exercise).position == "seated":
        angles |= {"knee": 90.0, "shin": 0.0}
    return lifter.film(t, **angles, yaw=yaw, noise_px=1.0)


@pytest.mark.parametrize("exercise", sorted(load_exercises()))
@pytest.mark.parametrize("yaw", [0.0, -35.0, 88.0])
def test_every_exercise_of_the_shelf_is_among_what_it_looks_like(exercise: str, yaw: float) -> None:
    found = suggest(filmed(exercise, yaw), SHELF)
    assert exercise in found.alike
    if found.exercise_id is not None:
        assert found.exercise_id == exercise


@pytest.mark.parametrize("exercise", ["squat", "hip-hinge", "biceps-curl", "lateral-raise", "overhead-lateral-raise"])
def test_what_is_unlike_all_others_is_said_with_confidence(exercise: str) -> None:
    found = suggest(filmed(exercise, 0.0), SHELF)
    assert found.exercise_id == exercise
    assert found.ranked[0][1] >= CONFIDENT
    assert found.alike == (exercise,)
    assert all(map(describe_reason, found.reasons))
    assert found.reasons
    assert found.view.name == "front"


@pytest.mark.parametrize(("exercise", "other"), ALIKE.items())
def test_what_landmarks_cannot_tell_apart_is_left_open(exercise: str, other: str) -> None:
    found = suggest(filmed(exercise, 0.0), SHELF)
    assert {exercise, other} <= set(found.alike)
    assert found.exercise_id is None


@pytest.mark.parametrize("yaw", [0.0, 88.0])
def test_the_two_dumbbell_presses_differ_in_the_palms_alone_which_landmarks_do_not_tell(yaw: float) -> None:
    found = suggest(filmed("turning-palm-press", yaw), SHELF)
    assert {"turning-palm-press", "dumbbell-press"} <= set(found.alike)
    assert found.exercise_id is None


def test_a_damaged_clip_is_said_first_and_what_is_left_of_it_is_still_told() -> None:
    film = filmed("lateral-raise", 0.0)
    damaged = suggest(replace(film, damage=ClipDamage(5.0, 8.0)), SHELF)
    assert [problem.code for problem in damaged.problems] == ["clip-damaged"]
    assert damaged.usable
    assert damaged.ranked == suggest(film, SHELF).ranked
    assert re.match(
        r"The clip is damaged: 5\.0 of 8\.0 seconds .* Looks like Lateral raise", describe_suggestion(damaged)
    )


def test_of_a_damaged_clip_with_nobody_in_it_nothing_else_is_told() -> None:
    t = lifter.times(4.0)
    nobody = np.full((len(t), 33, 2), np.nan), np.full((len(t), 33, 3), np.nan), np.zeros((len(t), 33))
    found = suggest(replace(lifter.recording(t, *nobody), damage=ClipDamage(4.0, 8.0)), SHELF)
    assert [problem.code for problem in found.problems] == ["clip-damaged", "nobody-found"]
    assert not found.usable
    assert "Nobody was found" in describe_suggestion(found)
    assert "ooks like" not in describe_suggestion(found)


def test_confidences_are_shares_of_one() -> None:
    for exercise in ("lateral-raise", "squat"):
        ranked = suggest(filmed(exercise, 0.0), SHELF).ranked
        assert len(ranked) > 1
        assert sum(confidence for _, confidence in ranked) <= 1.0
        assert [confidence for _, confidence in ranked] == sorted((c for _, c in ranked), reverse=True)


def test_someone_who_stands_still_does_none_of_them() -> None:
    t = lifter.times(8.0)
    found = suggest(lifter.film(t, noise_px=1.0), SHELF)
    assert found.alike == ()
    assert found.exercise_id is None


def test_a_clip_with_nobody_in_it_shows_none_of_them() -> None:
    t = lifter.times(4.0)
    nobody = np.full((len(t), 33, 2), np.nan), np.full((len(t), 33, 3), np.nan), np.zeros((len(t), 33))
    found = suggest(lifter.recording(t, *nobody), SHELF)
    assert found.ranked == found.alike == ()
