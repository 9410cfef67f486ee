import numpy as np
import pytest

from formcheck.core.model import Message, Settings
from formcheck.signals.camera import assess_quality, estimate_view, estimate_yaw, get_facing_sign, get_plane, name_view
from tests import lifter

T = lifter.times(2.0)


@pytest.mark.parametrize("yaw", [0, 20, 35, 90, 150, 180, -35, -90, -150])
@pytest.mark.parametrize("torso", [0.0, 80.0])
def test_yaw_is_that_of_the_camera_upright_or_bent_over(yaw: float, torso: float) -> None:
    found = estimate_yaw(lifter.film(T, yaw=yaw, torso=torso))
    assert found is not None
    assert np.cos(np.radians(found - yaw)) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("yaw", "name"),
    [
        (0, "front"),
        (-20, "front"),
        (40, "oblique"),
        (88, "left"),
        (-91, "right"),
        (179, "back"),
        (-170, "back"),
        (130, "oblique"),
    ],
)
def test_named_views(yaw: float, name: str) -> None:
    assert name_view(yaw) == name
    assert estimate_view(lifter.film(T, yaw=yaw), "auto").name == name


def test_left_is_the_lifters_left() -> None:
    """From the lifter's left side they face the image's left, as anyone standing there sees."""
    view = estimate_view(lifter.film(T, yaw=90), "auto")
    assert (view.name, get_plane(view), get_facing_sign(view)) == ("left", "sagittal", -1.0)
    assert get_facing_sign(estimate_view(lifter.film(T, yaw=-90), "auto")) == 1.0


def test_side_means_the_nearer_side_and_a_given_view_wins() -> None:
    film = lifter.film(T, yaw=-80)
    assert estimate_view(film, "side").name == "right"
    given = estimate_view(film, "front")
    assert (given.name, given.origin) == ("front", "given")
    notes = assess_quality(film, given, Settings()).notes_coded
    assert Message("other-direction", {"view": "front", "degrees": 83}) in notes


def test_quality_tells_who_is_missing_and_what_is_cut_off() -> None:
    film = lifter.film(T, left=90, right=90, scale=1300)
    quality = assess_quality(film, estimate_view(film, "auto"), Settings())
    assert quality.out_of_frame["left_wrist"] == 1.0
    (cut,) = (note for note in quality.notes_coded if note.code == "cut-off")
    assert "left_wrist" in cut.parameters["points"]  # type: ignore[operator]  # a list
    small = lifter.film(T, scale=60)
    assert Message("lifter-small") in assess_quality(small, estimate_view(small, "auto"), Settings()).notes_coded
    nobody = lifter.recording(
        T, np.full((len(T), 33, 2), np.nan), np.full((len(T), 33, 3), np.nan), np.zeros((len(T), 33))
    )
    empty = assess_quality(nobody, estimate_view(nobody, "auto"), Settings())
    assert empty.tracked_share == 0


def test_a_good_clip_has_no_notes() -> None:
    film = lifter.film(T)
    assert assess_quality(film, estimate_view(film, "auto"), Settings()).notes_coded == ()
