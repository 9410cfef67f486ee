"""Hands that leave their line, on curves whose course is known (closed form) and on rendered sets with their truth."""

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import Rep, Side, SignalKey, Signals, Tempo
from formcheck.exercises.registry import get_exercise
from formcheck.measures.drift_in_set import compute_hand_line_drift
from formcheck.measures.steadiness import TOO_FEW_REPS
from formcheck.measures.window import Value, Window
from tests.rendered import load_landmarks, load_truth

CYCLE_S = 4.0


def make_windows(places: dict[Side, list[float]], side: Side | None = None) -> list[Window]:
    """Reps of 2 s up and 2 s down; each hand goes from half-way along the trunk to its place at the top and back."""
    count = len(next(iter(places.values())))
    t = np.arange(0.0, CYCLE_S * count, 1 / 30)
    number, up = np.minimum((t / CYCLE_S).astype(int), count - 1), 1 - np.abs(t % CYCLE_S - 2.0) / 2.0
    held = np.minimum(1.25 * up, 1.0)  # the hand stays at its place around the top
    series: dict[SignalKey, np.ndarray] = {
        ("hand_along_trunk", arm): 0.5 + (np.array(tops)[number] - 0.5) * held for arm, tops in places.items()
    }
    reps = [
        Rep(i + 1, CYCLE_S * i, CYCLE_S * i + 2, CYCLE_S * i + 3.9, True, Tempo(1.9, 0.0, 2.0, 0.0), side=side)
        for i in range(count)
    ]
    return [Window(rep, Signals(t, series), 90 * up, last=rep is reps[-1]) for rep in reps]


def read(windows: list[Window]) -> list[float | None]:
    return [item.value if isinstance(item, Value) else None for item in compute_hand_line_drift(windows)]


def test_hands_are_held_against_the_mean_of_the_first_three() -> None:
    windows = make_windows({"right": [0.9, 1.0, 1.1, 1.0, 0.8, 1.25]})
    assert read(windows) == pytest.approx([-0.1, 0.0, 0.1, 0.0, -0.2, 0.25], abs=0.01)


def test_a_hand_that_is_off_by_the_same_in_all_reps_has_not_left_its_line() -> None:
    assert read(make_windows({"left": [0.6] * 6})) == pytest.approx([0.0] * 6, abs=1e-6)


def test_the_arm_that_rests_says_nothing() -> None:
    windows = make_windows({"left": [1.0] * 6, "right": [1.0, 1.0, 1.0, 1.3, 1.3, 1.3]}, side="left")
    assert read(windows) == pytest.approx([0.0] * 6, abs=1e-6)


def test_a_hand_that_is_hidden_or_a_set_that_is_short_has_no_number() -> None:
    assert compute_hand_line_drift(make_windows({"left": [1.0] * 4})) == [TOO_FEW_REPS] * 4
    windows = make_windows({"left": [1.0, np.nan, 1.0, 1.0, 1.0, 1.0]})
    assert compute_hand_line_drift(windows) == [None] * 6


def test_arms_that_leave_the_line_of_the_shoulders_are_named_from_the_side() -> None:
    # Truth: from the third rep on the arms are planned 15 degrees nearer to the head.
    name = "080_bent_over_lateral_raise"
    (fault,) = load_truth(name).document["faults"]
    review = analyse(load_landmarks(name), get_exercise("bent-over-lateral-raise")).review
    named = {
        rep
        for item in review.findings
        if (item.check, item.verdict) == ("hands-in-line", "not_met")
        for rep in item.reps
    }
    assert fault["kind"] == "arms_out_of_line"
    assert named == set(fault["reps"])


def test_hands_that_keep_their_line_are_so_called() -> None:
    name = "223_bent_over_lateral_raise"
    review = analyse(load_landmarks(name), get_exercise("bent-over-lateral-raise")).review
    assert load_truth(name).document["faults"] == []
    assert {point.check: point.grade for point in review.points}["hands-in-line"] == "met"
