"""What no arm can do, against the closed form of a minimum-jerk movement and a landmark that jumps."""

import numpy as np
import pytest

from formcheck.core.model import Message, Signals
from formcheck.signals.filtering import low_pass
from formcheck.signals.plausible import MOST_ACCELERATION, drop_jumping_arms, find_jumping_arms, find_jumps, note_jumps
from formcheck.signals.walking import ON_THE_SPOT, compute_positions
from tests import lifter

T = lifter.times(6.0, 60.0)
UP = 10.0 + 150.0 * (lifter.minimum_jerk(T - 1.0) - lifter.minimum_jerk(T - 3.0))


@pytest.mark.parametrize(("duration", "wrong"), [(0.5, False), (0.4, False), (0.25, True)])
def test_the_fastest_stroke_allowed_is_that_of_the_closed_form(duration: float, wrong: bool) -> None:
    """A minimum-jerk movement's acceleration peaks at 10·range/(√3·duration²), from its own second derivative."""
    course = 150.0 * lifter.minimum_jerk((T - 1.0) / duration)
    assert (10 * 150.0 / (np.sqrt(3) * duration**2) > MOST_ACCELERATION) == wrong
    assert (find_jumps(T, course).max() > 0) == wrong


def test_an_arm_that_jumps_is_missing_in_its_rep_only() -> None:
    jumped = np.where(np.abs(T - 2.4) < 0.05, 20.0, UP)
    seen = Signals(T, {("arm_raise", "left"): low_pass(jumped, 60.0, 6.0), ("arm_raise", "right"): UP})
    spans = [(1.0, 4.0), (4.5, 5.5)]
    found = find_jumping_arms(seen, spans)
    assert found == {"left": (0,)}
    left = drop_jumping_arms(seen, spans, found)
    assert np.isnan(left.get("arm_raise", "left")).tolist() == ((T >= 1.0) & (T <= 4.0)).tolist()
    assert left.get("arm_raise", "right") == pytest.approx(UP)
    (note,) = note_jumps(found)
    assert note == Message("arm-jumps", {"side": "left", "reps": (1,)})


def test_landmark_noise_is_no_jump() -> None:
    noisy = low_pass(UP + np.random.default_rng(0).normal(0.0, 3.0, len(T)), 60.0, 6.0)
    assert find_jumps(T, noisy).max() == 0


def test_places_are_in_torso_lengths() -> None:
    """The figure's torso is 0.5 m: a metre across, at the camera's scale, is two torso lengths."""
    still = lifter.film(T, left=UP, right=UP)
    curves = compute_positions(still, T, hips_still=True)
    assert all(np.ptp(curve) < 0.1 and farthest == ON_THE_SPOT for curve, farthest in curves)
    assert len(compute_positions(still, T, hips_still=False)) == 2
    shift = 500.0 * T / T[-1]
    walked = lifter.recording(T, still.pixels + np.stack([shift, 0 * shift], axis=1)[:, None], np.array(still.world))
    torso = np.linalg.norm((still.pixels[0, 11:13] - still.pixels[0, 23:25]).mean(axis=0))
    assert np.ptp(compute_positions(walked, T, hips_still=True)[2][0]) == pytest.approx(500.0 / torso, rel=0.05)


def test_nobody_in_the_clip_has_no_place() -> None:
    empty = lifter.recording(
        T, np.full((len(T), 33, 2), np.nan), np.full((len(T), 33, 3), np.nan), np.zeros((len(T), 33))
    )
    assert compute_positions(empty, T, hips_still=True) == ()
