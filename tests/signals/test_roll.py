"""A tilted phone. Expected values are plane geometry: a turn of the picture adds to every angle in it (closed form)."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import SIDES, CameraView, LandmarkRecording, Message, Settings
from formcheck.exercises.registry import get_exercise
from formcheck.signals.camera import YAW_TURNED_DEG
from formcheck.signals.roll import (
    HANDS_AHEAD_DEG,
    SITTING_LEAN_DEG,
    Roll,
    estimate_roll,
    level_recording,
    note_roll,
    note_turned,
)
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
@pytest.mark.parametrize("view", [FRONT, CameraView("back", 180.0, 8.0, "estimated")])
def test_roll_is_found_from_the_front_and_from_behind(degrees: float, view: CameraView) -> None:
    roll = estimate_roll(turned(film(yaw=view.yaw_deg or 0.0), degrees), view)
    assert roll is not None
    assert roll.deg == pytest.approx(degrees, abs=0.05)


def test_levelled_is_the_picture_of_a_level_camera() -> None:
    straight = film()
    back = level_recording(turned(straight, 3.0), Roll(3.0, 1.0))
    assert np.allclose(back.pixels, straight.pixels, atol=1e-6, equal_nan=True)


def test_a_tilted_phone_makes_no_arm_lower_than_the_other() -> None:
    """A turn by r raises one arm's angle against the vertical by r and lowers the other's: 2r between them."""
    exercise, plain = get_exercise("lateral-raise"), Settings(correct_landmarks=False, fit_body=False)
    tilted = turned(film(yaw=-YAW_TURNED_DEG), 3.0)  # estimated as straight in front
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


def bent_to_the_side(recording: LandmarkRecording, degrees: float, *parts: str) -> LandmarkRecording:
    """These parts turned about the middle of the hips, as by a trunk that leans to the picture's right."""
    pixels = np.array(recording.pixels)
    hips = (pixels[:, get_index("hip", "left")] + pixels[:, get_index("hip", "right")]) / 2
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    for point in (get_index(part, side) for part in parts for side in SIDES):
        x, y = (pixels[:, point] - hips).T
        pixels[:, point] = hips + np.stack([c * x - s * y, s * x + c * y], axis=1)
    return replace(recording, pixels=pixels)


def shifted(recording: LandmarkRecording, part: str, right: float, down: float = 0.0) -> LandmarkRecording:
    """A part of both sides moved in the picture, pixels."""
    pixels = np.array(recording.pixels)
    pixels[:, [get_index(part, side) for side in SIDES]] += (right, down)
    return replace(recording, pixels=pixels)


def with_hands_up(recording: LandmarkRecording) -> LandmarkRecording:
    """Forearms that point up all the time, so that no arm hangs."""
    pixels = np.array(recording.pixels)
    for side in SIDES:
        pixels[:, get_index("wrist", side)] = pixels[:, get_index("elbow", side)] - (0.0, 60.0)
    return replace(recording, pixels=pixels)


def test_trunk_bent_to_the_side_over_level_hips_is_no_tilted_phone() -> None:
    recording = bent_to_the_side(with_hands_up(film()), 5.0, "shoulder", "elbow", "wrist")
    assert estimate_roll(recording, FRONT) is None


def test_hanging_arms_tell_a_lifter_who_leans_to_one_side_from_a_tilted_phone() -> None:
    """Trunk and hips lean by 5 degrees; each arm moves with its shoulder, and hangs plumb as before."""
    straight = film()
    pixels = np.array(bent_to_the_side(straight, 5.0, "shoulder", "hip").pixels)
    for side in SIDES:
        shoulder = get_index("shoulder", side)
        for part in ("elbow", "wrist"):
            pixels[:, get_index(part, side)] += pixels[:, shoulder] - straight.pixels[:, shoulder]
    leaning = replace(straight, pixels=pixels)
    seen, alone = estimate_roll(leaning, FRONT), estimate_roll(with_hands_up(leaning), FRONT)
    assert seen is not None
    assert seen.deg == pytest.approx(0.0, abs=0.05)
    assert alone is not None
    assert alone.deg == pytest.approx(5.0, abs=0.05)


@pytest.mark.parametrize("yaw", [-20.0, 12.0])
def test_hands_before_the_thighs_are_no_tilt_for_a_turned_camera(yaw: float) -> None:
    """Hands ahead by a of an arm's length are seen beside plumb by a·sin(yaw), to the left from the lifter's left."""
    recording = film(yaw=yaw)
    lines = [
        recording.pixels[:, get_index("wrist", side), 1] - recording.pixels[:, get_index("shoulder", side), 1]
        for side in SIDES
    ]
    ahead = np.tan(np.radians(HANDS_AHEAD_DEG)) * float(np.max(lines))
    recording = shifted(recording, "wrist", -ahead * np.sin(np.radians(yaw)))
    roll = estimate_roll(recording, CameraView("front", yaw, 8.0, "estimated"))
    assert roll is not None
    assert roll.deg == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("yaw", [-20.0, 12.0])
def test_leaning_back_on_a_seat_is_no_tilt_for_a_turned_camera(yaw: float) -> None:
    """A trunk leaning back by a is seen to lean by a·sin(yaw), to the right from the lifter's left."""
    view = CameraView("front", yaw, 8.0, "estimated")
    standing = with_hands_up(film(yaw=yaw))
    trunk = np.max(
        standing.pixels[:, get_index("hip", "left"), 1] - standing.pixels[:, get_index("shoulder", "left"), 1]
    )
    right = float(trunk) * np.tan(np.radians(-SITTING_LEAN_DEG)) * np.sin(np.radians(yaw))
    leaning = shifted(standing, "shoulder", right)
    sitting = shifted(leaning, "knee", 0.0, -float(trunk) / 2)
    of_one_who_stands, roll = estimate_roll(leaning, view), estimate_roll(sitting, view)
    assert roll is not None
    assert of_one_who_stands is not None
    assert roll.deg == pytest.approx(0.0, abs=0.1)
    assert of_one_who_stands.deg == pytest.approx(-SITTING_LEAN_DEG * np.sin(np.radians(yaw)), abs=0.1)


@pytest.mark.parametrize("name", ["oblique", "left", "right"])
def test_other_views_do_not_tell(name: str) -> None:
    assert estimate_roll(film(), CameraView(name, None, None, "given")) is None  # type: ignore[arg-type]


def test_nobody_in_the_clip_tells_nothing() -> None:
    recording = film()
    assert estimate_roll(replace(recording, pixels=np.full_like(recording.pixels, np.nan)), FRONT) is None


def test_a_degree_is_not_worth_a_sentence() -> None:
    assert note_roll(Roll(-0.9, 1.0)) is None
    assert note_roll(Roll(-2.2, 1.1)) == Message("tilted", {"degrees": 2, "margin": 1})


@pytest.mark.parametrize(("degrees", "told"), [(0.0, None), (30.0, None), (90.0, 90), (-90.0, 90), (180.0, 180)])
@pytest.mark.parametrize("position", ["standing", "seated", "prone"])
def test_a_film_on_its_side_is_told_but_of_one_who_lies(degrees: float, told: int | None, position: str) -> None:
    notes = note_turned(turned(film(), degrees), position)
    known = told is not None and position != "prone"
    assert notes == ((Message("turned", {"degrees": told}),) if known else ())


def test_a_turned_film_is_not_called_another_exercise() -> None:
    """Its posture says nothing: legs and trunk are not where they seem."""
    found = analyse(turned(film(), 90.0), get_exercise("lateral-raise")).review.quality
    assert "turned" in {note.code for note in found.notes_coded}
    assert "exercise-not-seen" not in {note.code for note in found.notes_coded}
    assert any("Turn it upright" in note for note in found.notes)
