"""The truth of an offset is how the two recordings were made."""

import numpy as np
import pytest

from formcheck.core.errors import PairingError
from formcheck.exercises.registry import get_exercise
from formcheck.pairing.alignment import align, compute_height_speeds, compute_loudness_rise, find_mismatch
from formcheck.pairing.pair_review import align_recordings, review_pair
from tests.pairing.sets import POSES, Plan, filmed

PLAN = Plan()


@pytest.mark.parametrize("exercise", ["lateral-raise", "squat", "dumbbell-press", "bent-over-row", "front-raise"])
@pytest.mark.parametrize(
    ("yaws", "rates", "begins"),
    [((0.0, 88.0), (30.0, 24.0), (0.0, 0.83)), ((-12.0, -95.0), (25.0, 60.0), (0.61, 0.0))],
)
def test_two_views_are_laid_over_one_another_within_a_frame(
    exercise: str, yaws: tuple[float, float], rates: tuple[float, float], begins: tuple[float, float]
) -> None:
    clips = [
        filmed(PLAN, POSES[exercise], yaw=yaw, rate=rate, begins=begin, seed=seed, scale=scale)
        for seed, (yaw, rate, begin, scale) in enumerate(zip(yaws, rates, begins, (500.0, 410.0), strict=True))
    ]
    found = align_recordings(clips[0], clips[1])
    error = found.offset_s - (begins[1] - begins[0])
    assert abs(error) < 1 / max(rates)
    assert abs(error) <= found.margin_s
    assert found.confidence > 0.95


def test_a_lift_in_which_nothing_rises_is_laid_over_by_its_driver() -> None:
    """Arms opening at shoulder height: no landmark goes up or down, so the review needs the driver signals."""
    clips = [
        filmed(PLAN, POSES["machine-reverse-fly"], yaw=yaw, begins=begins, seed=seed)
        for seed, (yaw, begins) in enumerate([(0.0, 0.0), (88.0, 0.7)])
    ]
    second = review_pair(clips[0], clips[1], get_exercise("machine-reverse-fly")).review.second
    assert second is not None
    # Each view reads the opening in its own way: less exact, and the margin says so.
    assert abs(second.offset_s - 0.7) <= second.offset_margin_s <= 0.1


def test_the_second_camera_may_start_first_and_miss_the_end() -> None:
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0, begins=1.1)
    second = filmed(PLAN, POSES["lateral-raise"], yaw=88.0, rate=25.0, stops=2.4, seed=1)
    assert abs(align_recordings(first, second).offset_s + 1.1) < 1 / 30


@pytest.mark.parametrize(
    "other",
    [
        Plan(up=(1.3, 0.9, 1.2, 1.0), down=(1.1, 1.8, 1.2, 1.9)),
        Plan(up=(0.7,) * 4, down=(0.9,) * 4),
        Plan(waited=(0.9, 0.2, 0.8, 0.4), held=(0.6, 0.2, 0.6, 0.2)),
    ],
    ids=["other strokes", "quicker", "other pauses"],
)
def test_another_set_of_the_same_exercise_is_refused(other: Plan) -> None:
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0)
    second = filmed(other, POSES["lateral-raise"], yaw=88.0, seed=1)
    with pytest.raises(PairingError, match="do not show the same set"):
        align_recordings(first, second)


def test_reps_like_clockwork_cut_out_of_the_middle_fit_in_more_than_one_way() -> None:
    """Six equal reps, of which the second clip shows three: nothing tells which three."""
    even = Plan(up=(1.0,) * 6, held=(0.3,) * 6, down=(1.5,) * 6, waited=(0.4,) * 6, far=(1.0,) * 6)
    first = filmed(even, POSES["lateral-raise"], yaw=0.0)
    middle = filmed(even, POSES["lateral-raise"], yaw=88.0, begins=4.9, stops=4.6, seed=1)
    found = align(compute_height_speeds(first), compute_height_speeds(middle))
    assert found is not None
    assert found.odds < 0.95
    assert find_mismatch(found) == "several-offsets"


def test_clips_that_hardly_overlap_are_refused() -> None:
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0, stops=11.0)
    second = filmed(PLAN, POSES["lateral-raise"], yaw=88.0, begins=10.0, seed=1)
    with pytest.raises(PairingError, match="share too little of it"):
        align_recordings(first, second)


# ---------------------------------------------------------------- sound

SOUND_HZ = 8000


def clanks(times: list[float], seconds: float, *, begins: float, seed: int) -> np.ndarray:
    """Short decaying tones at the given times of the room's clock, with a microphone's own noise."""
    t = np.arange(round(seconds * SOUND_HZ)) / SOUND_HZ + begins
    sound = 0.01 * np.random.default_rng(seed).standard_normal(len(t))
    for moment in times:
        since = t - moment
        sound += np.where(since > 0, np.exp(-20 * np.abs(since)) * np.sin(2 * np.pi * 700 * since), 0.0) * 0.4
    return sound


def test_sound_gives_the_offset_to_a_hundredth_of_a_second() -> None:
    times = [1.2, 2.9, 5.3, 7.4, 9.0]
    first = compute_loudness_rise(0.0, clanks(times, 12.0, begins=0.0, seed=0), SOUND_HZ)
    second = compute_loudness_rise(0.05, clanks(times, 9.0, begins=1.38, seed=1), SOUND_HZ)
    found = align(first, second)
    assert found is not None
    # The second file's sound starts 0.05 s after its first picture, which was shown at 1.33 s of the room's clock.
    assert abs(found.offset_s - 1.33) < 0.01
    assert found.odds > 0.99


def test_sound_decides_between_reps_like_clockwork() -> None:
    even = Plan(up=(1.0,) * 6, held=(0.3,) * 6, down=(1.5,) * 6, waited=(0.4,) * 6, far=(1.0,) * 6)
    first = filmed(even, POSES["lateral-raise"], yaw=0.0)
    middle = filmed(even, POSES["lateral-raise"], yaw=88.0, begins=4.9, stops=4.6, seed=1)
    times = [2.2, 5.7, 6.9, 10.4, 12.1, 15.0, 17.7]
    sounds = (
        compute_loudness_rise(0.0, clanks(times, even.length_s, begins=0.0, seed=0), SOUND_HZ),
        compute_loudness_rise(0.0, clanks(times, even.length_s - 9.5, begins=4.9, seed=1), SOUND_HZ),
    )
    assert abs(align_recordings(first, middle, sounds=sounds).offset_s - 4.9) < 1 / 30


def test_a_sound_the_movement_contradicts_is_left_aside() -> None:
    """The same song in both clips, but not at the same moment of the set."""
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0)
    second = filmed(PLAN, POSES["lateral-raise"], yaw=88.0, begins=0.8, seed=1)
    times = [1.2, 2.9, 5.3, 7.4, 9.0]
    song = compute_loudness_rise(0.0, clanks(times, 12.0, begins=0.0, seed=0), SOUND_HZ)
    again = compute_loudness_rise(0.0, clanks(times, 12.0, begins=0.0, seed=1), SOUND_HZ)
    found = align_recordings(first, second, sounds=(song, again))
    assert found.found_by == "movement"
    assert abs(found.offset_s - 0.8) < 1 / 30
