"""Curves of single joints against a figure built with known angles."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.model import SIDES, Array, CameraView, Settings, ViewName
from formcheck.signals.angles import compute_driver, compute_signals
from formcheck.signals.camera import estimate_view
from formcheck.signals.limbs import compute_arm_opening, compute_thigh_inclination, compute_torso_side_lean
from formcheck.signals.skeleton import get_index
from tests import lifter

T = lifter.times(1.0)
RAMP = lifter.minimum_jerk(T / T[-1])
"""0 to 1 and at rest at both ends, so that the low-pass leaves the ends as they are."""
EXACT = Settings(correct_landmarks=False, fit_body=False, cutoff_hz=30.0)


def curve(name: str, side: str | None = None, **film: Array | float) -> Array:
    clip = lifter.film(T, **film)  # type: ignore[arg-type]
    return compute_signals(clip, estimate_view(clip, "auto"), EXACT).get(name, side)  # type: ignore[arg-type]


@pytest.mark.parametrize("yaw", [90.0, -90.0])
@pytest.mark.parametrize(
    ("raised", "plane", "flexion"), [(90, 90, 90), (160, 90, 160), (30, -90, -30), (100, -90, -100)]
)
def test_arm_ahead_is_positive_and_behind_negative_from_either_side(
    yaw: float, raised: float, plane: float, flexion: float
) -> None:
    film = {"left": raised, "right": raised, "plane": plane, "yaw": yaw}
    for side in SIDES:
        np.testing.assert_allclose(curve("arm_flexion", side, **film), flexion, atol=1e-6)
        np.testing.assert_allclose(curve("arm_extension", side, **film), -flexion, atol=1e-6)


def test_elbow_ahead_in_upper_arm_lengths() -> None:
    """Arm 90 degrees raised, 30 degrees ahead of the frontal plane, at the end overhead: sin 30 = 0.5 (closed form)."""
    raised = 90 + 90 * RAMP
    found = curve("elbow_ahead", "left", left=raised, right=raised, plane=30.0, yaw=90.0)
    assert found[0] == pytest.approx(0.5, abs=0.005)
    assert found[-1] == pytest.approx(0.0, abs=0.005)


@given(yaw=st.sampled_from([90.0, -90.0]), last=st.floats(60, 125))
def test_opening_of_the_arms_from_the_side_beyond_the_shoulder_line_too(yaw: float, last: float) -> None:
    clip = lifter.film(T, left=85.0, right=85.0, plane=90.0 - last * RAMP, yaw=yaw)
    for side in SIDES:
        found = compute_arm_opening(clip.pixels, side, CameraView("left" if yaw > 0 else "right", yaw, 8.0, "given"))
        np.testing.assert_allclose(found, last * RAMP, atol=1.5)  # the end of an arcsine is blunt


@pytest.mark.parametrize("name", ["front", "back"])
@pytest.mark.parametrize("side", SIDES)
def test_opening_of_the_arms_from_front_and_behind(name: str, side: str) -> None:
    yaw = 0.0 if name == "front" else 180.0
    clip = lifter.film(T, left=85.0, right=85.0, plane=90.0 - 90.0 * RAMP, yaw=yaw)
    view = CameraView(name, yaw, 8.0, "given")  # type: ignore[arg-type]
    found = compute_arm_opening(clip.pixels, side, view)  # type: ignore[arg-type]
    np.testing.assert_allclose(found, 90.0 * RAMP, atol=0.5)


@given(shin=st.floats(0, 40), knee=st.floats(41, 120))
def test_thigh_is_the_knees_bend_less_the_shins_lean(shin: float, knee: float) -> None:
    found = curve("thigh_inclination", "right", knee=knee, shin=shin, yaw=-90.0)
    np.testing.assert_allclose(found, knee - shin, atol=1e-6)


@given(shin=st.floats(15, 40), knee=st.floats(80, 140), slid=st.floats(0.0, 0.15), ahead=st.floats(0.0, 0.1))
def test_a_knee_that_slides_along_the_shin_costs_a_squat_no_depth(
    shin: float, knee: float, slid: float, ahead: float
) -> None:
    """Low down the knee's point slides along the shin and the hip's rides ahead; the closed form of the rods stays."""
    clip = lifter.film(T, knee=knee * RAMP, shin=shin * RAMP, yaw=-90.0)
    pixels = clip.pixels.copy()
    low = RAMP[:, None] > 0.9
    hip, knee_at, ankle = (pixels[:, get_index(part, "right")].copy() for part in ("hip", "knee", "ankle"))
    thigh_length = np.linalg.norm(hip - knee_at, axis=1)[:, None]
    pixels[:, get_index("knee", "right")] = np.where(low, knee_at + slid * (ankle - knee_at), knee_at)
    pixels[:, get_index("hip", "right")] = np.where(low, hip + [ahead, 0.0] * thigh_length, hip)
    if knee - shin - np.degrees(slid + ahead) > 55.0:
        assert compute_thigh_inclination(pixels, "right")[-1] == pytest.approx(knee - shin, abs=3.0)


@pytest.mark.parametrize("yaw", [0.0, 40.0, 150.0])
def test_depth_of_a_squat_by_height_where_no_side_is_seen(yaw: float) -> None:
    """Shins that lean a third of the thighs' angle; from the front the hip's point is said to ride up (3.8 degrees)."""
    thigh = 105.0 * RAMP
    found = curve("thigh_inclination", "left", knee=thigh * 1.33, shin=thigh * 0.33, yaw=yaw)
    assert found[-1] == pytest.approx(105.0 if yaw > 90 else 105.0 + np.degrees(0.066 * (1 - np.cos(np.radians(105)))),
                                      abs=1.5)  # fmt: skip


@pytest.mark.parametrize("yaw", [-8.0, 0.0, 8.0, 172.0, 188.0])
def test_a_torso_that_bends_forward_does_not_lean_to_a_side_because_the_camera_stands_a_little_off(yaw: float) -> None:
    """Seen from 8 degrees off, a torso bent by 75 degrees points 27 degrees sideways of straight up in the picture."""
    pixels = lifter.film(T, torso=75.0 * RAMP, yaw=yaw).pixels
    shoulders, hips = (
        pixels[:, [get_index(part, side) for side in SIDES]].mean(axis=1) for part in ("shoulder", "hip")
    )
    seen_from: ViewName = "front" if abs(yaw) < 90 else "back"
    found = compute_torso_side_lean(hips - shoulders, CameraView(seen_from, yaw, 8.0, "given"))
    np.testing.assert_allclose(found[[0, -1]], 0.0, atol=0.5)


@pytest.mark.parametrize("yaw", [0.0, 180.0])
@pytest.mark.parametrize("tilt", [10.0, -20.0])
def test_a_torso_that_leans_to_the_left_is_positive_from_in_front_and_behind(yaw: float, tilt: float) -> None:
    np.testing.assert_allclose(curve("torso_side_lean", tilt=tilt * RAMP, yaw=yaw)[-1], tilt, atol=0.5)


@pytest.mark.parametrize("yaw", [90.0, -90.0])
def test_lean_of_the_shin_and_place_of_the_hand_from_either_side(yaw: float) -> None:
    """A shin 20 degrees ahead; arms hanging on an upright trunk: 0.30 + 0.26 below a shoulder 0.52 up."""
    film = {"knee": 40.0, "shin": 20.0, "left": 0.0, "right": 0.0, "elbow": 0.0, "yaw": yaw}
    side = "left" if yaw > 0 else "right"
    np.testing.assert_allclose(curve("shin_inclination", side, **film), 20.0, atol=1e-6)
    np.testing.assert_allclose(curve("hand_along_trunk", side, **film), 1 - 0.56 / 0.52, atol=1e-6)


@pytest.mark.parametrize("yaw", [0.0, 40.0, 90.0])
def test_knee_bend_and_torso_lean_by_height_from_anywhere(yaw: float) -> None:
    knee, torso = 100 * RAMP, 70 * RAMP
    np.testing.assert_allclose(curve("knee_flexion_by_height", "left", knee=knee, yaw=yaw), knee, atol=1.0)
    np.testing.assert_allclose(curve("torso_inclination_by_height", torso=torso, yaw=yaw), torso, atol=1.0)


def test_spreads_in_the_front_view() -> None:
    spread = {"ankles": 0.27, "knees": 0.216}
    np.testing.assert_allclose(curve("stance_width", **spread), 1.5, atol=1e-9)  # 0.27 over half shoulders of 0.18
    np.testing.assert_allclose(curve("knee_spread", **spread), 0.8, atol=1e-9)


def test_a_signal_of_the_whole_body_drives_from_the_side() -> None:
    clip = lifter.film(T, torso=70 * RAMP, yaw=90.0)
    view = estimate_view(clip, "auto")
    signals = compute_signals(clip, view, EXACT)
    np.testing.assert_array_equal(compute_driver(signals, "torso_inclination", view), signals.get("torso_inclination"))


def test_a_hidden_limb_gives_gaps_not_numbers() -> None:
    nothing = np.full((5, 33, 2), np.nan)
    for side in SIDES:
        assert np.isnan(compute_arm_opening(nothing, side, CameraView("left", 90.0, 8.0, "given"))).all()


@pytest.mark.parametrize("yaw", [90.0, -90.0])
def test_hip_bend_is_the_trunk_against_the_thigh(yaw: float) -> None:
    """Trunk 50 degrees forward, thigh 40 forward of straight down (knee 60, shin 20): 90 (closed form)."""
    for side in SIDES:
        found = curve("hip_flexion", side, torso=50.0, knee=60.0, shin=20.0, yaw=yaw)
        np.testing.assert_allclose(found, 90.0, atol=1e-6)


@pytest.mark.parametrize("yaw", [90.0, -90.0])
@pytest.mark.parametrize(("raised", "plane", "against_trunk"), [(0, 90, 60), (70, -90, -10), (30, 90, 90)])
def test_upper_arm_against_the_trunk(yaw: float, raised: float, plane: float, against_trunk: float) -> None:
    """Bent over by 60 degrees: an arm hanging down is 60 ahead of the trunk's line (closed form)."""
    for side in SIDES:
        found = curve("shoulder_flexion", side, torso=60.0, left=raised, right=raised, plane=plane, yaw=yaw)
        np.testing.assert_allclose(found, against_trunk, atol=1e-6)


@pytest.mark.parametrize("yaw", [90.0, -90.0])
def test_head_against_the_trunk(yaw: float) -> None:
    film = {"torso": 70.0, "head": 25.0, "yaw": yaw}
    np.testing.assert_allclose(curve("head_pitch", **film), 25.0, atol=1e-6)
    np.testing.assert_allclose(curve("neck_extension", **film), 45.0, atol=1e-6)


@pytest.mark.parametrize("yaw", [90.0, -90.0])
@pytest.mark.parametrize("raised", [0.0, 40.0])
def test_hand_from_the_leg_in_thigh_lengths(yaw: float, raised: float) -> None:
    """Standing straight: the wrist is (0.30 + 0.26)·sin(raise) ahead of an upright leg, over 0.42 (closed form)."""
    for side in SIDES:
        film = {"left": raised, "right": raised, "plane": 90.0, "knee": 0.0, "yaw": yaw}
        found = curve("hand_from_leg", side, **film)
        np.testing.assert_allclose(found, 0.56 * np.sin(np.radians(raised)) / 0.42, atol=1e-6)


def test_hand_from_the_shin_when_it_hangs_below_the_knee() -> None:
    """Hinged to 90 degrees on straight legs: wrist 0.52 m ahead of the hip, 0.56 m below it; the leg is upright."""
    found = curve("hand_from_leg", "left", left=0.0, right=0.0, torso=90.0, knee=0.0, yaw=90.0)
    np.testing.assert_allclose(found, 0.52 / 0.42, atol=1e-6)


def test_shoulders_drawn_together() -> None:
    found = curve("shoulder_width", None, blades=0.1 * RAMP, yaw=180.0)
    assert found[0] == pytest.approx(1.0, abs=1e-3)
    assert found[-1] == pytest.approx(0.9, abs=2e-3)
