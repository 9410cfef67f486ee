"""The two plain readings against closed forms on an invented stick figure."""

import numpy as np
import pytest

from tests.lifter import film, times


def test_in_plane_both_readings_give_the_true_angles() -> None:
    from baselines import KINDS, plain_angles

    recording = film(times(0.5), left=70.0, right=40.0, elbow=25.0, knee=0.0)
    for kind in KINDS:
        curves = plain_angles(recording, kind)
        np.testing.assert_allclose(curves["arm_raise", "left"], 70.0, atol=1e-6)
        np.testing.assert_allclose(curves["arm_raise", "right"], 40.0, atol=1e-6)
        np.testing.assert_allclose(curves["arm_elevation", "left"], 70.0, atol=1e-6)
        np.testing.assert_allclose(curves["elbow_flexion", "right"], 25.0, atol=1e-6)
        np.testing.assert_allclose(curves["torso_inclination", None], 0.0, atol=1e-4)


@pytest.mark.parametrize("yaw", [-40.0, 25.0, 60.0])
def test_from_an_angle_the_picture_follows_the_law_of_projection_and_the_world_does_not(yaw: float) -> None:
    """Parallel projection of an angle in a plane turned by ψ: tan(seen) = tan(true) cos ψ."""
    from baselines import plain_angles

    recording = film(times(0.5), left=55.0, right=55.0, yaw=yaw)
    seen = np.degrees(np.arctan(np.tan(np.radians(55.0)) * np.cos(np.radians(yaw))))
    for side in ("left", "right"):
        np.testing.assert_allclose(plain_angles(recording, "image")["arm_raise", side], seen, atol=1e-6)
        np.testing.assert_allclose(plain_angles(recording, "world")["arm_raise", side], 55.0, atol=1e-6)


def test_a_lean_towards_the_camera_is_seen_only_in_the_world_points() -> None:
    from baselines import plain_angles

    recording = film(times(0.5), torso=35.0)
    np.testing.assert_allclose(plain_angles(recording, "world")["torso_inclination", None], 35.0, atol=1e-6)
    np.testing.assert_allclose(plain_angles(recording, "image")["torso_inclination", None], 0.0, atol=1e-4)


def test_numbers_of_a_repetition_are_the_extremes_inside_it() -> None:
    from baselines import Baseline
    from formcheck.core.model import Rep, Tempo

    t = times(4.0)
    course = 50.0 - 40.0 * np.cos(np.pi * t)  # 10 at 0 s, 90 at 1 s, 10 at 2 s
    reading = Baseline(film(t, left=course, right=course - 6.0, elbow=20.0), "image")
    rep = Rep(1, 0.5, 1.0, 1.5, True, Tempo(0.5, 0.0, 0.5, 0.0))
    assert reading.value("arm_raise_peak", "left", rep) == pytest.approx(90.0, abs=1e-6)
    assert reading.value("arm_raise_low", "left", rep) == pytest.approx(50.0, abs=1e-6)
    assert reading.value("range_of_motion", "right", rep) == pytest.approx(40.0, abs=1e-6)
    assert reading.value("arm_peak_difference", None, rep) == pytest.approx(6.0, abs=1e-6)
    assert reading.value("elbow_flexion_top", "left", rep) == pytest.approx(20.0, abs=1e-6)
    assert reading.value("eccentric_time", None, rep) is None


def test_nobody_in_the_picture_gives_no_number() -> None:
    from baselines import Baseline
    from formcheck.core.model import Rep, Tempo
    from tests.lifter import recording

    t = times(1.0)
    nobody = np.full((len(t), 33, 2), np.nan)
    reading = Baseline(recording(t, nobody, np.full((len(t), 33, 3), np.nan), np.zeros((len(t), 33))), "image")
    rep = Rep(1, 0.2, 0.5, 0.8, True, Tempo(0.3, 0.0, 0.3, 0.0))
    assert reading.value("arm_raise_peak", "left", rep) is None
    assert reading.value("elbow_flexion_top", "left", rep) is None
    assert reading.value("arm_peak_difference", None, rep) is None
