"""Which angle from where: the table, and what becomes of the curves."""

from typing import get_args

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import CameraView, Settings
from formcheck.core.vocabulary import SIGNALS
from formcheck.exercises.registry import get_exercise
from formcheck.signals import angles
from formcheck.signals.body_fit.curves import NEEDS
from formcheck.signals.sources import Band, Source, find_band, list_fitted, read_table
from tests import lifter

PLAN = lifter.Set((88.0, 90.0, 89.0))
T = lifter.times(PLAN.length_s)


def test_the_table_names_curves_bands_and_sources_that_exist() -> None:
    for name, row in read_table().items():
        assert name in SIGNALS
        assert name in NEEDS
        assert set(row) == set(get_args(Band))
        assert set(row.values()) <= set(get_args(Source))


@pytest.mark.parametrize(
    ("name", "yaw", "band"),
    [
        ("front", 0.0, "front"),
        ("front", -10.0, "front"),
        ("front", 24.0, "front_turned"),
        ("front", None, "front"),
        ("oblique", -29.0, "oblique"),
        ("oblique", 40.0, "oblique"),
        ("oblique", None, "oblique"),
        ("oblique", 140.0, "oblique"),
        ("left", 80.0, "side"),
        ("right", None, "side"),
        ("back", 175.0, "back"),
    ],
)
def test_a_view_belongs_to_one_band(name: str, yaw: float | None, band: str) -> None:
    assert find_band(CameraView(name, yaw, None, "estimated")) == band  # type: ignore[arg-type]  # parametrised words


def test_only_what_the_table_says_is_taken_from_the_body() -> None:
    course = PLAN.course(T)
    film = lifter.film(T, left=course, right=course, yaw=40.0)
    view = CameraView("oblique", 40.0, 8.0, "given")
    with_body, without = (angles.compute_signals(film, view, Settings(fit_body=which)) for which in (True, False))
    changed = {
        key for key, curve in with_body.series.items() if not np.array_equal(curve, without.get(*key), equal_nan=True)
    }
    assert {name for name, _ in changed} == set(list_fitted(view)) - {"torso_inclination"}
    assert set(with_body.sd) >= changed
    assert all((values > 0).all() for values in with_body.sd.values())
    assert not without.sd


def test_a_trunk_near_upright_is_not_told_from_the_front_and_a_bent_one_is() -> None:
    view = CameraView("front", 0.0, 8.0, "given")
    settings = Settings(correct_landmarks=False)
    upright = angles.compute_signals(lifter.film(T), view, settings)
    assert np.isnan(upright.get("torso_inclination")).all()
    bent = angles.compute_signals(lifter.film(T, torso=65.0), view, settings).get("torso_inclination")
    assert abs(np.nanmean(bent) - 65.0) < 6.0


def test_a_body_that_cannot_be_fitted_takes_the_numbers_it_would_give_and_no_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    course = PLAN.course(T)
    film = lifter.film(T, left=course, right=course, yaw=40.0)
    exercise = get_exercise("lateral-raise")
    monkeypatch.setattr(angles, "fit_curves", lambda *_: None)
    review = analyse(film, exercise).review
    assert [item.code for item in review.quality.problems] == ["body-not-fitted"]
    assert len(review.reps) == len(PLAN.peaks)
    fitted = tuple(list_fitted(review.view))
    assert "arm_raise" in fitted
    angles_of_reps, times = (
        [item.value for item in review.measures if item.name.startswith(names)] for names in (fitted, "concentric_time")
    )
    assert len(angles_of_reps) > len(PLAN.peaks)
    assert set(angles_of_reps) == {None}
    assert len(times) == len(PLAN.peaks)
    assert None not in times
    assert not list_fitted(CameraView("left", 90.0, None, "given"))  # from the side no body in space is needed


def test_a_hidden_elbow_leaves_a_gap_whatever_the_body_says() -> None:
    course = PLAN.course(T)
    film = lifter.film(T, left=course, right=course, yaw=40.0)
    visibility = np.array(film.visibility)
    visibility[:, lifter.INDEX["left_elbow"]] = 0.1
    hidden = lifter.recording(film.t, film.pixels, film.world, visibility)
    found = angles.compute_signals(hidden, CameraView("oblique", 40.0, 8.0, "given"), Settings())
    assert np.isnan(found.get("arm_raise", "left")).all()
    assert np.isfinite(found.get("arm_raise", "right")).all()
