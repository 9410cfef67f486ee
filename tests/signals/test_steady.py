"""Camera sway and swapped sides: a known movement put onto landmarks comes off again (closed form)."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.model import LandmarkRecording, Scene
from formcheck.signals.steady import MIRRORED, find_swaps, note_scene, remove_sway, restore_sides
from tests import lifter


@pytest.fixture(scope="module")
def filmed() -> LandmarkRecording:
    plan = lifter.Set((92.0,) * 4)
    t = lifter.times(plan.length_s)
    return lifter.film(t, left=plan.course(t), right=plan.course(t))


def swayed(recording: LandmarkRecording) -> LandmarkRecording:
    """The same set from a phone in a hand: turned and shifted about, by the rotation matrix."""
    t = recording.t
    roll = np.radians(2.0 * np.sin(2.1 * t))
    shift = np.stack([15 * np.sin(1.3 * t), 9 * np.cos(0.7 * t)], axis=1)
    turn = np.array([[np.cos(roll), -np.sin(roll)], [np.sin(roll), np.cos(roll)]]).transpose(2, 0, 1)
    pixels = np.einsum("nij,nkj->nki", turn, recording.pixels) + shift[:, None]
    world = recording.world.copy()
    world[:, :, :2] = np.einsum("nij,nkj->nki", turn, world[:, :, :2])
    return replace(recording, pixels=pixels, world=world, sway=np.column_stack([roll, shift]))


def test_a_known_sway_comes_off(filmed: LandmarkRecording) -> None:
    back = remove_sway(swayed(filmed))
    assert np.allclose(back.pixels, filmed.pixels, atol=1e-6, equal_nan=True)
    assert np.allclose(back.world, filmed.world, atol=1e-9, equal_nan=True)
    assert back.sway is None


def test_a_still_camera_changes_nothing(filmed: LandmarkRecording) -> None:
    assert remove_sway(filmed) is filmed


@pytest.mark.parametrize("span", [slice(20, 23), slice(40, 54)])
def test_swapped_sides_are_put_back(filmed: LandmarkRecording, span: slice) -> None:
    pixels, world, visibility = filmed.pixels.copy(), filmed.world.copy(), filmed.visibility.copy()
    for values in (pixels, world, visibility):
        values[span] = values[span][:, MIRRORED]
    wrong = replace(filmed, pixels=pixels, world=world, visibility=visibility)
    assert np.array_equal(np.flatnonzero(find_swaps(wrong)), np.arange(len(filmed.t))[span])
    assert np.array_equal(restore_sides(wrong).pixels, filmed.pixels, equal_nan=True)


def test_a_change_that_stays_may_be_the_lifter_turning(filmed: LandmarkRecording) -> None:
    pixels = filmed.pixels.copy()
    pixels[60:] = pixels[60:][:, MIRRORED]
    assert not find_swaps(replace(filmed, pixels=pixels)).any()


def test_a_set_without_swaps_is_left_alone(filmed: LandmarkRecording) -> None:
    assert restore_sides(filmed) is filmed


def test_mirroring_twice_is_nothing() -> None:
    assert np.array_equal(np.array(MIRRORED)[MIRRORED], np.arange(33))


def test_what_limits_the_clip_is_said(filmed: LandmarkRecording) -> None:
    assert note_scene(filmed) == ()
    said = note_scene(replace(swayed(filmed), scene=Scene(others=True)))
    assert [note.code for note in said] == ["other-people", "phone-moved"]
    assert note_scene(replace(filmed, scene=Scene(others=True, doubtful=True)))[0].code == "people-alike"
