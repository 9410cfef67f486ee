"""The landmark-to-joint correction stays small, smooth in the pose, and can be switched off."""

import numpy as np
import pytest

from formcheck.core.model import SIDES, Settings
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view
from formcheck.signals.correction import (
    Posture,
    compute_arm_offset,
    compute_fitted_arm_offset,
    compute_torso_offset,
    estimate_posture,
)
from tests import lifter

ANGLES = np.arange(0.0, 181.0)
T = lifter.times(1.0)


@pytest.mark.parametrize("yaw", [-45.0, -10.0, 0.0, 10.0, 45.0, 175.0])
@pytest.mark.parametrize(("bent_over", "bent_arm"), [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (0.5, 0.5)])
def test_no_angle_is_moved_far_or_in_jumps(yaw: float, bent_over: float, bent_arm: float) -> None:
    posture = Posture(np.full(ANGLES.shape, bent_over), np.full(ANGLES.shape, bent_arm))
    for side in SIDES:
        for offset in (
            compute_arm_offset(ANGLES, side, yaw, posture),
            compute_fitted_arm_offset(ANGLES, side, yaw, posture),
        ):
            limit = 5.0 + 0.2 * min(abs(yaw), 45.0)
            assert np.abs(offset).max() < limit
            # The corrected angle still rises with the seen one: order is kept.
            assert np.diff(ANGLES - offset).min() > 0.5


def test_a_torso_is_not_moved_far() -> None:
    assert np.abs(compute_torso_offset(np.arange(-30.0, 91.0))).max() < 4.0


def test_posture_is_told_from_the_picture() -> None:
    upright = estimate_posture(lifter.film(T, left=60.0, right=60.0).pixels, "left", 0.0, 30.0)
    assert (upright.bent_over.max(), upright.bent_arm.max()) == (0.0, 0.0)
    bent = estimate_posture(lifter.film(T, torso=70.0).pixels, "left", 0.0, 30.0)
    assert bent.bent_over.min() == 1.0
    # The trunk's share left in the picture is cos(lean) under parallel projection: half of it at 60 degrees.
    pressing = estimate_posture(lifter.film(T, left=60.0, right=60.0, elbow=100.0).pixels, "left", 0.0, 30.0)
    assert (pressing.bent_over.max(), pressing.bent_arm.min()) == (0.0, 1.0)


def test_a_gap_counts_as_upright_with_long_arms() -> None:
    nobody = estimate_posture(np.full((10, 33, 2), np.nan), "right", 0.0, 30.0)
    assert (nobody.bent_over.max(), nobody.bent_arm.max()) == (0.0, 0.0)


def test_its_size_can_be_shown_by_switching_it_off() -> None:
    film = lifter.film(T, left=90.0, right=90.0)
    view = estimate_view(film, "front")
    on, off = (
        compute_signals(film, view, Settings(correct_landmarks=which, fit_body=False)).get("arm_raise", "left")
        for which in (True, False)
    )
    np.testing.assert_allclose(off, 90.0, atol=1e-6)
    assert 0.5 < np.abs(on - off).max() < 5.0
