"""A client has one reference rep for each exercise and camera side, whatever is marked, moved or corrected."""

from dataclasses import replace
from datetime import timedelta

import pytest

from formcheck.core.errors import StoreError, UsageError
from formcheck.core.model import Review
from formcheck.storage import Store
from tests.storage.conftest import NOON, one_sentence

LATER = NOON + timedelta(days=1)


def save(store: Store, review: Review, client: str | None = "Ada", view: str | None = None) -> int:
    seen = review if view is None else replace(review, view=replace(review.view, name=view))  # type: ignore[arg-type]
    return store.save_review(seen, created_at=NOON, client=client)


def test_a_later_one_takes_the_place_of_the_first(store: Store, review: Review) -> None:
    first, second = save(store, review), save(store, review)
    store.set_reference_rep(first, 2.5, created_at=NOON)
    store.set_reference_rep(second, 5.25, created_at=LATER)
    (found,) = store.list_reference_reps()
    assert (found.review_id, found.rep_s, found.exercise_id, found.view) == (
        second,
        5.25,
        review.exercise.id,
        review.view.name,
    )
    store.set_reference_rep(second, 8.0, created_at=LATER)
    assert [item.rep_s for item in store.list_reference_reps()] == [8.0]
    store.remove_reference_rep(second)
    assert store.list_reference_reps() == []
    with pytest.raises(StoreError, match="No rep of review"):
        store.remove_reference_rep(second)


def test_clients_exercises_and_sides_have_their_own(store: Store, review: Review) -> None:
    squat = replace(review, exercise=replace(review.exercise, id="squat"))
    numbers = [save(store, review), save(store, review, "Bea"), save(store, review, view="left"), save(store, squat)]
    for number in numbers:
        store.set_reference_rep(number, 2.5, created_at=NOON)
    assert {item.review_id for item in store.list_reference_reps()} == set(numbers)
    ada = store.get_client("Ada").id
    found = store.find_reference_rep(ada, review.exercise.id, "left")
    assert found is not None
    assert found.review_id == numbers[2]
    assert store.find_reference_rep(ada, "hip-hinge", "left") is None


def test_it_goes_along_with_its_set_to_another_client(store: Store, review: Review) -> None:
    ada, bea = save(store, review), save(store, review, "Bea")
    store.set_reference_rep(ada, 2.5, created_at=NOON)
    store.set_reference_rep(bea, 4.5, created_at=LATER)
    store.change_review(ada, client="Bea", changed_at=LATER)
    (found,) = store.list_reference_reps()
    assert found.review_id == bea  # the one that was chosen last
    store.remove_reference_rep(bea)
    assert [item.review_id for item in store.list_reference_reps(client=store.get_client("Bea").id)] == [ada]


def test_a_set_without_a_client_has_none(store: Store, review: Review) -> None:
    number = save(store, review, client=None)
    with pytest.raises(UsageError) as caught:
        store.set_reference_rep(number, 2.5, created_at=NOON)
    assert "no client" in one_sentence(caught.value)
    with pytest.raises(StoreError, match="no review 77"):
        store.set_reference_rep(77, 2.5, created_at=NOON)
