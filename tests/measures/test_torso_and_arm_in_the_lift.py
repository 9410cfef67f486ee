"""Numbers of one rep whose curves are straight lines, against what the lines say."""

import numpy as np
import pytest

from formcheck.core.model import Array, Rep, Signals, Tempo
from formcheck.measures.per_rep import READERS
from formcheck.measures.window import Value, Window

T = np.linspace(0.0, 4.0, 121)
SQUAT = Rep(1, 1.0, 3.0, 3.0, True, Tempo(1.0, 0.0, 1.0, 0.0))
"""Down from 1 to 2 seconds, up from 2 to 3."""
CURL = Rep(1, 1.0, 2.0, 3.0, True, Tempo(1.0, 0.0, 1.0, 0.0))
"""Up from 1 to 2 seconds, down from 2 to 3."""


def read(name: str, rep: Rep, driver: Array, **curves: Array) -> float | None:
    series = {(key, "left" if key.startswith("arm") else None): value for key, value in curves.items()}
    window = Window(rep, Signals(T, series), driver, last=True)  # type: ignore[arg-type]
    value = READERS[name](window, "left" if name.startswith("arm") else None)
    return value.value if isinstance(value, Value) else None


def test_a_torso_that_rises_with_the_legs_has_half_its_lean_left_half_way() -> None:
    share = np.clip(1.0 - np.abs(T - 2.0), 0.0, 1.0)
    assert read("lean_half_way_up", SQUAT, 110 * share, torso_inclination=40 * share) == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("late_s", [0.25, 0.5])
def test_a_torso_that_sets_off_late_keeps_its_lean(late_s: float) -> None:
    legs = np.clip(1.0 - np.abs(T - 2.0), 0.0, 1.0)
    torso = 40 * np.clip(1.0 - np.maximum(np.abs(T - 2.0 - late_s / 2) - late_s / 2, 0.0), 0.0, 1.0)
    assert read("lean_half_way_up", SQUAT, 110 * legs, torso_inclination=torso) == pytest.approx(0.5 + late_s, abs=0.04)


def test_an_upright_torso_has_no_lean_to_keep() -> None:
    share = np.clip(1.0 - np.abs(T - 2.0), 0.0, 1.0)
    assert read("lean_half_way_up", SQUAT, 110 * share, torso_inclination=10 * share) is None


def test_an_upper_arm_that_moves_with_the_lift() -> None:
    """On a straight line the means of the lowest and of the highest fifth lie 0.8 of its way apart."""
    share = np.clip(1.0 - np.abs(T - 2.0), 0.0, 1.0)
    found = read("arm_flexion_change", CURL, 130 * share, arm_flexion=5 + 30 * share)
    assert found == pytest.approx(0.8 * 30, abs=1.0)
    assert read("arm_flexion_change", CURL, 130 * share, arm_flexion=np.full(121, 12.0)) == pytest.approx(0.0)
