import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.model import SIDES, LandmarkRecording, Settings, Signals
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view
from tests import lifter

T = lifter.times(1.0)
EXACT = Settings(correct_landmarks=False, fit_body=False)


def signals(film: LandmarkRecording, settings: Settings = EXACT) -> Signals:
    return compute_signals(film, estimate_view(film, "auto"), settings)


@given(left=st.floats(1, 175), right=st.floats(1, 175), yaw=st.sampled_from([0.0, 180.0]))
def test_arm_angles_in_the_picture_plane_are_those_of_the_body(left: float, right: float, yaw: float) -> None:
    found = signals(lifter.film(T, left=left, right=right, yaw=yaw))
    for side, true in zip(SIDES, (left, right), strict=True):
        np.testing.assert_allclose(found.get("arm_raise", side), true, atol=1e-6)
        np.testing.assert_allclose(found.get("arm_elevation", side), true, atol=1e-6)


@pytest.mark.parametrize("yaw", [145.0, -145.0, 40.0, -40.0])
def test_an_arm_to_the_side_is_positive_from_behind_at_an_angle_too(yaw: float) -> None:
    """An arm in the frontal plane is shortened sideways by the cosine of the camera's yaw (orthographic projection)."""
    found = signals(lifter.film(T, left=60, right=60, yaw=yaw))
    seen = np.degrees(np.arctan(np.tan(np.radians(60)) * abs(np.cos(np.radians(yaw)))))
    for side in SIDES:
        np.testing.assert_allclose(found.get("arm_raise", side), seen, atol=0.1)


# ISB humerothoracic elevation in the frontal plane is acos(-dY) of the unit vector shoulder → elbow in the trunk's
# axes, Y up (Wu et al. 2005, J Biomech 38:981; closed form worked out from its definition).
@pytest.mark.parametrize(
    ("d", "elevation"), [((0, 0, 1), 90), ((0, -0.7071068, 0.7071068), 45), ((0, 0.8660254, 0.5), 150)]
)
def test_arm_elevation_is_isb_elevation_in_the_frontal_plane(d: tuple[float, float, float], elevation: float) -> None:
    _, up, to_right = d
    raised = float(np.degrees(np.arctan2(to_right, -up)))
    found = signals(lifter.film(T, right=raised))
    np.testing.assert_allclose(found.get("arm_elevation", "right"), elevation, atol=1e-4)


def test_elevation_is_to_the_trunk_and_raise_to_the_vertical() -> None:
    """Trunk 70 degrees forward, arm hanging: 70 degrees to the trunk, 0 from straight down (closed form)."""
    found = signals(lifter.film(T, left=0, right=0, torso=70, yaw=90))
    np.testing.assert_allclose(found.get("arm_elevation", "left"), 70, atol=1e-6)
    np.testing.assert_allclose(found.get("arm_raise", "left"), 0, atol=1e-5)


@pytest.mark.parametrize("yaw", [90.0, -90.0])
@pytest.mark.parametrize("torso", [-12.0, 0.0, 35.0, 88.0])
def test_torso_inclination_from_either_side(yaw: float, torso: float) -> None:
    found = signals(lifter.film(T, torso=torso, yaw=yaw))
    np.testing.assert_allclose(found.get("torso_inclination"), torso, atol=1e-6)


def test_torso_inclination_is_not_given_from_the_front() -> None:
    assert ("torso_inclination", None) not in signals(lifter.film(T, torso=60)).series


@given(elbow=st.floats(1, 140))
def test_elbow_and_knee_flexion(elbow: float) -> None:
    found = signals(lifter.film(T, elbow=elbow))
    np.testing.assert_allclose(found.get("elbow_flexion", "left"), elbow, atol=1e-6)
    side = signals(lifter.film(T, knee=elbow, yaw=90))
    np.testing.assert_allclose(side.get("knee_flexion", "left"), elbow, atol=1e-6)


def test_angles_need_pixels_not_normalised_coordinates() -> None:
    """45 degrees in a picture 1920 by 1080 would read 60.64 degrees from the horizontal with x/width and y/height."""
    np.testing.assert_allclose(signals(lifter.film(T, left=45)).get("arm_raise", "left"), 45, atol=1e-6)


def test_an_arm_across_the_body_is_negative() -> None:
    found = signals(lifter.film(T, left=-8, right=-8))
    np.testing.assert_allclose(found.get("arm_raise", "left"), -8, atol=1e-6)


def test_a_hidden_landmark_is_missing_and_a_short_flicker_is_filled() -> None:
    film = lifter.film(T, left=60)
    visibility = np.ones((len(T), 33))
    visibility[10:13, 13] = 0.1
    flicker = signals(lifter.recording(film.t, film.pixels, film.world, visibility))
    np.testing.assert_allclose(flicker.get("arm_raise", "left"), 60, atol=1e-6)
    visibility[5:25, 13] = 0.1
    hidden = signals(lifter.recording(film.t, film.pixels, film.world, visibility))
    assert np.isnan(hidden.get("arm_raise", "left")[6:24]).all()
    assert np.isfinite(hidden.get("arm_raise", "right")).all()


@given(true=st.floats(20, 160), yaw=st.floats(-80, 80))
def test_raise_by_height_survives_any_yaw(true: float, yaw: float) -> None:
    course = np.where(T < 0.5, 0.0, true)
    film = lifter.film(T, left=course, right=course, yaw=yaw)
    found = compute_signals(
        film, estimate_view(film, "auto"), Settings(cutoff_hz=1e9, correct_landmarks=False, fit_body=False)
    )
    assert found.get("arm_raise_by_height", "left")[-1] == pytest.approx(true, abs=1e-4)


def test_grip_width_is_in_shoulder_landmark_widths() -> None:
    found = signals(lifter.film(T, left=90, right=90))
    reach = lifter.SHOULDER_HALF + lifter.UPPER_ARM + lifter.FOREARM
    np.testing.assert_allclose(found.get("grip_width"), reach / lifter.SHOULDER_HALF, atol=1e-6)
