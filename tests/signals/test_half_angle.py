"""What a half angle shows of the sagittal plane, on a figure whose angles are known exactly (parallel projection)."""

import numpy as np
import pytest

from formcheck.core.model import CameraView, Settings
from formcheck.signals.angles import compute_signals
from formcheck.signals.half_angle import get_nearer_side, stretch_to_side
from tests import lifter

T = lifter.times(6.0)
UNCORRECTED = Settings(correct_landmarks=False, fit_body=False)


def view(yaw: float | None) -> CameraView:
    return CameraView("oblique", yaw, 8.0, "given")


@pytest.mark.parametrize("yaw", [-60.0, -35.0, 30.0, 45.0, 62.0, 130.0, -140.0])
@pytest.mark.parametrize("lean", [-8.0, 3.0, 40.0, 80.0])
def test_the_trunk_leans_as_much_as_it_does_from_any_half_angle(yaw: float, lean: float) -> None:
    found = compute_signals(lifter.film(T, torso=lean, yaw=yaw), view(yaw), UNCORRECTED)
    np.testing.assert_allclose(found.get("torso_inclination"), lean, atol=0.1)


@pytest.mark.parametrize(("yaw", "side", "other"), [(40.0, "left", "right"), (-140.0, "right", "left")])
def test_the_nearer_knee_is_told_and_the_farther_one_is_not(yaw: float, side: str, other: str) -> None:
    assert get_nearer_side(view(yaw)) == side
    found = compute_signals(lifter.film(T, knee=70.0, shin=30.0, yaw=yaw), view(yaw), UNCORRECTED)
    np.testing.assert_allclose(found.get("knee_flexion", side), 70.0, atol=0.1)  # type: ignore[arg-type]
    shin = found.get("shin_inclination", side)  # type: ignore[arg-type]
    np.testing.assert_allclose(shin, 30.0, atol=0.1)
    assert np.isnan(found.get("knee_flexion", other)).all()  # type: ignore[arg-type]


def test_level_lines_across_the_body_keep_their_ratio() -> None:
    film = lifter.film(T, ankles=0.27, yaw=50.0)
    found = compute_signals(film, view(50.0), UNCORRECTED).get("stance_width")
    np.testing.assert_allclose(found, 0.27 / lifter.SHOULDER_HALF, atol=0.01)


def test_a_view_called_a_half_angle_is_not_stretched_without_end() -> None:
    """A yaw of 2 degrees would stretch what shakes by a pixel to 29."""
    points = np.ones((1, 33, 2))
    assert stretch_to_side(points, view(2.0))[0, 0, 0] < 2.5
    np.testing.assert_allclose(stretch_to_side(points, view(None))[0, 0], [2**0.5, 1.0])
