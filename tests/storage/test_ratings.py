"""What a coach answers is kept once for each thing, found damaged where it is, and goes with its review."""

from pathlib import Path

import pytest

from formcheck.coaching.rating import OF_REP, Rating
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.storage import Store
from formcheck.storage.backup import back_up, restore
from tests.storage.conftest import NOON

NO = Rating("height", "met", False, "Qwertzuiop once")


def test_of_one_thing_the_last_answer_is_kept(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    other = store.save_review(review, created_at=NOON)
    of_rep = Rating(OF_REP, "whole", True, rep_s=2.5)
    for rating in (NO, of_rep, Rating(OF_REP, "whole", True, rep_s=5.5)):
        store.save_rating(number, rating, created_at=NOON)
    store.save_rating(other, NO, created_at=NOON)
    store.save_rating(number, Rating("height", "not_met", True), created_at=NOON)
    found = store.ratings_of(number)
    assert {(item.check, item.rep_s, item.agrees) for item in found} == {
        ("height", None, True),
        (OF_REP, 2.5, True),
        (OF_REP, 5.5, True),
    }
    store.delete_rating(number, of_rep)
    assert [item.rep_s for item in store.ratings_of(number)] == [5.5, None]
    assert store.ratings_of(other) == [NO]
    with pytest.raises(StoreError, match="no such rating"):
        store.delete_rating(number, of_rep)
    with pytest.raises(StoreError, match="no review 77"):
        store.save_rating(77, NO, created_at=NOON)


def test_they_are_listed_by_client_and_exercise(store: Store, review: Review) -> None:
    ada = store.save_review(review, created_at=NOON, client="Ada")
    store.save_rating(ada, NO, created_at=NOON)
    store.save_rating(store.save_review(review, created_at=NOON), NO, created_at=NOON)
    client = store.get_client("Ada").id
    assert [item.review_id for item in store.list_ratings(client=client)] == [ada]
    assert [item.review_id for item in store.list_ratings(exercise_id=review.exercise.id)] == [ada, ada + 1]
    assert store.list_ratings(exercise_id="squat") == []


def test_they_go_with_their_review_and_leave_nothing_in_the_file(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON, client="Ada")
    store.save_rating(number, NO, created_at=NOON)
    store.set_reference_rep(number, 2.5, created_at=NOON)
    store.delete_review(number)
    with store.engine.connect() as connection:
        for table in ("ratings", "reference_reps"):
            assert connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar() == 0
    assert b"Qwertzuiop" not in Path(store.location).read_bytes()


def test_what_was_answered_and_taken_back_leaves_nothing_in_the_file(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    store.save_rating(number, NO, created_at=NOON)
    store.delete_rating(number, NO)
    assert b"Qwertzuiop" not in Path(store.location).read_bytes()


@pytest.mark.parametrize("change", ["verdict = 'perhaps'", "check_id = ''", "why = ''", "rep_s = -1"])
def test_damage_is_noticed(store: Store, review: Review, change: str) -> None:
    number = store.save_review(review, created_at=NOON)
    store.save_rating(number, NO, created_at=NOON)
    assert store.check() == 1
    with store.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE ratings SET {change}")
    with pytest.raises(StoreError, match="damaged"):
        store.check()


def test_a_restored_backup_has_ratings_and_reference_reps(store: Store, review: Review, tmp_path: Path) -> None:
    number = store.save_review(review, created_at=NOON, client="Ada")
    store.save_rating(number, NO, created_at=NOON)
    store.set_reference_rep(number, 2.5, created_at=NOON)
    back_up(store, tmp_path / "backup.sqlite")
    store.close()
    restore(tmp_path / "new.sqlite", tmp_path / "backup.sqlite", restored_at=NOON)
    with Store.open(tmp_path / "new.sqlite") as new:
        assert new.ratings_of(number) == [NO]
        assert [item.rep_s for item in new.list_reference_reps()] == [2.5]
