"""Numbers of a rep from a figure with known angles, and their margins."""

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import SIDES, CameraView, Message, Quality, Rep, Settings, Signals, Tempo
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.measures import across_reps
from formcheck.measures.across_reps import SET_READERS, compute_range_shares
from formcheck.measures.margins import compute_margin, find_kind
from formcheck.measures.per_rep import READERS
from formcheck.signals.skeleton import INDEX
from tests import lifter

EXACT = Settings(correct_landmarks=False, fit_body=False)
FRONT = CameraView("front", 0.0, 10.0, "estimated")
GOOD = Quality(1.0, 30.0, 800.0, {}, {})
PLAN = lifter.Set((92.0, 90.0, 88.0, 86.0))


def value(review, name, rep, side=None):  # type: ignore[no-untyped-def]
    found = review.measure(name, rep=rep, side=side)
    assert found is not None, name
    return found.value


def test_front_view_gives_the_figures_own_angles() -> None:
    t = lifter.times(PLAN.length_s)
    course = PLAN.course(t)
    film = lifter.film(t, left=course, right=course - 6 * (course - 10) / 80, elbow=12.0)
    review = analyse(film, get_exercise("lateral-raise"), settings=EXACT).review
    assert len(review.reps) == 4
    for number, peak in enumerate(PLAN.peaks, start=1):
        lower = peak - 6 * (peak - 10) / 80
        assert value(review, "arm_elevation_peak", number, "left") == pytest.approx(peak, abs=0.3)
        assert value(review, "arm_raise_peak", number, "right") == pytest.approx(lower, abs=0.3)
        assert value(review, "arm_elevation_low", number, "left") == pytest.approx(10, abs=0.5)
        assert value(review, "range_of_motion", number, "left") == pytest.approx(peak - 10, abs=0.6)
        assert value(review, "arm_peak_difference", number) == pytest.approx(peak - lower, abs=0.3)


def test_side_view_gives_torso_and_knee_and_refuses_the_arms() -> None:
    plan = lifter.Set((85.0,) * 4, low=3.0)
    t = lifter.times(plan.length_s)
    course = plan.course(t)
    film = lifter.film(t, left=course, right=course, torso=80 - 0.2 * (course - 3), knee=28, yaw=90)
    review = analyse(film, get_exercise("bent-over-lateral-raise"), settings=EXACT).review
    assert len(review.reps) == 4
    for number in range(1, 5):
        assert value(review, "torso_inclination_range", number) == pytest.approx(0.2 * 82, abs=0.5)
        inside = (t >= review.reps[number - 1].start_s) & (t <= review.reps[number - 1].end_s)
        assert value(review, "torso_inclination_mean", number) == pytest.approx(
            (80 - 0.2 * (course - 3))[inside].mean(), abs=0.5
        )
        assert value(review, "knee_flexion_mean", number, "left") == pytest.approx(28, abs=0.2)
        arm = review.measure("arm_raise_peak", rep=number, side="left")
        assert arm is not None
        assert arm.value is None
        assert arm.margin is None
        assert arm.missing_reason_coded == Message("wrong-view", {"view": "side", "film_from": ("front", "back")})


def test_what_no_camera_shows_is_said() -> None:
    """Elbows of a raise bend forwards, at the camera (common practice: palms down, a soft bend)."""
    t = lifter.times(PLAN.length_s)
    for yaw in (0, 90):
        film = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t), yaw=yaw)
        elbow = analyse(film, get_exercise("lateral-raise")).review.measure("elbow_flexion_max", rep=1, side="left")
        assert elbow is not None
        assert elbow.missing_reason_coded == Message("no-single-view")


def test_press_from_the_front_gives_elbow_and_hand_height() -> None:
    plan = lifter.Set((150.0,) * 3, low=50.0)
    t = lifter.times(plan.length_s)
    course = plan.course(t)
    elbow = 105 - 95 * (course - 50) / 100
    film = lifter.film(t, left=course, right=course, elbow=elbow)
    review = analyse(film, get_exercise("guided-bar-press"), settings=EXACT).review
    down, fold = np.radians(50), np.radians(155)
    height = -(lifter.UPPER_ARM * np.cos(down) + lifter.FOREARM * np.cos(fold)) / lifter.UPPER_ARM
    for side in SIDES:
        assert value(review, "elbow_flexion_min", 2, side) == pytest.approx(10, abs=0.5)
        assert value(review, "elbow_flexion_max", 2, side) == pytest.approx(105, abs=0.5)
        assert value(review, "hand_height_low", 2, side) == pytest.approx(height, abs=0.03)


def test_elbow_bend_of_the_hanging_arm_from_the_side() -> None:
    """Bent by 20 degrees in the plane the side shows, at the start of each rep."""
    plan = lifter.Set((92.0,) * 3, low=0.5)
    t = lifter.times(plan.length_s)
    film = lifter.film(t, left=plan.course(t), right=plan.course(t), yaw=90)
    pixels = np.array(film.pixels)
    for side in SIDES:
        forearm = 130.0 * np.array([-np.sin(np.radians(20)), np.cos(np.radians(20))])
        pixels[:, INDEX[f"{side}_wrist"]] = pixels[:, INDEX[f"{side}_elbow"]] + forearm
    review = analyse(lifter.recording(t, pixels, film.world), get_exercise("lateral-raise"), settings=EXACT).review
    assert len(review.reps) == 3
    assert value(review, "elbow_flexion_bottom", 2, "left") == pytest.approx(20, abs=1)


def test_a_swing_through_the_vertical_is_measured_whole() -> None:
    """Leaning 8 degrees back and 8 forward is a swing of 16, which the size of the lean alone would halve."""
    plan = lifter.Set((90.0,) * 3)
    t = lifter.times(plan.length_s)
    course = plan.course(t)
    film = lifter.film(t, left=course, right=course, torso=8 - 16 * (course - 10) / 80, yaw=-90)
    review = analyse(film, get_exercise("lateral-raise"), settings=EXACT).review
    assert value(review, "torso_inclination_range", 2) == pytest.approx(16, abs=0.5)
    assert [item.verdict for item in review.findings if item.check == "no-swing"] == ["not_met"]


def test_speeds() -> None:
    """Peak speed of a minimum-jerk stroke is 1.875 times its mean (closed form)."""
    plan = lifter.Set((90.0,) * 3, concentric_s=1.6)
    t = lifter.times(plan.length_s, 60)
    review = analyse(
        lifter.film(t, left=plan.course(t), right=plan.course(t)), get_exercise("lateral-raise"), settings=EXACT
    ).review
    assert value(review, "peak_speed", 2) == pytest.approx(1.875 * 80 / 1.6, rel=0.02)
    assert value(review, "mean_concentric_speed", 2) == pytest.approx(80 / 1.6 / 0.8812, rel=0.04)


def test_the_last_rep_has_no_pause_after_it() -> None:
    t = lifter.times(PLAN.length_s)
    review = analyse(lifter.film(t, left=PLAN.course(t), right=PLAN.course(t)), get_exercise("lateral-raise")).review
    last = review.measure("bottom_pause", rep=4)
    assert last is not None
    assert last.value is None
    assert value(review, "bottom_pause", 1) is not None


def test_range_shares_are_against_the_sets_best() -> None:
    np.testing.assert_allclose(compute_range_shares([80, 82, 81, 60]), [80 / 81, 82 / 81, 1.0, 60 / 81])
    assert np.isnan(compute_range_shares([float("nan")])[0])
    assert compute_range_shares([50.0]) == [1.0]


def test_every_number_has_a_margin_or_a_reason() -> None:
    t = lifter.times(PLAN.length_s)
    for yaw in (0, 30, 90, 180):
        film = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t), yaw=yaw)
        for exercise in ("lateral-raise", "guided-bar-press", "overhead-lateral-raise", "bent-over-lateral-raise"):
            fitted = Settings(fit_body=exercise == "lateral-raise")
            measures = analyse(film, get_exercise(exercise), settings=fitted).review.measures
            assert measures or exercise != "lateral-raise"
            for measure in measures:
                assert (measure.value is None) == (measure.margin is None) == (measure.missing_reason is not None), (
                    measure
                )


def test_margin_grows_with_yaw_by_the_projection_law() -> None:
    """At yaw 30 an arm at 60 degrees is seen at 56.31 (closed form): 3.69 degrees more to allow for."""
    straight = compute_margin("arm_raise_peak", 60.0, FRONT, GOOD)
    turned = compute_margin("arm_raise_peak", 60.0, CameraView("front", 30.0, 10.0, "given"), GOOD)
    assert straight is not None
    assert turned == pytest.approx(np.hypot(straight, 3.69), abs=0.02)
    level = compute_margin("arm_raise_peak", 90.0, CameraView("front", 30.0, 10.0, "given"), GOOD)
    assert level == pytest.approx(straight, abs=1e-6)


def test_margin_of_times_grows_as_frames_get_fewer() -> None:
    """Two ends rounded to a frame: standard deviation frame/root 6, 13.6 ms at 30 frames a second (closed form)."""
    few = compute_margin("top_pause", 1.0, FRONT, Quality(1.0, 10.0, 800.0, {}, {}))
    many = compute_margin("top_pause", 1.0, FRONT, Quality(1.0, 240.0, 800.0, {}, {}))
    assert few is not None
    assert many is not None
    # What is added is 1.96 standard deviations, as independent errors add up: 80.0 ms at 10 a second, 3.3 ms at 240.
    assert few**2 - many**2 == pytest.approx(0.08001667**2 - 0.00333403**2, rel=1e-4)


def test_every_measure_an_exercise_promises_is_read_and_has_a_margin() -> None:
    assert set(READERS) | set(SET_READERS) == set(MEASURES)
    for exercise in load_exercises().values():
        for use in exercise.measures:
            for view in use.views:
                camera = CameraView(view, None, None, "given")
                margin = compute_margin(use.name, 50.0, camera, GOOD, find_kind(exercise, camera))
                assert margin, (exercise.id, use.name, view)


def test_an_angle_too_unsure_to_mean_anything_is_not_given(monkeypatch: pytest.MonkeyPatch) -> None:
    """A whole raise to the side spans about 90° (common practice): ± 40° would call half of one a whole one."""
    t = lifter.times(PLAN.length_s)
    film = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t))
    recording = lifter.recording(t, film.pixels, film.world, np.ones((len(t), 33)))
    unsure = {"arm_elevation_peak": 40.0, "eccentric_time": 40.0}
    monkeypatch.setattr(across_reps, "compute_margin", lambda name, *_, **__: unsure.get(name, 5.0))
    review = analyse(recording, get_exercise("lateral-raise")).review
    peaks = [item for item in review.measures if item.name == "arm_elevation_peak"]
    assert len(peaks) == 2 * len(PLAN.peaks)
    for peak in peaks:
        assert peak.value is None
        assert peak.missing_reason_coded == Message("margin-too-wide", {"degrees": 40})
    time = review.measure("eccentric_time", rep=2)
    assert time is not None
    assert time.value is not None  # seconds are no degrees


def test_one_arm_hidden_is_said_and_the_other_still_measured() -> None:
    t = lifter.times(PLAN.length_s)
    film = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t))
    visibility = np.ones((len(t), 33))
    visibility[:, [13, 15]] = 0.2
    review = analyse(lifter.recording(t, film.pixels, film.world, visibility), get_exercise("lateral-raise")).review
    assert len(review.reps) == 4
    left, right = (review.measure("arm_elevation_peak", rep=2, side=side) for side in SIDES)
    assert left is not None
    assert right is not None
    assert left.missing_reason_coded == Message("hidden", {"part": "left"})
    assert right.value is not None


@pytest.mark.parametrize("yaw", [0.0, 10.0, 20.0])
def test_an_arm_past_the_vertical_has_the_margin_of_one_just_before_it(yaw: float) -> None:
    """The projection law is the same on both sides of 180 degrees: tan(seen) = tan(true)·cos(yaw) (closed form)."""
    camera = CameraView("front", yaw, 5.0, "estimated")
    quality = Quality(1.0, 30.0, 800.0, {}, {})
    before, after = (compute_margin("arm_raise_peak", value, camera, quality) for value in (175.0, 185.0))
    assert before is not None
    assert after == pytest.approx(before, abs=0.2)


def test_an_arm_seen_farther_up_than_arms_go_is_not_given() -> None:
    """Active abduction and flexion reach 184 and 188 in the largest groups' means (Norkin & White, appendix A)."""
    exercise = get_exercise("overhead-lateral-raise")
    rep = Rep(1, 0.0, 1.0, 2.0, True, Tempo(1.0, 0.0, 1.0, 0.0))
    t = np.linspace(0.0, 2.0, 61)
    for peak, given in ((179.0, True), (187.0, True), (192.0, False)):
        curve = np.linspace(10.0, peak, 61)
        signals = Signals(t, {("arm_raise", "left"): curve, ("arm_raise", "right"): curve})
        found = across_reps.measure_set([rep], signals, curve, exercise, FRONT, GOOD)
        raises = [item.measure for item in found if item.measure.name == "arm_raise_peak"]
        assert [item.value is not None for item in raises] == [given, given]
        assert given or all(item.missing_reason_coded == Message("past-range") for item in raises)
