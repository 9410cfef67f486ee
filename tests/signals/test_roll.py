"""A tilted phone. Expected values are plane geometry: a turn of the picture adds to every angle in it (closed form)."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import CameraView, LandmarkRecording, Message, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.signals.camera import estimate_view
from formcheck.signals.roll import Roll, estimate_roll, level_recording, note_roll
from formcheck.signals.skeleton import get_index
from tests import lifter

PLAN = lifter.Set((92.0, 90.0, 88.0, 86.0))
FRONT = CameraView("front", 0.0, 8.0, "estimated")


def film(*, yaw: float = 0.0) -> LandmarkRecording:
    t = lifter.times(PLAN.length_s)
    return lifter.film(t, left=PLAN.course(t), right=PLAN.course(t), yaw=yaw)


def turned(recording: LandmarkRecording, degrees: float) -> LandmarkRecording:
    """What a camera rolled by this much sees: plumb lines lean to the right for positive angles."""
    centre = np.array([recording.clip.width, recording.clip.height]) / 2
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    x, y = np.moveaxis(recording.pixels - centre, -1, 0)
    return replace(recording, pixels=np.stack([c * x - s * y, s * x + c * y], axis=-1) + centre)


@pytest.mark.parametrize("degrees", [-4.0, -1.5, 0.0, 3.0])
@pytest.mark.parametrize("yaw", [0.0, 180.0])
def test_roll_is_found_from_the_front_and_from_behind(degrees: float, yaw: float) -> None:
    tilted = turned(film(yaw=yaw), degrees)
    roll = estimate_roll(tilted, estimate_view(tilted, "auto"))
    assert roll is not None
    assert roll.deg == pytest.approx(degrees, abs=0.05)


def test_levelled_is_the_picture_of_a_level_camera() -> None:
    straight = film()
    back = level_recording(turned(straight, 3.0), Roll(3.0, 1.0))
    assert np.allclose(back.pixels, straight.pixels, atol=1e-6, equal_nan=True)


def test_a_tilted_phone_makes_no_arm_lower_than_the_other() -> None:
    """A turn by r raises one arm's angle against the vertical by r and lowers the other's: 2r between them."""
    exercise, plain = get_exercise("lateral-raise"), Settings(correct_landmarks=False, fit_body=False)
    tilted = turned(film(), 3.0)
    as_seen = analyse(tilted, exercise, settings=replace(plain, level_picture=False)).review
    upright = analyse(tilted, exercise, settings=plain).review
    off, mended = (review.measure("arm_peak_difference", rep=2) for review in (as_seen, upright))
    assert off is not None
    assert mended is not None
    assert off.value is not None
    assert mended.value is not None
    assert abs(off.value) == pytest.approx(6.0, abs=0.2)
    assert mended.value == pytest.approx(0.0, abs=0.2)
    assert any("tilted by about 3°" in note for note in upright.quality.notes)
    assert not any("tilted" in note for note in as_seen.quality.notes)


def test_trunk_bent_to_the_side_over_level_hips_is_no_tilted_phone() -> None:
    recording = film()
    pixels = np.array(recording.pixels)
    hips = (pixels[:, get_index("hip", "left")] + pixels[:, get_index("hip", "right")]) / 2
    upper = [get_index(part, side) for part in ("shoulder", "elbow", "wrist") for side in ("left", "right")]
    c, s = np.cos(np.radians(5.0)), np.sin(np.radians(5.0))
    for point in upper:
        x, y = (pixels[:, point] - hips).T
        pixels[:, point] = hips + np.stack([c * x - s * y, s * x + c * y], axis=1)
    assert estimate_roll(replace(recording, pixels=pixels), FRONT) is None


@pytest.mark.parametrize("name", ["oblique", "left", "right"])
def test_other_views_do_not_tell(name: str) -> None:
    assert estimate_roll(film(), CameraView(name, None, None, "given")) is None  # type: ignore[arg-type]


def test_nobody_in_the_clip_tells_nothing() -> None:
    recording = film()
    assert estimate_roll(replace(recording, pixels=np.full_like(recording.pixels, np.nan)), FRONT) is None


def test_a_degree_is_not_worth_a_sentence() -> None:
    assert note_roll(Roll(-0.9, 1.0)) is None
    assert note_roll(Roll(-2.2, 1.1)) == Message("tilted", {"degrees": 2, "margin": 1})
