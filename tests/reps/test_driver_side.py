"""The arm that tells the repetitions when the other is hidden."""

import numpy as np
import pytest

from formcheck.core.model import CameraView, Signals
from formcheck.reps.driver_side import choose_clearer_side, measure_clearness

T = np.linspace(0.0, 20.0, 601)
RAISES = 45.0 - 45.0 * np.cos(2 * np.pi * T / 2.5)
SHAKING = np.random.default_rng(3).normal(0.0, 1.0, len(T))


def make_view(name: str) -> CameraView:
    """A view the user gave."""
    return CameraView(name, None, None, "given")  # type: ignore[arg-type]


def choose(left: np.ndarray, right: np.ndarray, view: str = "oblique") -> str | None:
    """The side that is chosen of two curves."""
    return choose_clearer_side(
        Signals(T, {("arm_raise", "left"): left, ("arm_raise", "right"): right}), "arm_raise", make_view(view)
    )


def test_the_arm_that_shakes_less_speaks_for_both() -> None:
    """Of two arms that move alike, the one whose landmarks shake by 15 degrees is left out."""
    clear, shaking = RAISES + SHAKING, RAISES + 15.0 * SHAKING
    assert choose(clear, shaking) == "left"
    assert choose(shaking, clear) == "right"


@pytest.mark.parametrize("size", [1.0, 15.0])
def test_arms_that_shake_alike_speak_together(size: float) -> None:
    """No side is preferred without a reason."""
    assert choose(RAISES + size * SHAKING, RAISES + size * SHAKING[::-1]) is None


def test_from_the_side_the_nearer_arm_is_taken_anyway() -> None:
    """What is chosen there depends on the camera alone."""
    assert choose(RAISES + 15.0 * SHAKING, RAISES, view="left") is None


def test_clearness_is_range_over_shaking() -> None:
    """A sine of amplitude 45 has 10 % and 90 % of its values 2 · 45 · cos(18°) apart; the noise has a size of 3."""
    assert measure_clearness(T, RAISES + 3.0 * SHAKING) == pytest.approx(2 * 45 * np.cos(np.radians(18)) / 3.0, rel=0.1)
    assert measure_clearness(T, np.full(len(T), np.nan)) == 0.0
