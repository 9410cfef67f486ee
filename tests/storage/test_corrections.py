"""Corrections by hand: the original stays, the newest in force is shown, each can be undone."""

import dataclasses
import sqlite3
from pathlib import Path

import pytest

from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.reps.edits import Edits, leave_out, set_exercise
from formcheck.storage import Store
from tests.storage.conftest import NOON


def fewer(review: Review) -> Review:
    return dataclasses.replace(review, reps=review.reps[:1])


def test_the_original_stays_and_the_corrected_one_is_in_force(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    edits = leave_out(Edits(), 4.0, 9.0)
    assert store.edits_of(number) == Edits()
    assert store.save_revision(number, edits, fewer(review), created_at=NOON) == 1
    assert store.load_review(number) == fewer(review)
    assert store.load_original(number) == review
    assert store.edits_of(number) == edits
    (row,) = store.list_reviews()
    assert (row.by_hand, row.complete_reps + row.partial_reps) == (True, 1)
    assert store.check() == 1


def test_each_correction_can_be_undone(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    first, second = leave_out(Edits(), 4.0, 9.0), set_exercise(leave_out(Edits(), 4.0, 9.0), "squat")
    other = dataclasses.replace(fewer(review), exercise=dataclasses.replace(review.exercise, id="squat"))
    store.save_revision(number, first, fewer(review), created_at=NOON)
    store.save_revision(number, second, other, created_at=NOON)
    assert store.list_reviews(exercise_id="squat")[0].id == number
    assert store.undo_revision(number, undone_at=NOON) == first
    assert store.load_review(number) == fewer(review)
    assert store.list_reviews(exercise_id="squat") == []
    assert store.undo_revision(number, undone_at=NOON) == Edits()
    assert store.load_review(number) == review
    assert not store.list_reviews()[0].by_hand
    with pytest.raises(StoreError, match="no correction"):
        store.undo_revision(number, undone_at=NOON)
    assert store.save_revision(number, first, fewer(review), created_at=NOON) == 3
    assert [(item.number, item.undone_at is None) for item in store.revisions_of(number)] == [
        (1, False),
        (2, False),
        (3, True),
    ]


def test_corrections_of_no_review_are_one_sentence(store: Store, review: Review) -> None:
    for work in (
        lambda: store.save_revision(9, Edits(), review, created_at=NOON),
        lambda: store.revisions_of(9),
        lambda: store.edits_of(9),
    ):
        with pytest.raises(StoreError, match="no review 9"):
            work()


def test_a_damaged_correction_is_found(store: Store, path: Path, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    store.save_revision(number, leave_out(Edits(), 4.0, 9.0), fewer(review), created_at=NOON)
    raw = sqlite3.connect(path)
    raw.execute("UPDATE revisions SET edits = '{}'")
    raw.commit()
    with pytest.raises(StoreError, match="damaged"):
        store.check()
    raw.execute("UPDATE revisions SET body = body || ' '")
    raw.commit()
    raw.close()
    with pytest.raises(StoreError, match=f"Review {number} .* damaged"):
        store.load_review(number)
    assert store.load_original(number) == review
