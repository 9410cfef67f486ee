"""The truth of an offset is how the two recordings were made."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.errors import PairingError, UnclearPairError
from formcheck.core.model import LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.pairing.alignment import Alignment, align
from formcheck.pairing.decision import ACCEPTED, REFUSED, check_same_set, compute_confidence
from formcheck.pairing.movement import compute_loudness_rise, compute_movement
from formcheck.pairing.pair_review import Sounds, align_recordings, review_pair
from tests.pairing.sets import POSES, Plan, filmed, in_turn

PLAN = Plan()
EVEN = Plan(up=(1.0,) * 6, held=(0.3,) * 6, down=(1.5,) * 6, waited=(0.4,) * 6, far=(1.0,) * 6)


def lay_over(first: LandmarkRecording, second: LandmarkRecording, sounds: Sounds | None = None) -> Alignment:
    """By what is seen of the body alone: the signal that makes the reps is left unknown."""
    curves = [compute_movement(one, one.t, np.full(len(one.t), np.nan)) for one in (first, second)]
    return align_recordings(curves[0], curves[1], sounds)


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
    found = lay_over(clips[0], clips[1])
    error = found.offset_s - (begins[1] - begins[0])
    assert abs(error) < 1 / max(rates)
    assert abs(error) <= found.margin_s
    assert compute_confidence(found) > ACCEPTED


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
    assert abs(lay_over(first, second).offset_s + 1.1) < 1 / 30


@pytest.mark.parametrize(
    "other",
    [
        Plan(up=(1.3, 0.9, 1.2, 1.0), down=(1.1, 1.8, 1.2, 1.9)),
        Plan(up=(0.7,) * 4, down=(0.9,) * 4),
        Plan(waited=(0.9, 0.2, 0.8, 0.4), held=(0.6, 0.2, 0.6, 0.2)),
    ],
    ids=["other strokes", "quicker", "other pauses"],
)
def test_another_set_of_the_same_exercise_is_never_taken(other: Plan) -> None:
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0)
    second = filmed(other, POSES["lateral-raise"], yaw=88.0, seed=1)
    with pytest.raises(PairingError, match="the same set"):
        lay_over(first, second)


def test_reps_like_clockwork_cut_out_of_the_middle_are_asked_about() -> None:
    """Six equal reps, of which the second clip shows three: nothing tells which three."""
    first = filmed(EVEN, POSES["lateral-raise"], yaw=0.0)
    middle = filmed(EVEN, POSES["lateral-raise"], yaw=88.0, begins=4.9, stops=4.6, seed=1)
    with pytest.raises(UnclearPairError, match=r"but .*they fit together in more than one way"):
        lay_over(first, middle)


def test_arms_in_turn_of_which_one_camera_sees_one_are_laid_over_one_another() -> None:
    """From the side the far arm is hidden: what is common to both clips is the near arm's work."""
    front = filmed(PLAN, in_turn, yaw=10.0)
    side = filmed(PLAN, in_turn, yaw=88.0, rate=25.0, begins=0.7, seed=1)
    far = [12, 14, 16, 18, 20, 22]  # shoulder to hand of the right side (the pose model's published numbering)
    noise = np.random.default_rng(2).normal(0.0, 6.0, side.pixels[:, far].shape)
    pixels, visibility = side.pixels.copy(), side.visibility.copy()
    pixels[:, far], visibility[:, far] = pixels[:, far].mean(axis=0) + noise, 0.1
    side = replace(side, pixels=pixels, visibility=visibility)
    found = lay_over(front, side)
    assert abs(found.offset_s - 0.7) <= 0.1
    assert abs(found.offset_s - 0.7) <= found.margin_s


def test_clips_that_hardly_overlap_are_not_taken() -> None:
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0, stops=11.0)
    second = filmed(PLAN, POSES["lateral-raise"], yaw=88.0, begins=10.0, seed=1)
    with pytest.raises(PairingError, match="the same set"):
        lay_over(first, second)


# ---------------------------------------------------------------- sure, asked, refused


def alignment(spread_s: float, lead: float, share: float = 1.0, strokes: int = 20) -> Alignment:
    return Alignment(0.8, 0.03, 0.9, 3.0, lead, strokes, spread_s, share, 6)


def test_what_is_unclear_is_asked_and_taken_when_a_person_says_so() -> None:
    sure, unclear, other = alignment(0.01, 80.0), alignment(0.07, 12.0, 0.7), alignment(0.2, 1.0, 0.6, 6)
    assert [compute_confidence(one) for one in (sure, unclear, other)] == sorted(
        (compute_confidence(one) for one in (sure, unclear, other)), reverse=True
    )
    assert compute_confidence(other) < REFUSED < compute_confidence(unclear) < ACCEPTED < compute_confidence(sure)
    assert check_same_set(sure) is sure
    with pytest.raises(UnclearPairError) as doubt:
        check_same_set(unclear)
    words = str(doubt.value)
    assert "alike in both, but" in words
    for against in ("0.07 s apart", "70 % of the movement", "more than one way"):
        assert against in words
    assert words.count(".") == words.count("0.07") + 1  # one sentence
    assert check_same_set(unclear, same_set=True) is unclear


@pytest.mark.parametrize("found", [None, alignment(0.2, 1.0, 0.6, 6)])
def test_what_shows_nothing_alike_is_refused_whatever_is_said(found: Alignment | None) -> None:
    for same_set in (False, True):
        with pytest.raises(PairingError, match="do not show the same set") as refused:
            check_same_set(found, same_set=same_set)
        assert not isinstance(refused.value, UnclearPairError)


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
    assert found.lead > 4.6  # 99 times likelier than any other


def test_sound_decides_between_reps_like_clockwork() -> None:
    first = filmed(EVEN, POSES["lateral-raise"], yaw=0.0)
    middle = filmed(EVEN, POSES["lateral-raise"], yaw=88.0, begins=4.9, stops=4.6, seed=1)
    times = [2.2, 5.7, 6.9, 10.4, 12.1, 15.0, 17.7]
    sounds = (
        compute_loudness_rise(0.0, clanks(times, EVEN.length_s, begins=0.0, seed=0), SOUND_HZ),
        compute_loudness_rise(0.0, clanks(times, EVEN.length_s - 9.5, begins=4.9, seed=1), SOUND_HZ),
    )
    assert abs(lay_over(first, middle, sounds).offset_s - 4.9) < 1 / 30


def test_a_sound_the_movement_contradicts_is_left_aside() -> None:
    """The same song in both clips, but not at the same moment of the set."""
    first = filmed(PLAN, POSES["lateral-raise"], yaw=0.0)
    second = filmed(PLAN, POSES["lateral-raise"], yaw=88.0, begins=0.8, seed=1)
    times = [1.2, 2.9, 5.3, 7.4, 9.0]
    song = compute_loudness_rise(0.0, clanks(times, 12.0, begins=0.0, seed=0), SOUND_HZ)
    again = compute_loudness_rise(0.0, clanks(times, 12.0, begins=0.0, seed=1), SOUND_HZ)
    found = lay_over(first, second, (song, again))
    assert found.found_by == "movement"
    assert abs(found.offset_s - 0.8) < 1 / 30
