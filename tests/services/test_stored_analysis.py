"""A stored review as an analysis again: one way for page, comparison, correction and export, nothing fitted anew."""

import dataclasses
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.errors import RecordingError
from formcheck.core.model import Analysis, LandmarkRecording, SecondCamera
from formcheck.exercises.limits import read_limits
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode, encode
from formcheck.pose.recording import save_recording
from formcheck.reps.edits import Edits, delete_rep
from formcheck.services.review_outputs import load_review_outputs
from formcheck.services.stored_analysis import (
    analyse_corrected,
    correct,
    load_stored_analysis,
    load_stored_recording,
    renew,
)
from formcheck.storage import Store, curve_cache
from formcheck.storage.curve_cache import CurveCache
from formcheck.storage.data_folder import DataFolder
from formcheck.web import stored_reviews
from formcheck.web.review import result
from tests import lifter

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
RAISE = get_exercise("lateral-raise")
PLAN = lifter.Set((97.0, 96.0, 98.0, 68.0))


@pytest.fixture(scope="module")
def film() -> LandmarkRecording:
    t = lifter.times(PLAN.length_s)
    made = lifter.film(t, left=PLAN.course(t), right=PLAN.course(t))
    return dataclasses.replace(made, clip=dataclasses.replace(made.clip, sha256="ab" * 32))


def keep(film: LandmarkRecording, home: Path) -> LandmarkRecording:
    """In the cache of recordings, as tracking leaves it."""
    path = DataFolder(home).recordings / f"{film.clip.sha256[:32]}-{film.pose_model.sha256[:16]}-1.npz"
    save_recording(film, path)
    return load_recording(path)


def load_recording(path: Path) -> LandmarkRecording:
    from formcheck.pose.recording import load_recording as load

    return load(path)


@pytest.fixture
def store(formcheck_home: Path) -> Iterator[Store]:
    with Store.open(DataFolder(formcheck_home).store) as opened:
        yield opened


@pytest.fixture
def number(store: Store, film: LandmarkRecording, formcheck_home: Path) -> int:
    """A review as the pipeline makes it, which keeps its curves, with the client's own limit."""
    kept = keep(film, formcheck_home)
    review = analyse(kept, RAISE, curves=CurveCache(DataFolder(formcheck_home).recordings)).review
    number = store.save_review(review, created_at=NOON, client="Ada")
    store.set_limits("lateral-raise", read_limits({"height": {"limit": 75.0}}), client="Ada", created_at=NOON)
    return number


@pytest.fixture
def fitted(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Every reading of curves from landmarks that the cache could not answer."""
    calls: list[Any] = []
    read = curve_cache.compute_signals

    def compute(*given: Any, **named: Any) -> Any:
        calls.append(given)
        return read(*given, **named)

    monkeypatch.setattr(curve_cache, "compute_signals", compute)
    for name in ("_recording", "_analysis", "_corrected"):
        getattr(stored_reviews, name).clear()
    return calls


def by_the_page(number: int, _store: Store, _home: Path) -> Analysis:
    analysis, _ = result._load_analysis(result.open_review(number))
    assert analysis is not None
    return analysis


def by_the_comparison(number: int, _store: Store, _home: Path) -> Analysis:
    opened = stored_reviews.load_review_curves(number)
    assert opened.found is not None
    return opened.found.analysis


def by_the_correction(number: int, store: Store, _home: Path) -> Analysis:
    return stored_reviews.analyse_correction(number, store.edits_of(number))


def by_the_command_line(number: int, store: Store, home: Path) -> Analysis:
    return analyse_corrected(store, number, store.edits_of(number), home)


def by_the_export(number: int, store: Store, home: Path) -> Analysis:
    return load_review_outputs(store, number, home).analysis


WAYS = [by_the_page, by_the_comparison, by_the_correction, by_the_command_line, by_the_export]


@pytest.mark.parametrize("edited", [False, True])
@pytest.mark.parametrize("way", WAYS)
def test_every_way_gives_the_stored_numbers_and_their_curves_and_fits_nothing(
    way: Callable[[int, Store, Path], Analysis],
    edited: bool,
    number: int,
    store: Store,
    formcheck_home: Path,
    film: LandmarkRecording,
    fitted: list[Any],
) -> None:
    if edited:
        edits = delete_rep(Edits(), store.load_review(number).reps, 2)
        correct(store, number, edits, formcheck_home, created_at=NOON)
    stored = store.load_review(number)
    found = way(number, store, formcheck_home)
    assert fitted == []
    told = decode(encode(found.review))  # a stored number is rounded
    assert told.measures == stored.measures
    assert told.reps == stored.reps
    assert len(stored.reps) == (3 if edited else 4)
    fresh = analyse(load_stored_recording(store, number, formcheck_home), RAISE)
    assert found.signals.series.keys() == fresh.signals.series.keys()
    for key, curve in fresh.signals.series.items():
        assert np.array_equal(found.signals.series[key], curve, equal_nan=True), key


def test_the_landmarks_a_review_was_drawn_from_come_first_unless_they_are_another_clips(
    number: int, store: Store, formcheck_home: Path, film: LandmarkRecording
) -> None:
    drawn = DataFolder(formcheck_home).artifacts(number).recording
    renamed = dataclasses.replace(film, clip=dataclasses.replace(film.clip, name="upload"), pixels=film.pixels + 1)
    save_recording(renamed, drawn)
    found = load_stored_recording(store, number, formcheck_home)
    assert np.array_equal(found.pixels, load_recording(drawn).pixels, equal_nan=True)
    assert found.clip == film.clip  # under the name it was reviewed by
    for spoilt in (dataclasses.replace(renamed, clip=dataclasses.replace(film.clip, sha256="cd" * 32)), None):
        if spoilt is None:
            drawn.write_bytes(b"PK nothing")
        else:
            save_recording(spoilt, drawn)
        found = load_stored_recording(store, number, formcheck_home)
        assert np.allclose(found.pixels, film.pixels, atol=0.05, equal_nan=True)  # kept to 1/32 pixel


def test_a_page_shows_landmarks_that_were_replaced(
    number: int, store: Store, formcheck_home: Path, film: LandmarkRecording, fitted: list[Any]
) -> None:
    before = stored_reviews.load_cached_recording(number)
    assert stored_reviews.load_cached_recording(number) is before
    save_recording(
        dataclasses.replace(film, pixels=film.pixels + 1), DataFolder(formcheck_home).artifacts(number).recording
    )
    assert not np.array_equal(stored_reviews.load_cached_recording(number).pixels, before.pixels, equal_nan=True)


def test_the_exercise_has_the_clients_own_limits(number: int, store: Store, formcheck_home: Path) -> None:
    found = load_stored_analysis(store, number, formcheck_home)
    assert {check.id: check.limit for check in found.exercise.checks}["height"] == 75.0
    assert found.analysis.review == store.load_review(number)


def test_without_the_second_cameras_landmarks_the_first_ones_curves_are_there(
    store: Store, formcheck_home: Path, film: LandmarkRecording
) -> None:
    kept = keep(film, formcheck_home)
    one = analyse(kept, RAISE)
    second = SecondCamera(dataclasses.replace(film.clip, sha256="ef" * 32), one.review.view, one.review.quality,
                          0.5, 0.1, 0.9, "movement", "first")  # fmt: skip
    number = store.save_review(dataclasses.replace(one.review, second=second), created_at=NOON)
    found = load_stored_analysis(store, number, formcheck_home)
    assert found.analysis.review == store.load_review(number)
    assert np.array_equal(found.analysis.driver, one.driver, equal_nan=True)
    for path in DataFolder(formcheck_home).recordings.glob("*.npz"):
        path.unlink()
    with pytest.raises(RecordingError, match="review the clip again"):
        load_stored_analysis(store, number, formcheck_home)


def test_a_review_from_before_there_were_grades_is_made_anew_and_its_original_stays(
    store: Store, film: LandmarkRecording, formcheck_home: Path
) -> None:
    made = analyse(keep(film, formcheck_home), RAISE).review
    plain = [dataclasses.replace(one, grade=None, probability=None, margin=None) for one in made.findings]
    old = dataclasses.replace(made, findings=tuple(plain), points=())
    number = store.save_review(old, created_at=NOON)
    renew(store, number, formcheck_home, created_at=NOON)
    again = store.load_review(number)
    assert again.points
    assert all(one.grade for one in again.findings if one.value is not None)
    assert not store.load_original(number).points
    store.undo_revision(number, undone_at=NOON)
    assert not store.load_review(number).points
