"""Shoulders that creep up, and leaning back, on curves whose course is known (closed form)."""

import numpy as np
import pytest

from formcheck.core.model import SIDES, Rep, SignalKey, Signals, Tempo
from formcheck.measures.drift_in_set import compute_shoulder_creep
from formcheck.measures.per_rep import READERS
from formcheck.measures.steadiness import TOO_FEW_REPS
from formcheck.measures.window import Value, Window

CYCLE_S = 4.0


def make_windows(peaks: list[float], shrugs: list[float]) -> list[Window]:
    """Reps of 2 s up and 2 s down; the gap shrinks by a tenth of a trunk on the way to 90 degrees, and by the shrug."""
    t = np.arange(0.0, CYCLE_S * len(peaks), 1 / 30)
    number = np.minimum((t / CYCLE_S).astype(int), len(peaks) - 1)
    arm = np.array(peaks)[number] * (1 - np.abs(t % CYCLE_S - 2.0) / 2.0)
    gap = 0.45 - 0.1 * arm / 90 - np.array(shrugs)[number] * arm / 90
    series: dict[SignalKey, np.ndarray] = {("ear_above_shoulder", side): gap for side in SIDES}
    series["torso_inclination", None] = 3.0 - np.array(shrugs)[number] * 100 * arm / 90
    signals = Signals(t, series)
    reps = [
        Rep(i + 1, CYCLE_S * i, CYCLE_S * i + 2, CYCLE_S * i + 3.9, True, Tempo(1.9, 0.0, 2.0, 0.0))
        for i in range(len(peaks))
    ]
    return [Window(rep, signals, arm, last=rep is reps[-1]) for rep in reps]


def test_a_shrug_that_grows_is_told_from_an_arm_that_rises() -> None:
    """At 80 % of the usual 90 degrees a shrug of 0.1 has taken 0.08; a lower top alone takes nothing."""
    found = compute_shoulder_creep(make_windows([90, 90, 90, 80, 90, 90], [0, 0, 0, 0, 0.1, 0.1]))
    values = [item.value if isinstance(item, Value) else None for item in found]
    assert values == pytest.approx([0, 0, 0, 0, 0.08, 0.08], abs=0.004)


def test_a_rep_that_stops_before_that_angle_has_no_number() -> None:
    found = compute_shoulder_creep(make_windows([90, 90, 90, 60, 90, 90], [0] * 6))
    assert [item is None for item in found] == [False, False, False, True, False, False]


def test_four_reps_are_too_few() -> None:
    assert compute_shoulder_creep(make_windows([90] * 4, [0] * 4)) == [TOO_FEW_REPS] * 4


def test_leaning_back_is_told_from_the_start_of_the_lift() -> None:
    """A trunk from 3 degrees forwards to 9 backwards."""
    window = make_windows([90], [0.12])[0]
    found = READERS["torso_lean_back"](window, None)
    assert isinstance(found, Value)
    assert (found.value, found.at_s) == pytest.approx((12.0, 2.0), abs=0.1)
