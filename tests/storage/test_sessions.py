"""A client's sessions, read together: the same as one by one, and known to be the same without being read."""

import dataclasses
import sys
from collections.abc import Callable
from datetime import date

import pytest

from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.reps.edits import Edits, leave_out
from formcheck.storage import Store
from formcheck.storage.sessions import noted_elsewhere, sessions_stamp, trained_sessions
from tests.storage.conftest import NOON

RAISE = "lateral-raise"


@pytest.fixture
def numbers(store: Store, of_clip: Callable[[int], Review]) -> list[int]:
    """Six sessions of two sets each, one corrected, one whose correction was undone."""
    made = []
    for number in range(1, 13):
        day = date(2026, 3, (number + 1) // 2)
        made.append(store.save_review(of_clip(number), created_at=NOON, client="Ada", session_on=day))
    for corrected in made[:2]:
        fewer = dataclasses.replace(of_clip(corrected), reps=of_clip(corrected).reps[:1])
        store.save_revision(corrected, leave_out(Edits(), 4.0, 9.0), fewer, created_at=NOON)
    store.undo_revision(made[1], undone_at=NOON)
    return made


def test_reviews_read_together_are_those_read_one_by_one(store: Store, numbers: list[int]) -> None:
    backwards = numbers[::-1]
    found = store.load_reviews(backwards)
    assert list(found) == backwards
    assert found == {number: store.load_review(number) for number in numbers}
    assert len(found[numbers[0]].reps) == 1
    assert len(found[numbers[1]].reps) == 3
    assert store.load_reviews([]) == {}
    with pytest.raises(StoreError, match="no review 77"):
        store.load_reviews([numbers[0], 77])


def test_many_reviews_are_read_in_parts(store: Store, numbers: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    whole = store.load_reviews(numbers)
    monkeypatch.setattr(sys.modules["formcheck.storage.reviews"], "_LOADED_AT_ONCE", 5)
    assert store.load_reviews(numbers) == whole


def test_sessions_come_with_notes_and_the_plan_of_their_day(store: Store, numbers: list[int]) -> None:
    early, late = parse_plan("2x11 @ 8 kg"), parse_plan("2x9 @ 9 kg")
    store.set_plan("Ada", RAISE, late, created_at=NOON, since=date(2026, 3, 4))
    store.set_plan("Ada", RAISE, early, created_at=NOON, since=date(2026, 3, 2))
    store.set_plan("Ada", RAISE, None, created_at=NOON, since=date(2026, 3, 6))
    store.save_note(numbers[3], SetNote(effort=8.0), written_at=NOON)
    sessions = trained_sessions(store, "ada", RAISE)
    assert [session.plan for session in sessions] == [None, early, early, late, late, None]
    held = [store.plan_of("Ada", RAISE, on=session.day) for session in sessions]
    assert [session.plan for session in sessions] == [item and item.plan for item in held]
    notes = [item.note for session in sessions for item in session.sets]
    assert notes == [store.note_of(number) for number in numbers]
    assert store.notes_of(numbers) == {numbers[3]: SetNote(effort=8.0)}


def test_the_stamp_changes_with_whatever_is_read(store: Store, review: Review, numbers: list[int]) -> None:
    ada = store.get_client("Ada").id
    seen = [sessions_stamp(store, ada, RAISE)]

    def changed() -> bool:
        seen.append(sessions_stamp(store, ada, RAISE))
        return seen[-1] not in seen[:-1]

    assert not changed()
    squat = dataclasses.replace(review, exercise=dataclasses.replace(review.exercise, id="squat"))
    number_of_squat = store.save_review(squat, created_at=NOON, client="Ada")
    store.save_review(review, created_at=NOON, client="Bea")
    assert not changed()
    store.save_note(number_of_squat, SetNote(pain=True, pain_where="shoulder"), written_at=NOON)
    assert changed()
    store.save_note(numbers[0], SetNote(effort=8.0), written_at=NOON)
    assert changed()
    store.save_note(numbers[0], SetNote(effort=7.0), written_at=NOON)
    assert changed()
    store.save_revision(numbers[2], leave_out(Edits(), 1.0, 2.0), review, created_at=NOON)
    assert changed()
    store.save_revision(numbers[2], leave_out(Edits(), 1.0, 3.0), review, created_at=NOON)
    assert changed()
    store.set_plan("Ada", RAISE, parse_plan("2x11"), created_at=NOON, since=date(2026, 3, 1))
    assert changed()
    store.change_review(numbers[0], session_on=date(2026, 2, 1), changed_at=NOON)
    assert changed()
    store.delete_review(numbers[5])
    assert changed()


def test_what_was_noted_in_other_exercises_is_read_for_their_newest_three_sessions(
    store: Store, review: Review, numbers: list[int]
) -> None:
    ada = store.get_client("Ada").id
    made = {}
    for name in ("squat", "front-raise"):
        other = dataclasses.replace(review, exercise=dataclasses.replace(review.exercise, id=name))
        for day in range(1, 6):
            on = date(2026, 4, day)
            made[name, day] = store.save_review(other, created_at=NOON, client="Ada", session_on=on, set_number=1)
    store.save_note(made["squat", 4], SetNote(pain=True), written_at=NOON)
    store.save_note(made["squat", 1], SetNote(pain=True), written_at=NOON)
    store.save_review(review, created_at=NOON, client="Bea")
    found = noted_elsewhere(store, ada, RAISE)
    assert [(item.exercise_id, item.day.day) for item in found] == [
        (name, day) for day in (3, 4, 5) for name in ("front-raise", "squat")
    ]
    assert [item.notes for item in found if any(item.notes)] == [(SetNote(pain=True),)]
    assert {item.exercise_id for item in noted_elsewhere(store, ada, "squat")} == {RAISE, "front-raise"}


def test_a_set_reviewed_anew_keeps_what_was_noted_of_it(store: Store, review: Review) -> None:
    """Pain noted on the first review of a set is not forgotten by a second review of the same set."""
    day = date(2026, 4, 1)
    first = store.save_review(review, created_at=NOON, client="Ada", session_on=day, set_number=1)
    store.save_note(first, SetNote(pain=True, pain_where="elbow", effort=7.0), written_at=NOON)
    second = store.save_review(review, created_at=NOON, client="Ada", session_on=day, set_number=1)

    def noted() -> SetNote | None:
        (session,) = trained_sessions(store, "Ada", RAISE)
        (item,) = session.sets
        return item.note

    assert noted() == SetNote(pain=True, pain_where="elbow", effort=7.0)
    store.save_note(second, SetNote(effort=8.0), written_at=NOON)
    assert noted() == SetNote(pain=True, pain_where="elbow", effort=8.0)
    store.save_note(second, SetNote(pain=False), written_at=NOON)
    assert noted() == SetNote(pain=False, effort=7.0)
