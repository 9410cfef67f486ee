"""Repetitions from a driver signal whose course is known: N in, N out."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.model import Array, Settings
from formcheck.exercises.schema import Driver
from formcheck.reps.find import find_reps
from formcheck.reps.strokes import DriverCurve, find_stroke_times_from_middle
from formcheck.signals.filtering import low_pass
from tests.lifter import Set, minimum_jerk, times

RULE = Driver(
    frontal="arm_raise", sagittal="arm_raise_by_height", oblique="arm_raise",
    concentric="rising", first="concentric", minimum_range=30.0, unit="deg",
)  # fmt: skip
SETTINGS = Settings()

# Where a minimum-jerk stroke's speed is 5 % of its peak: 16 s^2 (1-s)^2 = 0.05, so s = 0.0594 and 0.9406 (closed form).
FIRST, LAST = (1 - np.sqrt(1 - np.sqrt(0.05))) / 2, (1 + np.sqrt(1 - np.sqrt(0.05))) / 2


def filmed(t: Array, course: Array, rate: float, noise: float, seed: int) -> Array:
    """What is left of a course after landmark noise and the analysis' low-pass."""
    return low_pass(course + np.random.default_rng(seed).normal(0, noise, len(t)), rate, SETTINGS.cutoff_hz)


@given(
    count=st.integers(1, 12),
    concentric=st.floats(0.5, 4.0),
    eccentric=st.floats(0.5, 4.0),
    top=st.floats(0.0, 2.0),
    bottom=st.floats(0.0, 2.0),
    peak=st.floats(60, 170),
    noise=st.floats(0, 3),
    rate=st.sampled_from([24.0, 25.0, 29.97, 50.0, 60.0, 120.0]),
    seed=st.integers(0, 2**16),
)
def test_as_many_reps_out_as_in(
    count: int, concentric: float, eccentric: float, top: float, bottom: float, peak: float, noise: float,
    rate: float, seed: int,
) -> None:  # fmt: skip
    plan = Set((peak,) * count, 10.0, concentric, top, eccentric, bottom)
    t = times(plan.length_s, rate)
    reps = find_reps(t, filmed(t, plan.course(t), rate, noise, seed), RULE, SETTINGS)
    assert [rep.number for rep in reps] == list(range(1, count + 1))
    assert all(rep.complete for rep in reps)
    for rep, start in zip(reps, plan.starts, strict=True):
        # Noise of 3° against the slowest strokes' 5 % speed, which is the lower the smaller the range.
        slack = 0.3 + 0.1 * max(concentric, eccentric) * max(1.0, 80.0 / (peak - 10.0))
        assert start - slack <= rep.start_s < rep.top_s < rep.end_s <= start + concentric + top + eccentric + slack
    assert all(a.end_s <= b.start_s + 1e-9 for a, b in itertools.pairwise(reps))


@given(gap_at=st.floats(0.5, 15), gap=st.floats(0.05, 0.6), seed=st.integers(0, 2**16))
def test_tracking_gaps_do_not_add_or_lose_reps(gap_at: float, gap: float, seed: int) -> None:
    plan = Set((90.0,) * 4)
    t = times(plan.length_s)
    course = filmed(t, plan.course(t), 30.0, 1.0, seed)
    course[(t >= gap_at) & (t < gap_at + gap)] = np.nan
    assert len(find_reps(t, course, RULE, SETTINGS)) == 4


@pytest.mark.parametrize("rate", [30.0, 60.0])
@pytest.mark.parametrize(("concentric", "eccentric"), [(1.0, 1.0), (1.2, 2.0), (0.7, 3.0)])
def test_phase_boundaries_are_where_the_rule_says(rate: float, concentric: float, eccentric: float) -> None:
    """5 % of the peak speed of a minimum-jerk stroke lies at known shares of its time."""
    plan = Set((90.0,) * 5, 10.0, concentric, 0.6, eccentric, 0.8)
    t = times(plan.length_s, rate)
    reps = find_reps(t, plan.course(t), RULE, SETTINGS)
    for rep, start in zip(reps, plan.starts, strict=True):
        tolerance = 0.05
        assert rep.start_s == pytest.approx(start + FIRST * concentric, abs=tolerance)
        assert rep.tempo.concentric_s == pytest.approx((LAST - FIRST) * concentric, abs=2 * tolerance)
        assert rep.tempo.eccentric_s == pytest.approx((LAST - FIRST) * eccentric, abs=2 * tolerance)
        assert rep.tempo.top_pause_s == pytest.approx(
            0.6 + (1 - LAST) * concentric + FIRST * eccentric, abs=2 * tolerance
        )
    for rep in reps[:-1]:
        assert rep.tempo.bottom_pause_s == pytest.approx(0.8 + (1 - LAST) * eccentric + FIRST * concentric, abs=0.1)


def test_tempo_is_in_the_trades_order() -> None:
    """Eccentric, pause stretched, concentric, pause shortened: 3-1-2-0 is 6 s a rep, 60 s for ten (common practice)."""
    plan = Set((90.0,) * 10, 10.0, 2.0, 0.0, 3.0, 1.0)
    t = times(plan.length_s)
    reps = find_reps(t, plan.course(t), RULE, SETTINGS)
    assert reps[-1].top_s - reps[0].top_s == pytest.approx(9 * 6.0, abs=0.1)
    eccentric, bottom, concentric, top = (float(part) for part in reps[0].tempo.digits())
    assert eccentric > concentric > bottom > top


def test_a_partial_rep_is_told_from_a_complete_one() -> None:
    plan = Set((95.0, 94.0, 55.0, 96.0, 40.0))
    t = times(plan.length_s)
    reps = find_reps(t, plan.course(t), RULE, SETTINGS)
    assert [rep.complete for rep in reps] == [True, True, False, True, False]
    lenient = find_reps(t, plan.course(t), RULE, replace(SETTINGS, partial_below=0.3))
    assert all(rep.complete for rep in lenient)


def test_picking_up_and_putting_down_are_not_counted() -> None:
    plan = Set((95.0,) * 4, before_s=8.0, after_s=8.0)
    t = times(plan.length_s)
    bump = 35 * (minimum_jerk((t - 1) / 0.7) - minimum_jerk((t - 2) / 0.7))
    bump += 35 * (minimum_jerk((t - t[-1] + 3) / 0.7) - minimum_jerk((t - t[-1] + 2) / 0.7))
    assert len(find_reps(t, plan.course(t) + bump, RULE, SETTINGS)) == 4
    big = plan.course(t) + 2.4 * bump
    stooped = np.where((t < 3) | (t > t[-1] - 4), 1.0, 0.0)
    assert len(find_reps(t, big, RULE, SETTINGS)) == 6
    assert len(find_reps(t, big, RULE, SETTINGS, posture=[(stooped, 0.6)])) == 4
    huge = plan.course(t) + 5 * bump
    assert len(find_reps(t, huge, RULE, SETTINGS)) == 4


def test_getting_under_the_bar_does_not_move_the_first_rep() -> None:
    """Hands come up from the lap to the bar, wait, and press."""
    plan = Set((150.0,) * 4, 50.0, before_s=5.0)
    t = times(plan.length_s)
    course = plan.course(t) - 40 * (1 - minimum_jerk((t - 1.0) / 1.0))
    reps = find_reps(t, course, RULE, SETTINGS)
    assert len(reps) == 4
    assert reps[0].start_s == pytest.approx(5.0, abs=0.2)


def test_a_stutter_in_the_middle_does_not_split_the_stroke() -> None:
    plan = Set((90.0,) * 3, concentric_s=2.0)
    t = times(plan.length_s)
    course = plan.course(t)
    for start in plan.starts:
        halt = (t > start + 1.0) & (t < start + 1.3)
        course[halt] = course[halt][0]
    reps = find_reps(t, course, RULE, SETTINGS)
    assert len(reps) == 3
    assert all(rep.tempo.concentric_s > 1.4 for rep in reps)


@pytest.mark.parametrize(
    "course",
    [
        np.full(300, 12.0),
        12 + 10 * np.sin(np.arange(300) / 10),
        np.full(300, np.nan),
        np.array([1.0, 2.0]),
        np.linspace(0, 90, 300),
    ],
)
def test_no_reps_where_there_are_none(course: Array) -> None:
    assert find_reps(np.arange(len(course)) / 30, course, RULE, SETTINGS) == ()


def test_a_set_cut_at_the_start_has_an_incomplete_first_rep() -> None:
    plan = Set((90.0,) * 4, before_s=0.0)
    t = times(plan.length_s)
    late = t >= 0.6
    reps = find_reps(t[late] - 0.6, plan.course(t)[late], RULE, SETTINGS)
    assert [rep.complete for rep in reps] == [False, True, True, True]


def test_a_lift_that_begins_with_the_eccentric_phase() -> None:
    """Squat-like: knee flexion falls in the concentric phase; down first, then up."""
    rule = RULE.model_copy(update={"concentric": "falling", "first": "eccentric"})
    plan = Set((100.0,) * 3, 5.0, concentric_s=2.0, top_s=0.5, eccentric_s=1.0, bottom_s=1.5)
    t = times(plan.length_s)
    reps = find_reps(t, plan.course(t), rule, SETTINGS)
    assert len(reps) == 3
    assert reps[0].top_s == reps[0].end_s
    assert reps[0].tempo.eccentric_s == pytest.approx(2.0 * (LAST - FIRST), abs=0.1)
    assert reps[0].tempo.concentric_s == pytest.approx(1.0 * (LAST - FIRST), abs=0.1)
    assert reps[0].tempo.bottom_pause_s < reps[0].tempo.top_pause_s


@given(
    concentric=st.floats(0.8, 2.5), eccentric=st.floats(0.8, 3.0), low=st.floats(0, 8), peak=st.floats(60, 100)
)  # fmt: skip
def test_strokes_timed_from_their_middle_agree_with_the_rule_on_the_angle(
    concentric: float, eccentric: float, low: float, peak: float
) -> None:
    """What hangs is taken to hang within a few degrees, which no cosine tells apart."""
    plan = Set((peak,) * 4, low, concentric, 0.5, eccentric, 0.8)
    t = times(plan.length_s)
    direct = find_reps(t, plan.course(t), RULE, SETTINGS)
    by_height = find_reps(t, plan.course(t), RULE, SETTINGS, by_height=True)
    assert len(direct) == 4
    for one, other in zip(direct, by_height, strict=True):
        assert other.tempo.concentric_s == pytest.approx(one.tempo.concentric_s, abs=0.1)
        assert other.tempo.eccentric_s == pytest.approx(one.tempo.eccentric_s, abs=0.1)


def test_a_driver_cut_off_at_its_top_has_one_peak_a_rep() -> None:
    """An angle read from an extent cannot go beyond the full extent: it stays, or turns back, at the same value."""
    plan = Set((97.0,) * 3)
    t = times(plan.length_s)
    course = plan.course(t)
    folded = np.where(course > 90.0, 180.0 - course, course)
    folded[(course > 88.0) & (course < 92.0)] = 90.0
    assert len(find_reps(t, folded, RULE, SETTINGS)) == 3


@pytest.mark.parametrize(("peak", "slow"), [(85.0, 1.2), (85.0, 3.5), (95.0, 2.0)])
def test_an_arm_that_comes_towards_a_camera_looking_down_is_timed_by_what_it_does(peak: float, slow: float) -> None:
    """Perspective: at distance d a point s nearer is seen d/(d - s) times as far below the camera (closed form)."""
    arm, distance, shoulder_below = 0.6, 3.5, 0.45
    plan = Set((peak,) * 3, 5.0, slow, 0.4, slow, 0.6)
    t = times(plan.length_s)
    angle = np.radians(plan.course(t))
    below = (shoulder_below + arm * np.cos(angle)) * distance / (distance - arm * np.sin(angle)) - shoulder_below
    seen = np.degrees(np.arccos(np.clip(below / below.max(), -1, 1)))
    camera_pitch = (shoulder_below + arm) / distance
    true, told, plain = (
        [rep.tempo.concentric_s for rep in reps]
        for reps in (
            find_reps(t, plan.course(t), RULE, SETTINGS),
            find_reps(t, seen, RULE, SETTINGS, by_height=True, camera_pitch=camera_pitch),
            find_reps(t, seen, RULE, SETTINGS, by_height=True),
        )
    )
    assert told == pytest.approx(true, abs=0.06 * slow)
    assert max(plain) < min(true) - 0.1 * slow


@pytest.mark.parametrize("wide", [0.06, 0.12, 0.2])
def test_a_landmark_that_jumps_at_the_top_makes_no_rep(wide: float) -> None:
    plan = Set((160.0,) * 3, top_s=0.8)
    t = times(plan.length_s, 60.0)
    at = plan.starts[1] + plan.concentric_s + 0.4
    dip = 75.0 * np.exp(-(((t - at) / wide) ** 2) * 4 * np.log(2))  # `wide` is its width at half its depth
    reps = find_reps(t, plan.course(t) - dip, RULE, SETTINGS)
    clean = find_reps(t, plan.course(t), RULE, SETTINGS)
    assert len(reps) == 3
    assert reps[1].tempo.top_pause_s == pytest.approx(clean[1].tempo.top_pause_s, abs=0.05)


def test_short_reps_near_the_top_still_count() -> None:
    """Half a second down and up again between two whole reps, not back to the bottom, is what a lifter can do."""
    plan = Set((160.0,) * 2, top_s=1.4)
    t = times(plan.length_s, 60.0)
    at = plan.starts[0] + plan.concentric_s + 0.7
    dip = 75.0 * np.exp(-(((t - at) / 0.5) ** 2) * 4 * np.log(2))
    assert len(find_reps(t, plan.course(t) - dip, RULE, SETTINGS)) == 3


def test_movements_made_while_walking_are_not_reps() -> None:
    plan = Set((90.0,) * 4)
    t = times(plan.length_s)
    walked = np.interp(t, [plan.starts[2] + 3.6, plan.length_s], [0.0, 4.0])
    assert len(find_reps(t, plan.course(t), RULE, SETTINGS, positions=[(walked, 0.8)])) == 3
    jump = np.where(np.abs(t - plan.starts[1] - 1.0) < 0.1, 5.0, 0.0)
    assert len(find_reps(t, plan.course(t), RULE, SETTINGS, positions=[(jump, 0.8)])) == 4
    assert len(find_reps(t, plan.course(t), RULE, SETTINGS, positions=[(np.full(len(t), np.nan), 0.8)])) == 4


def test_a_movement_that_is_dropped_lends_its_neighbour_no_resting_level() -> None:
    """Before the set the driver dips far below its usual rest after a small movement that is not the exercise."""
    plan = Set((90.0,) * 3, before_s=4.0)
    t = times(plan.length_s)
    course = plan.course(t)
    stray = minimum_jerk((t - 0.5) / 0.5) - minimum_jerk((t - 1.2) / 0.5)
    dip = minimum_jerk((t - 1.2) / 0.5) - minimum_jerk((t - 1.9) / 0.4)
    walked_in = course + 40.0 * stray - 35.0 * dip
    usual = find_reps(t, course, RULE, SETTINGS)
    found = find_reps(t, walked_in, RULE, SETTINGS, like=lambda items: [item for item in items if item.reach > 60.0])
    assert [rep.tempo.concentric_s for rep in found] == pytest.approx(
        [rep.tempo.concentric_s for rep in usual], abs=0.05
    )


@pytest.mark.parametrize("camera_pitch", [0.0, 0.1, 0.6])
@pytest.mark.parametrize("rest", [0.0, 10.0, 40.0, 90.0])
def test_a_stroke_by_height_that_goes_nowhere_is_timed_all_the_same(rest: float, camera_pitch: float) -> None:
    t = np.arange(0.0, 2.0, 1 / 30)
    for reach in (rest + 0.4, rest + 2.0, rest + 10.0):
        line = rest + (reach - rest) * (1 - np.cos(np.pi * t / t[-1])) / 2
        curve = DriverCurve(t, line, np.abs(np.gradient(line, t)))
        start, end = find_stroke_times_from_middle(curve, 0, len(t) - 1, rest, reach, 0.05, camera_pitch)
        assert np.isfinite([start, end]).all()
        assert start <= end


@pytest.mark.parametrize("seed", [29, 54, 79, 106])
def test_phases_follow_one_another_however_rough_the_strokes(seed: int) -> None:
    """A stroke carried on from its middle may seem to reach beyond its neighbour; time runs one way all the same."""
    random = np.random.default_rng(seed)
    t = np.arange(0.0, 20.0, 1 / 30)
    course, at = np.full(len(t), 15.0), 1.0
    while at < 18.0:
        up, top, down, rest = random.uniform((0.2, 0.0, 0.2, -0.3), (1.6, 0.4, 2.5, 0.5))
        there, back = minimum_jerk((t - at) / up), minimum_jerk((t - at - up - top) / down)
        course += random.uniform(25.0, 115.0) * (there - back)
        at += up + top + down + rest
    seen = np.clip(course + random.normal(0.0, 1.5, len(t)), 0.0, 180.0)
    reps = find_reps(t, seen, RULE, SETTINGS, by_height=True, hangs=True)
    edges = [edge for rep in reps for edge in (rep.start_s, rep.top_s, rep.end_s)]
    assert edges == sorted(edges)
    for rep in reps:
        tempo = rep.tempo
        assert min(tempo.eccentric_s, tempo.bottom_pause_s, tempo.concentric_s, tempo.top_pause_s) >= 0.0
