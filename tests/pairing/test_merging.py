"""One measure from two cameras."""

from dataclasses import replace

import pytest

from formcheck.core.model import Measure, Rep, Tempo
from formcheck.exercises.registry import get_exercise
from formcheck.measures.across_reps import Reading
from formcheck.pairing.merging import SHARED_ERROR, CameraReadings, combine_measures, judge_merged, merge_readings
from formcheck.pairing.reps import CameraReps, list_single_reps, merge_reps

BENT = get_exercise("bent-over-lateral-raise")


def value(number: float | None, margin: float | None, name: str = "arm_raise_peak", rep: int = 1) -> Measure:
    side = None if name.startswith("torso") else "left"
    return Measure(name, side, rep, number, margin, "deg", None if number is not None else "Hidden.")


def rep(number: int, start: float, *, length: float = 2.0) -> Rep:
    return Rep(number, start, start + length / 2, start + length, True, Tempo(1.0, 0.2, 1.0, 0.2))


def readings_of(view: str, *measures: Measure) -> CameraReadings:
    return CameraReadings(view, [Reading(item, 1.0) for item in measures])  # type: ignore[arg-type]


def test_the_mean_of_two_equal_margins_is_what_correlated_errors_leave() -> None:
    """Variance of a mean of two with equal variance s² and correlation ρ: s²(1 + ρ)/2 (any textbook of statistics)."""
    both = combine_measures(value(88.0, 6.0), value(92.0, 6.0))
    assert both.value == pytest.approx(90.0)
    assert both.margin == pytest.approx(6.0 * ((1 + SHARED_ERROR) / 2) ** 0.5)
    assert both.camera == "both"


def test_the_better_camera_weighs_more() -> None:
    """Best linear unbiased mean: for margins 4 and 5, ρ = ½, the weights are 15/21 and 6/21, its variance 300/21."""
    for pair in ((value(80.0, 4.0), value(90.0, 5.0)), (value(90.0, 5.0), value(80.0, 4.0))):
        both = combine_measures(*pair)
        assert both.value == pytest.approx(80.0 + 10.0 * 6 / 21)
        assert both.margin == pytest.approx(max((300 / 21) ** 0.5, 10.0 * 15 / 21))


def test_a_mean_is_never_said_to_be_worse_than_its_better_part_unless_they_disagree() -> None:
    for second in (4.0, 5.0, 6.0):
        assert combine_measures(value(80.0, 4.0), value(81.0, second)).margin <= 4.0  # type: ignore[operator]


def test_cameras_that_disagree_beyond_their_margins_widen_the_margin_to_reach_both() -> None:
    both = combine_measures(value(70.0, 4.0), value(90.0, 4.0))
    assert both.value == pytest.approx(80.0)
    assert both.margin == pytest.approx(10.0)


def test_each_measure_comes_from_the_camera_that_sees_it() -> None:
    front = readings_of("front", value(85.0, 4.0), value(None, None, "torso_inclination_mean"))
    side = readings_of("left", value(None, None), value(78.0, 3.0, "torso_inclination_mean"))
    merged = {item.measure.name: item.measure for item in merge_readings(BENT, (front, side))}
    assert (merged["arm_raise_peak"].value, merged["arm_raise_peak"].camera) == (85.0, "first")
    assert (merged["torso_inclination_mean"].value, merged["torso_inclination_mean"].camera) == (78.0, "second")


def test_a_clearly_wider_margin_is_left_aside_and_a_like_one_counts() -> None:
    sharp, blunt = readings_of("front", value(85.0, 4.0)), readings_of("oblique", value(95.0, 12.0))
    assert merge_readings(BENT, (sharp, blunt))[0].measure == replace(value(85.0, 4.0), camera="first")
    assert merge_readings(BENT, (blunt, sharp))[0].measure == replace(value(85.0, 4.0), camera="second")
    assert merge_readings(BENT, (sharp, readings_of("oblique", value(86.0, 5.0))))[0].measure.camera == "both"


def test_what_neither_sees_says_why_from_the_camera_that_should() -> None:
    front = readings_of("front", replace(value(None, None), missing_reason="Too much was hidden."))
    side = readings_of("left", replace(value(None, None), missing_reason="Not measurable from the side."))
    for pair in ((front, side), (side, front)):
        (only,) = merge_readings(BENT, pair)
        assert only.measure.missing_reason == "Too much was hidden."
        assert only.measure.camera is None


def test_a_check_is_decided_by_the_camera_that_can() -> None:
    pair = (
        readings_of("front", value(85.0, 4.0, "arm_line_raise_peak")),
        readings_of("left", value(40.0, 3.0, "torso_inclination_mean")),
    )
    findings = {
        item.check: item for item in judge_merged(BENT, pair, merge_readings(BENT, pair), [rep(1, 0.0)]).findings
    }
    assert findings["torso-parallel"].verdict == "not_met"
    assert findings["torso-parallel"].value == 40.0
    assert findings["arms-high"].verdict == "met"


# ---------------------------------------------------------------- reps


def test_reps_the_lead_did_not_film_come_from_the_other_camera() -> None:
    first = CameraReps(0.0, 20.0, (rep(1, 1.0), rep(2, 5.0), rep(3, 9.0)))
    late = CameraReps(4.0, 20.0, (rep(1, 5.1), rep(2, 9.1)))
    reps, found_by = merge_reps(first, late, "second")
    assert [(item.number, item.start_s) for item in reps] == [(1, 1.0), (2, 5.1), (3, 9.1)]
    assert found_by == ("first", "second", "second")


def test_reps_before_the_first_clip_are_left_out() -> None:
    early = CameraReps(-6.0, 12.0, (rep(1, -5.0), rep(2, 1.0), rep(3, 5.0)))
    reps, _ = merge_reps(CameraReps(0.0, 20.0, (rep(1, 1.0), rep(2, 5.0))), early, "second")
    assert [(item.number, item.start_s) for item in reps] == [(1, 1.0), (2, 5.0)]


def test_reps_of_one_camera_alone_are_kept_and_told() -> None:
    """The first camera loses three of six reps, and sees two of them as one long one."""
    first = CameraReps(0.0, 30.0, (rep(1, 1.0), rep(2, 4.5, length=5.5), rep(3, 15.0)))
    six = CameraReps(0.0, 30.0, tuple(rep(number, 1.0 + 3.5 * number) for number in range(6)))
    reps, found_by = merge_reps(six, first, "first")
    assert len(reps) == 6
    assert list_single_reps(reps, six, first) == {"first": (4, 6)}
    reps, found_by = merge_reps(first, six, "first")
    assert [item.start_s for item in reps] == [1.0, 4.5, 11.5, 15.0, 18.5]
    assert found_by == ("first", "first", "second", "first", "second")
    assert list_single_reps(reps, first, six) == {"second": (3, 5)}


def test_a_rep_that_one_camera_did_not_film_is_not_told_as_missed() -> None:
    first, late = CameraReps(0.0, 20.0, (rep(1, 1.0), rep(2, 5.0))), CameraReps(4.0, 20.0, (rep(1, 5.1),))
    reps, _ = merge_reps(first, late, "first")
    assert len(reps) == 2
    assert list_single_reps(reps, first, late) == {}
