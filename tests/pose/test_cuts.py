"""Cuts from what is noted of the pictures, made up so that the answer is known; the figures of `cuts` tell one another
apart by factors, so each case stands on its own side of one of them."""

import numpy as np
import pytest

from formcheck.core.model import Array
from formcheck.pose.cuts import find_cuts
from tests import lifter

RATE = 30.0
AT = 60
"""The picture from which something is different."""


def seen(n: int = 120, *, raise_deg: Array | float = 10.0) -> Array:
    return np.array(lifter.film(np.arange(n) / RATE, left=raise_deg, right=raise_deg).pixels)


def quiet(n: int = 120) -> Array:
    observations = np.zeros((n, 5))
    observations[:, 0], observations[:, 1] = 0.004 + 0.001 * np.sin(np.arange(n)), 0.99
    return observations


def found(observations: Array, pixels: Array | None = None, t: Array | None = None) -> tuple[float, ...]:
    return find_cuts(
        np.arange(len(observations)) / RATE if t is None else t,
        observations,
        seen(len(observations)) if pixels is None else pixels,
    )


def test_a_quiet_clip_has_none() -> None:
    assert found(quiet()) == ()
    assert find_cuts(np.arange(2.0), np.zeros((2, 5)), seen(2)) == ()


def test_another_scene_like_enough_to_be_the_same_gym() -> None:
    observations = quiet()
    observations[AT, :2] = 0.09, 0.8
    assert found(observations) == (AT / RATE,)


def test_a_picture_blended_of_both_scenes_is_one_cut() -> None:
    observations = quiet()
    observations[AT : AT + 2, :2] = 0.06, 0.85
    assert found(observations) == (AT / RATE,)


def test_a_lamp_leaves_the_picture_alike() -> None:
    observations = quiet()
    observations[AT, :2] = 0.2, 0.97
    assert found(observations) == ()


def test_a_flash_is_no_cut() -> None:
    observations = quiet()
    observations[[AT, AT + 2], :2] = 0.3, 0.4
    assert found(observations) == ()


@pytest.mark.parametrize("lasts", [6, 15, 40])
def test_what_passes_before_the_lens_or_a_pan_changes_many_pictures(lasts: int) -> None:
    observations = quiet()
    observations[AT : AT + lasts, :2] = 0.1, 0.6
    assert found(observations) == ()


def jumped(observations: Array, change: float, *, by: int = 45, lost: int = 0) -> tuple[float, ...]:
    """A piece of a raise is missing: from one picture to the next the arms are elsewhere."""
    course = 10.0 + 80 * lifter.minimum_jerk((np.arange(len(observations) + by) - AT + 10) / 90)
    pixels = seen(len(observations), raise_deg=np.concatenate([course[:AT], course[AT + by :]]))
    pixels[AT : AT + lost] = np.nan
    observations = observations.copy()
    observations[AT, :2] = change, 0.97
    return found(observations, pixels)


def test_time_cut_out_with_the_camera_standing() -> None:
    assert jumped(quiet(), 0.02) == (AT / RATE,)


def test_the_lifter_may_be_lost_for_a_moment_after_it() -> None:
    assert jumped(quiet(), 0.02, lost=5) == (AT / RATE,)
    assert jumped(quiet(), 0.02, lost=40) == ()


def test_a_tracked_point_that_jumps_alone_is_no_cut() -> None:
    assert jumped(quiet(), 0.004) == ()


def test_a_picture_that_jumps_while_the_body_goes_on_is_no_cut() -> None:
    assert jumped(quiet(), 0.02, by=0) == ()


def test_a_film_that_stood_still_and_goes_on_is_no_cut() -> None:
    """Twenty pictures shown again, as a busy recorder does: the next one makes up for all of them."""
    course = 10.0 + 80 * lifter.minimum_jerk(np.arange(120) / 90)
    frozen = course.copy()
    frozen[30:50] = course[29]
    observations = quiet()
    observations[30:50, 0] = 0.0
    observations[50, :2] = 0.02, 0.97
    assert found(observations, seen(raise_deg=frozen)) == ()
    # The same jump without the standing pictures before it is a cut.
    observations[30:50, 0] = 0.004
    assert found(observations, seen(raise_deg=frozen)) == (pytest.approx(50 / RATE, abs=1e-4),)


def test_a_gap_in_time_explains_a_jump() -> None:
    course = 10.0 + 80 * lifter.minimum_jerk(np.arange(120) / 90)
    kept = np.delete(np.arange(120), np.arange(30, 50))
    observations = quiet(len(kept))
    observations[30, :2] = 0.02, 0.97
    pixels = seen(len(kept), raise_deg=course[kept])
    assert found(observations, pixels, kept / RATE) == ()
    assert found(observations, pixels) == (30 / RATE,)


def test_nobody_in_the_picture() -> None:
    observations = quiet()
    observations[AT, :2] = 0.02, 0.97
    assert found(observations, np.full((120, 33, 2), np.nan)) == ()


def test_nobody_watched() -> None:
    assert find_cuts(np.arange(5.0), np.empty((5, 0)), seen(5)) == ()


def test_a_body_that_drops_at_once_is_no_cut() -> None:
    """As into a squat, 15 pictures a second: what changed, and how far a body went, in a rendered set."""
    t = np.arange(60) / 15
    observations, moved = quiet(60), np.zeros(60)
    observations[30:37, 0] = 0.0169, 0.032, 0.0353, 0.0341, 0.0236, 0.0095, 0.0042
    moved[30:37] = 0.1, 0.355, 0.353, 0.289, 0.118, 0.034, 0.017
    angle = 10 + 100 * np.cumsum(moved)
    pixels = np.array(lifter.film(t, left=angle, right=angle).pixels)
    assert found(observations, pixels, t) == ()
