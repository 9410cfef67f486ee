"""What makes a recording impossible to review is told from landmarks made for the purpose."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import SIDES, LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.signals.skeleton import INDEX
from formcheck.signals.steady import MIRRORED, find_swapped_stretches
from formcheck.signals.usable import find_clip_problems
from tests import lifter

PLAN = lifter.Set((92.0,) * 4)
T = lifter.times(PLAN.length_s)
EXERCISE = get_exercise("lateral-raise")


def film(t: np.ndarray = T, *, yaw: float = 0.0) -> LandmarkRecording:
    course = PLAN.course(t)
    return lifter.film(t, left=course, right=course, yaw=yaw, noise_px=1.0)


def seen_only(recording: LandmarkRecording, seen: np.ndarray) -> LandmarkRecording:
    pixels, world, visibility = recording.pixels.copy(), recording.world.copy(), recording.visibility.copy()
    pixels[~seen], world[~seen], visibility[~seen] = np.nan, np.nan, 0.0
    return replace(recording, pixels=pixels, world=world, visibility=visibility)


def swapped(recording: LandmarkRecording, first_s: float, last_s: float) -> LandmarkRecording:
    inside = (recording.t >= first_s) & (recording.t <= last_s)
    pixels, world, visibility = recording.pixels.copy(), recording.world.copy(), recording.visibility.copy()
    for values in (pixels, world, visibility):
        values[inside] = values[inside][:, MIRRORED]
    return replace(recording, pixels=pixels, world=world, visibility=visibility)


def codes(recording: LandmarkRecording) -> list[str]:
    review = analyse(recording, EXERCISE).review
    return [item.code for item in review.quality.problems]


def test_a_body_seen_in_a_picture_now_and_then_is_nobody() -> None:
    """The pose model sees a body in test patterns, for up to three pictures running."""
    now_and_then = np.arange(len(T)) % 60 < 3
    recording = seen_only(film(), now_and_then)
    assert [item.code for item in find_clip_problems(recording)] == ["nobody-found"]
    review = analyse(recording, EXERCISE).review
    assert not review.view.known
    assert review.reps == review.measures == review.findings == ()
    assert review.quality.subject_height_px is None


def test_a_lifter_lost_for_a_picture_now_and_then_is_followed() -> None:
    assert find_clip_problems(seen_only(film(), np.arange(len(T)) % 9 > 0)) == ()


@pytest.mark.parametrize(("length_s", "rate", "code"), [(1.5, 30.0, "clip-too-short"), (12.0, 6.0, "too-few-pictures")])
def test_too_short_and_too_few_pictures_are_told_and_give_no_number(length_s: float, rate: float, code: str) -> None:
    review = analyse(film(lifter.times(length_s, rate)), EXERCISE).review
    assert [item.code for item in review.quality.problems] == [code]
    assert review.reps == review.measures == review.findings == ()
    assert not review.view.known


def test_standing_still_is_no_rep_and_no_camera_side() -> None:
    recording = lifter.film(lifter.times(8.0), noise_px=1.0)
    assert codes(recording) == ["no-reps"]
    assert not analyse(recording, EXERCISE).review.view.known
    assert analyse(recording, EXERCISE, view="front").review.view.known  # said by the user


@pytest.mark.parametrize("yaw", [0.0, 90.0, 180.0])
def test_left_and_right_that_change_places_are_found_from_every_side(yaw: float) -> None:
    assert find_swapped_stretches(film(yaw=yaw)) == ()
    ((start, end),) = find_swapped_stretches(swapped(film(yaw=yaw), 5.0, 6.6))
    assert (start, end) == pytest.approx((5.0, 6.6), abs=0.1)


def test_arms_overhead_that_change_places_later_than_the_shoulders_are_one_rep() -> None:
    """Arms at 140 degrees on the other side of their shoulder for a while read 220 (closed form: 360 - 140)."""
    plan = lifter.Set((140.0,) * 3)
    t = lifter.times(plan.length_s)
    sound = lifter.film(t, left=plan.course(t), right=plan.course(t), elbow=8)
    top = float(t[(t > plan.starts[1]) & (t < plan.starts[2]) & (plan.course(t) > 133)].mean())
    late = (t >= top - 0.6) & (t < top - 0.1)
    pixels, world = sound.pixels.copy(), sound.world.copy()
    for points in (pixels, world):
        for side in SIDES:
            shoulder, arm = INDEX[f"{side}_shoulder"], [INDEX[f"{side}_{part}"] for part in ("elbow", "wrist")]
            points[np.ix_(late, arm, [0])] = 2 * points[np.ix_(late, [shoulder], [0])] - points[np.ix_(late, arm, [0])]
    exercise = get_exercise("overhead-lateral-raise")
    found = analyse(swapped(replace(sound, pixels=pixels, world=world), top - 0.6, top + 0.4), exercise).review
    assert "sides-swapped" in [item.code for item in found.quality.problems]
    assert [rep.complete for rep in found.reps] == [True] * 3
    for rep, other in zip(found.reps, analyse(sound, exercise).review.reps, strict=True):
        assert (rep.start_s, rep.end_s) == pytest.approx((other.start_s, other.end_s), abs=0.1)


def test_a_rep_with_left_and_right_changed_is_counted_told_and_not_measured() -> None:
    first, second = PLAN.starts[1], PLAN.starts[2]
    sound = analyse(film(), EXERCISE).review
    review = analyse(swapped(film(), first + 0.4, second - 0.8), EXERCISE).review
    assert [item.code for item in review.quality.problems] == ["sides-swapped"]
    assert [rep.top_s for rep in review.reps] == pytest.approx([rep.top_s for rep in sound.reps], abs=0.05)
    assert {item.value for item in review.measures if item.rep == 2} == {None}
    before, after = (
        {(item.name, item.side): item.value for item in one.measures if item.rep == 1} for one in (sound, review)
    )
    assert after.keys() == before.keys()
    assert all(value is not None for key, value in after.items() if before[key] is not None)
    assert all(2 not in item.reps for item in review.findings if item.verdict == "met")


def test_a_lifter_who_turns_round_is_not_taken_for_a_change_of_sides() -> None:
    """Half a turn in a second is as fast as a person turns on the spot (common practice)."""
    t = lifter.times(10.0)
    yaw = 180.0 * lifter.minimum_jerk((t - 3.0) / 1.0) - 180.0 * lifter.minimum_jerk((t - 6.0) / 1.0)
    frames = [
        lifter.film(np.array([moment, moment + 1 / 30]), yaw=float(turn)) for moment, turn in zip(t, yaw, strict=True)
    ]
    recording = lifter.recording(
        t, np.array([one.pixels[0] for one in frames]), np.array([one.world[0] for one in frames])
    )
    assert find_swapped_stretches(recording) == ()


def test_a_clip_of_a_second_or_two_gives_no_body_in_space() -> None:
    t = lifter.times(2.6)
    one = lifter.Set((92.0,), before_s=0.2, after_s=0.2, concentric_s=0.8, eccentric_s=0.9, top_s=0.2)
    course = one.course(t)
    review = analyse(lifter.film(t, left=course, right=course, yaw=40.0), EXERCISE).review
    assert len(review.reps) == 1
    assert [item.code for item in review.quality.problems] == ["body-not-fitted"]
    assert {item.value for item in review.measures if item.name.startswith("arm_raise")} == {None}
