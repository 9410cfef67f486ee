"""What is taken off beyond the first correction: bounded, only of raised arms, only from where it was fitted."""

import numpy as np
import pytest

from formcheck.core.model import Array, CameraView, LandmarkRecording, Settings
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view
from formcheck.signals.remainder import (
    CURVES,
    ELBOW,
    HANGS_DEG,
    MOST_DEG,
    TAKEN,
    estimate_remainder,
    holds_for,
    list_cue_names,
)
from tests import lifter

T = lifter.times(1.0)


def view(name: str, yaw: float | None) -> CameraView:
    return CameraView(name, yaw, 8.0, "given")  # type: ignore[arg-type]


@pytest.mark.parametrize("name", [*CURVES, ELBOW])
def test_never_more_than_its_bound_nothing_of_a_hanging_arm_nothing_of_the_unknown(name: str) -> None:
    angle = np.linspace(0.0, 180.0, 500)
    for cues in np.random.default_rng(0).uniform(-4.0, 4.0, (20, len(list_cue_names(name)))):
        off = estimate_remainder(name, angle, np.tile(cues, (500, 1)))
        assert np.abs(off).max() <= TAKEN * MOST_DEG + 1e-9
        assert name == ELBOW or (off[angle <= HANGS_DEG] == 0).all()
    np.testing.assert_array_equal(
        estimate_remainder(name, np.full(3, np.nan), np.zeros((3, len(list_cue_names(name))))), 0.0
    )


def test_it_holds_for_cameras_in_front_and_nowhere_else() -> None:
    assert holds_for(view("front", 0.0))
    assert holds_for(view("front", None))
    assert holds_for(view("oblique", -45.0))
    for name, yaw in (("back", 180.0), ("oblique", 140.0), ("left", 90.0), ("oblique", -120.0)):
        assert not holds_for(view(name, yaw))


def curve(film: LandmarkRecording, *, remainder: bool) -> Array:
    return compute_signals(film, estimate_view(film, "auto"), Settings(), remainder=remainder).get("arm_raise", "left")


def test_from_behind_nothing_changes() -> None:
    film = lifter.film(T, left=90, right=90, yaw=180)
    np.testing.assert_array_equal(curve(film, remainder=True), curve(film, remainder=False))
