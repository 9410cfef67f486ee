"""What is not the exercise is not counted, and a fault still is: figures whose movement is known."""

from typing import Any

import numpy as np
import pytest

from formcheck.analysis import analyse_camera
from formcheck.core.model import Array, LandmarkRecording, Message
from formcheck.core.vocabulary.messages import UNLIKE
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.recognition.movement_match import Unlike, note_unlike
from formcheck.recognition.template import Interval, make_needs
from formcheck.review_text import describe_note
from tests import lifter, shelf
from tests.reps.between_sets import MOVEMENTS, drinking, filmed, hair, talking, weights

FOUR = ("lateral-raise", "overhead-lateral-raise", "bent-over-lateral-raise", "guided-bar-press")


def reps_and_notes(film: LandmarkRecording, exercise: str) -> tuple[int, list[Message]]:
    seen = analyse_camera(film, get_exercise(exercise), settings=shelf.EXACT)
    codes = ("exercise-not-seen", "not-counted")
    return len(seen.reps), [note for note in seen.quality.notes_coded if note.code in codes]


def raises(yaw: float = 0.0, high: float = 88.0, count: int = 4, **form: Any) -> LandmarkRecording:
    plan = lifter.Set((1.0,) * count, low=0.0)
    t = lifter.times(plan.length_s)
    c = plan.course(t)
    arm = 8 + (high - 8) * c
    values = {name: value(c) if callable(value) else value for name, value in form.items()}
    values = {"left": arm, "right": arm, "elbow": 12.0, **values}
    return lifter.film(t, **values, yaw=yaw, noise_px=1.0)


def one_after_another(*films: LandmarkRecording) -> LandmarkRecording:
    """One clip of several, each standing where the others do."""
    step = 1 / films[0].clip.frame_rate
    begins = np.cumsum([0.0, *(film.t[-1] + step for film in films[:-1])])
    t = np.concatenate([film.t + begin for film, begin in zip(films, begins, strict=True)])
    pixels, world = (np.concatenate([getattr(film, name) for film in films]) for name in ("pixels", "world"))
    return lifter.recording(t, pixels, world)


@pytest.mark.parametrize("yaw", [0.0, -35.0, 88.0])
@pytest.mark.parametrize("movement", MOVEMENTS)
def test_what_lifters_do_between_sets_is_no_repetition(movement: str, yaw: float) -> None:
    film = filmed(MOVEMENTS[movement](np.random.default_rng(3)), yaw=yaw)
    for exercise in FOUR:
        assert reps_and_notes(film, exercise)[0] == 0, exercise


def test_a_clip_without_the_exercise_says_so_in_one_sentence() -> None:
    _, notes = reps_and_notes(filmed(hair(np.random.default_rng(0))), "lateral-raise")
    assert [note.code for note in notes] == ["exercise-not-seen"]
    assert describe_note(notes[0]).count(".") == 1
    assert reps_and_notes(raises(), "lateral-raise")[1] == []


# An elbow below 0 bends down and ahead, as in tired raises; folded up, the hand would be above it.
FAULTS: dict[str, dict[str, Any]] = {
    "elbows much too bent": {"elbow": -60.0},
    "elbows that bend on the way up": {"elbow": lambda c: -10 - 65 * c},
    "arms well ahead of the body": {"plane": 45.0},
    "only half as high as asked": {"high": 55.0},
    "far too high": {"high": 150.0},
    "one arm half as high": {"right": lambda c: 8 + 45 * c},
    "torso swinging": {"torso": lambda c: 5 - 25 * c},
    "torso leaning forward": {"torso": 30.0},
    "a push from the legs": {"knee": lambda c: 50 - 40 * c},
}


@pytest.mark.parametrize("yaw", [0.0, 30.0, 88.0])
@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_still_a_repetition(fault: str, yaw: float) -> None:
    assert reps_and_notes(raises(yaw, **FAULTS[fault]), "lateral-raise") == (4, [])


@pytest.mark.parametrize("torso", [45.0, 60.0, 90.0])
def test_a_torso_not_far_enough_over_is_still_bent_over(torso: float) -> None:
    for yaw in (0.0, 88.0):
        assert reps_and_notes(raises(yaw, torso=torso, knee=25.0), "bent-over-lateral-raise")[0] == 4


@pytest.mark.parametrize("exercise", ["bent-over-lateral-raise", "guided-bar-press"])
def test_another_exercise_is_not_this_one(exercise: str) -> None:
    count, notes = reps_and_notes(raises(), exercise)
    assert count == 0
    assert notes[0].code == "exercise-not-seen"


@pytest.mark.parametrize("yaw", [0.0, 88.0])
def test_a_set_is_counted_whatever_comes_before_and_after_it(yaw: float) -> None:
    rng = np.random.default_rng(5)
    around = [filmed(make(rng), yaw=yaw) for make in (weights, talking, drinking, weights)]
    film = one_after_another(*around[:2], raises(yaw), *around[2:])
    seen = analyse_camera(film, get_exercise("lateral-raise"), settings=shelf.EXACT)
    first = sum(part.t[-1] for part in around[:2])
    assert len(seen.reps) == 4
    assert first < seen.reps[0].start_s < seen.reps[-1].end_s < first + raises(yaw).t[-1] + 0.5


def test_every_exercise_says_what_it_needs() -> None:
    """A lift of both arms needs both; one that is done standing needs no bent torso (common practice)."""
    for exercise in load_exercises().values():
        needs = make_needs(exercise)
        assert needs
        assert {need.code for need in needs.values()} <= UNLIKE.keys()
        if exercise.driver.sagittal not in ("knee_flexion", "torso_inclination"):
            assert needs["both"].misfit(0.0) > 5.0
            upright = needs["lean.top"].misfit(3.0)
            assert (upright > 5.0) == (exercise.position in ("bent-over", "prone"))


def test_a_need_counts_by_its_squared_distance_and_the_unknown_not_at_all() -> None:
    need = Interval(10.0, 20.0, 2.0, "upper-arms-rise")
    assert [need.misfit(value) for value in (10.0, 15.0, 20.0, float("nan"))] == [0.0] * 4
    assert need.misfit(26.0) == need.misfit(4.0) == pytest.approx(9.0)


def test_movements_left_out_of_a_set_are_named_with_their_moment() -> None:
    reps = analyse_camera(raises(), get_exercise("lateral-raise"), settings=shelf.EXACT).reps
    exercise = get_exercise("lateral-raise")
    odd = [Unlike(61.24, "torso-bent-over")] + [Unlike(70.0, "hand-to-face")] * 3
    (note,) = note_unlike(odd, reps, exercise)
    assert note.parameters["reasons"] == ("torso-bent-over", "hand-to-face", "hand-to-face")
    text = describe_note(note)
    assert "1:01.2 (the torso is bent far over)" in text
    assert text.endswith("and more.")
    assert note_unlike([], reps, exercise) == ()


def test_a_first_repetition_cut_off_by_the_clip_still_counts() -> None:
    film = raises()
    late = film.t >= 1.7
    cut = lifter.recording(film.t[late] - film.t[late][0], film.pixels[late], film.world[late])
    seen = analyse_camera(cut, get_exercise("lateral-raise"), settings=shelf.EXACT)
    assert [rep.complete for rep in seen.reps] == [False, True, True, True]


def test_figures_are_what_they_say() -> None:
    """The bottle is at the mouth, and only the hand that holds it has moved."""
    film = filmed(drinking(np.random.default_rng(0)), noise_px=0.0)
    moved = [_travel(film.world[:, index]) for index in (15, 16)]
    assert min(moved) < 0.01 < 0.3 < max(moved)


def _travel(points: Array) -> float:
    return float(np.linalg.norm(np.ptp(points, axis=0)))
