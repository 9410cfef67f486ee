"""The landmark-to-joint correction is bounded, keeps order, holds where it was fitted, and can be switched off."""

import numpy as np
import pytest

from formcheck.core.model import CameraView, Settings
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view
from formcheck.signals.correction import (
    FROM_THE_FRONT,
    FROM_THE_SIDE,
    KNOTS_DEG,
    PER_YAW,
    WITH_THE_TORSO,
    correct_curves,
)
from tests import lifter

ANGLES = np.arange(0.0, 181.0)
T = lifter.times(1.0)
NAMES = sorted({*FROM_THE_SIDE, *FROM_THE_FRONT, *PER_YAW})


def view(name: str, yaw: float | None) -> CameraView:
    return CameraView(name, yaw, 8.0, "given")  # type: ignore[arg-type]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "camera", [view("front", 0.0), view("front", -20.0), view("oblique", 45.0), view("left", 90.0)]
)
def test_no_angle_is_moved_far_or_loses_its_order(name: str, camera: CameraView) -> None:
    """A hip's point 5 cm ahead on a trunk of 50 cm and a thigh of 42 turns both, by 6 and 7 degrees (trigonometry)."""
    corrected = correct_curves({(name, "left"): ANGLES}, camera)[name, "left"]
    assert np.abs(corrected - ANGLES).max() < 13.0
    assert np.diff(corrected).min() > 0.3


@pytest.mark.parametrize("name", NAMES)
def test_from_behind_nothing_changes_but_the_lean_that_is_read_as_from_the_side(name: str) -> None:
    known = {"torso_inclination": (view("back", 180.0),)}
    for camera in known.get(name, (view("back", 180.0), view("oblique", 140.0))):
        np.testing.assert_array_equal(correct_curves({(name, "left"): ANGLES}, camera)[name, "left"], ANGLES)


def test_the_arm_nearer_to_the_camera_loses_what_the_farther_one_gains() -> None:
    """A camera at the lifter's left sees the left arm point at it (projection law)."""
    level = np.full(3, 150.0)
    both = correct_curves({("arm_elevation", "left"): level, ("arm_elevation", "right"): level}, view("oblique", 30.0))
    assert (both["arm_elevation", "left"] < level).all()
    np.testing.assert_allclose(both["arm_elevation", "left"] + both["arm_elevation", "right"], 300.0)


def test_angles_against_the_trunk_move_with_its_lean() -> None:
    lean = np.array(KNOTS_DEG)
    series = {("torso_inclination", None): lean, **{(name, None): np.zeros(len(lean)) for name in WITH_THE_TORSO}}
    corrected = correct_curves(series, view("right", -90.0))
    for name in WITH_THE_TORSO:
        np.testing.assert_allclose(corrected[name, None], corrected["torso_inclination", None] - lean)


def test_its_size_can_be_shown_by_switching_it_off() -> None:
    film = lifter.film(T, torso=40.0, yaw=90.0)
    camera = estimate_view(film, "left")
    on, off = (
        compute_signals(film, camera, Settings(correct_landmarks=which, fit_body=False)).get("torso_inclination")
        for which in (True, False)
    )
    np.testing.assert_allclose(off, 40.0, atol=0.5)  # seen in perspective, from 4 m
    assert 3.0 < np.abs(on - off).max() < 8.0
