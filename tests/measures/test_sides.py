"""Measures of strokes made by one arm: invented curves whose every height is known."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.cli.printing import print_review
from formcheck.core.model import Array, CameraView, Message, Quality, Rep, Side, Signals, Tempo
from formcheck.exercises.registry import get_exercise
from formcheck.findings import judge_set
from formcheck.measures.across_reps import Reading, measure_set
from formcheck.measures.per_rep import READERS
from formcheck.measures.window import NO_STROKE_BEFORE, ONE_ARM, Value, Window
from formcheck.measures.withheld import find_hidden_arms, find_hidden_strokes, withhold_times
from formcheck.recognition.working_arms import note_hidden_arms
from tests.rendered import load_landmarks, load_truth

T = np.linspace(0, 20, 601)
VIEW, QUALITY = CameraView("front", 0.0, 5.0, "given"), Quality(1.0, 30.0, 700.0, {}, {})


def make_strokes(*sides: Side) -> tuple[Rep, ...]:
    """Strokes of 2 s, one after the other, 3 s apart."""
    tempo = Tempo(0.9, 1.0, 0.9, 0.2)
    return tuple(
        Rep(number, 3.0 * number, 3.0 * number + 1, 3.0 * number + 2, True, tempo, side=side)
        for number, side in enumerate(sides, start=1)
    )


def draw(reps: Sequence[Rep], side: Side, tops: Sequence[float]) -> Array:
    """A curve that rests at 4° and goes to a top, one after the other, in the strokes of a side."""
    curve = np.full(len(T), 4.0)
    for rep, top in zip([rep for rep in reps if rep.side == side], tops, strict=True):
        curve += (top - 4.0) * np.sin(np.pi * np.clip((T - rep.start_s) / 2, 0, 1)) ** 2
    return curve


def measure(reps: tuple[Rep, ...], left: Sequence[float], right: Sequence[float]) -> tuple[Reading, ...]:
    arms: dict[Side, Array] = {"left": draw(reps, "left", left), "right": draw(reps, "right", right)}
    series = {(name, side): curve for name in ("arm_raise", "arm_line_raise") for side, curve in arms.items()}
    series |= {("elbow_flexion", side): np.full(len(T), 10.0) for side in arms}
    driver = np.maximum(*arms.values())
    return measure_set(reps, Signals(T, series), driver, get_exercise("lateral-raise"), VIEW, QUALITY)


def find(readings: Sequence[Reading], name: str) -> dict[int, float]:
    return {
        item.measure.rep: item.measure.value
        for item in readings
        if item.measure.name == name and item.measure.rep is not None and item.measure.value is not None
    }


def test_arms_in_turn_are_compared_stroke_by_stroke_each_once() -> None:
    reps = make_strokes("left", "right", "left", "right", "left")
    readings = measure(reps, (90.0, 88.0, 91.0), (80.0, 85.0))
    assert find(readings, "arm_peak_difference") == pytest.approx({2: 10.0, 4: 3.0}, abs=0.2)
    reasons = {
        item.measure.rep: item.measure.missing_reason_coded for item in readings if "peak_diff" in item.measure.name
    }
    assert [reasons[rep] for rep in (1, 3, 5)] == [NO_STROKE_BEFORE] * 3


def test_a_resting_arm_has_no_numbers_and_no_faults() -> None:
    reps = make_strokes("right", "right", "right", "right")
    readings = measure(reps, (), (90.0, 88.0, 91.0, 90.0))
    sides = {(item.measure.name, item.measure.side) for item in readings if item.measure.name.startswith("arm_")}
    assert {side for name, side in sides if "difference" not in name} == {"right"}
    assert all(item.measure.missing_reason_coded == ONE_ARM for item in readings if "difference" in item.measure.name)
    judged = judge_set(get_exercise("lateral-raise"), readings, reps, "front")
    assert "even-sides" not in {item.check for item in (*judged.findings, *judged.points)}
    assert {item.verdict for item in judged.findings if item.check == "height"} == {"met"}


def test_each_arm_is_held_against_its_own_best_and_its_own_first_strokes() -> None:
    # The left arm, nearer to the camera, seems to go 20° less far all through: no rep of it is a partial one.
    reps = make_strokes("left", "right", "left", "right", "left", "right")
    shares = find(measure(reps, (70.0, 70.0, 70.0), (90.0, 90.0, 90.0)), "range_share")
    assert shares == pytest.approx(dict.fromkeys(range(1, 7), 1.0), abs=1e-3)


def test_hands_in_turn_differ_by_their_tops_not_by_how_they_hang() -> None:
    # The left hand hangs 2° higher and goes up by 50° to 52°; the right one goes up by 40°.
    first, second = make_strokes("left", "right")
    up = {"left": 50.0 * bump(first), "right": 40.0 * bump(second)}
    signals = Signals(T, {("hand_height_difference", None): 2.0 + up["left"] - up["right"]})
    window = Window(second, signals, up["right"], last=True, before=first, in_turn=True)
    value = READERS["hand_height_difference_top"](window, None)
    assert isinstance(value, Value)
    assert value.value == pytest.approx((2.0 + 50.0) - 40.0, abs=0.2)


def bump(rep: Rep) -> Array:
    return np.sin(np.pi * np.clip((T - rep.start_s) / 2, 0, 1)) ** 2


def test_a_stroke_whose_arm_was_hidden_for_most_of_it_has_no_times() -> None:
    reps = make_strokes("left", "right", "left", "right")
    right = draw(reps, "right", (80.0, 85.0))
    right[(reps[1].start_s < T) & (reps[1].end_s - 0.7 > T)] = np.nan
    right[(reps[3].start_s < T) & (reps[3].start_s + 0.5 > T)] = np.nan
    curves: dict[Side, Array] = {"left": draw(reps, "left", (90.0, 88.0)), "right": right}
    hidden = find_hidden_strokes(
        reps, Signals(T, {("arm_raise", side): curve for side, curve in curves.items()}), "arm_raise"
    )
    assert hidden == {2: "right"}
    both = tuple(replace(rep, side=None) for rep in reps)
    assert find_hidden_strokes(both, Signals(T, {("arm_raise", "right"): right}), "arm_raise") == {}

    readings = withhold_times(measure(reps, (90.0, 88.0), (80.0, 85.0)), hidden)
    assert sorted(find(readings, "eccentric_time")) == [1, 3, 4]
    (why,) = (
        item.measure.missing_reason_coded
        for item in readings
        if item.measure.name == "eccentric_time" and item.measure.rep == 2
    )
    assert why == Message("hidden", {"part": "right"})
    assert sorted(find(readings, "arm_line_raise_peak")) == [1, 2, 3, 4]


def test_rows_of_the_arm_behind_the_body_are_counted_and_not_called_hasty() -> None:
    # A set without a fault (its truth), filmed from the left and done with the right arm.
    truth = load_truth("051_bent_over_row").document
    review = analyse(load_landmarks("051_bent_over_row"), get_exercise("bent-over-row")).review
    assert truth["faults"] == []
    assert [rep.side for rep in review.reps] == [rep["side"] for rep in truth["reps"]]
    grades = {point.check: point.grade for point in review.points}
    assert grades["range-kept"] is None
    assert grades["lowering"] is None
    assert not [point for point in review.points if point.verdict == "not_met"]
    assert grades["torso-still"] == "met"


def test_an_arm_is_hidden_whose_curve_is_gone_for_most_of_the_set() -> None:
    reps = make_strokes("left", "right", "left", "right")
    whole, gone = draw(reps, "left", (90.0, 88.0)), draw(reps, "right", (80.0, 85.0))
    gone[(reps[0].start_s + 3.0 < T) & (reps[3].end_s > T)] = np.nan

    def find_in(reps: Sequence[Rep], right: Array) -> tuple[Side, ...]:
        curves: dict[tuple[str, Side | None], Array] = {("arm_raise", "left"): whole, ("arm_raise", "right"): right}
        return find_hidden_arms(reps, Signals(T, curves), "arm_raise")

    assert find_in(reps, gone) == ("right",)
    assert find_in(reps, draw(reps, "right", (80.0, 85.0))) == ()
    assert find_in((), gone) == ()
    assert note_hidden_arms(("right",)) == (Message("arm-not-shown", {"side": "right"}),)
    assert note_hidden_arms(("left", "right")) == ()


@pytest.mark.parametrize(
    ("name", "arm"), [("102_biceps_curl", "left"), ("051_bent_over_row", "right"), ("233_bent_over_row", None)]
)
def test_the_arm_that_a_camera_at_the_side_hides_is_said_to_be_not_shown(name: str, arm: Side | None) -> None:
    # Curls of the right arm filmed from the right, which are told as of both; rows from the left and from the front.
    review = analyse(load_landmarks(name), get_exercise(name[4:].replace("_", "-"))).review
    assert [note.parameters["side"] for note in review.quality.notes_coded if note.code == "arm-not-shown"] == (
        [arm] if arm else []
    )
    assert any(f"does not show the {arm} arm's reps" in note for note in review.quality.notes) == (arm is not None)


@pytest.mark.parametrize(("name", "after"), [("102_biceps_curl", True), ("051_bent_over_row", False)])
def test_a_hidden_arm_is_told_after_the_points_where_the_other_tells_the_count(
    name: str, after: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    exercise = get_exercise(name[4:].replace("_", "-"))
    print_review(analyse(load_landmarks(name), exercise).review, exercise, details=False)
    said = " ".join(capsys.readouterr().out.split())
    assert (said.index("This camera does not show the") > said.index("could be seen from here")) is after
