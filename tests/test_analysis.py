"""The whole pure chain on a figure with known movement."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formcheck.analysis import analyse
from formcheck.core.model import SetInfo, Settings
from formcheck.exercises.registry import get_exercise, load_exercises
from tests import lifter


def verdicts(review, check):  # type: ignore[no-untyped-def]
    return {item.verdict: item.reps for item in review.findings if item.check == check}


@settings(max_examples=15)
@given(
    count=st.integers(1, 7), yaw=st.floats(-15, 15), noise=st.floats(0, 2.5), rate=st.sampled_from([24.0, 30.0, 60.0]),
    seed=st.integers(0, 9999),
)  # fmt: skip
def test_reps_in_reps_out_through_the_camera(count: int, yaw: float, noise: float, rate: float, seed: int) -> None:
    plan = lifter.Set((92.0,) * count)
    t = lifter.times(plan.length_s, rate)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t), yaw=yaw, noise_px=noise, seed=seed)
    assert len(analyse(film, get_exercise("lateral-raise")).review.reps) == count


@pytest.mark.parametrize("yaw", [90.0, -90.0])
def test_reps_are_counted_from_the_side_too(yaw: float) -> None:
    plan = lifter.Set((88.0,) * 6, low=4.0)
    t = lifter.times(plan.length_s)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t), torso=80, yaw=yaw, noise_px=1.5)
    review = analyse(film, get_exercise("bent-over-lateral-raise")).review
    assert len(review.reps) == 6
    assert review.view.name == ("left" if yaw > 0 else "right")
    assert set(verdicts(review, "torso-parallel")) == {"met"}


def test_range_lost_late_is_found_where_it_happens() -> None:
    plan = lifter.Set((92.0, 91.0, 92.0, 90.0, 62.0, 55.0))
    t = lifter.times(plan.length_s)
    review = analyse(
        lifter.film(t, left=plan.course(t), right=plan.course(t), noise_px=1.0), get_exercise("lateral-raise")
    ).review
    assert verdicts(review, "range-kept")["not_met"] == (5, 6)
    assert verdicts(review, "height")["not_met"][0] == 5
    bad = next(item for item in review.findings if item.check == "range-kept" and item.verdict == "not_met")
    assert bad.at_s == pytest.approx(plan.starts[5] + plan.concentric_s, abs=0.5)


def test_a_clean_set_has_nothing_not_met() -> None:
    plan = lifter.Set((91.0,) * 6)
    t = lifter.times(plan.length_s)
    review = analyse(
        lifter.film(t, left=plan.course(t), right=plan.course(t), elbow=10, noise_px=1.0), get_exercise("lateral-raise")
    ).review
    assert not [item for item in review.findings if item.verdict == "not_met"]


def test_stopping_at_shoulder_height_overhead() -> None:
    plan = lifter.Set((168.0, 167.0, 168.0, 95.0))
    t = lifter.times(plan.length_s)
    review = analyse(
        lifter.film(t, left=plan.course(t), right=plan.course(t)), get_exercise("overhead-lateral-raise")
    ).review
    assert [rep.complete for rep in review.reps] == [True, True, True, False]
    assert verdicts(review, "overhead") == {"met": (1, 2, 3), "not_met": (4,)}


def test_nobody_in_the_clip_gives_no_reps_and_says_so() -> None:
    t = lifter.times(3.0)
    empty = lifter.recording(
        t, np.full((len(t), 33, 2), np.nan), np.full((len(t), 33, 3), np.nan), np.zeros((len(t), 33))
    )
    for exercise in load_exercises().values():
        review = analyse(empty, exercise).review
        assert review.reps == review.measures == review.findings == ()
        assert [item.code for item in review.quality.problems] == ["nobody-found"]
        assert not review.view.known
        assert review.cautions


def test_standing_still_gives_no_reps() -> None:
    t = lifter.times(8.0)
    for exercise in load_exercises().values():
        assert analyse(lifter.film(t, noise_px=2.0), exercise).review.reps == ()


def test_the_same_input_gives_the_same_review() -> None:
    plan = lifter.Set((92.0,) * 3)
    t = lifter.times(plan.length_s)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t), noise_px=2.0)
    first, second = (analyse(film, get_exercise("lateral-raise"), set_info=SetInfo(8.0, 3)).review for _ in range(2))
    assert first == second
    assert first.set_info == SetInfo(8.0, 3)


def test_a_changed_setting_changes_the_review_without_new_landmarks() -> None:
    plan = lifter.Set((92.0, 92.0, 60.0))
    t = lifter.times(plan.length_s)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t))
    strict = analyse(film, get_exercise("lateral-raise"), settings=Settings(partial_below=0.9)).review
    assert [rep.complete for rep in strict.reps] == [True, True, False]


def test_reps_of_a_clip_of_two_frames() -> None:
    t = np.array([0.0, 0.04])
    assert analyse(lifter.film(t), get_exercise("lateral-raise")).review.reps == ()
