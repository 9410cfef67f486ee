"""Plans, notes and own limits, with what held before."""

from datetime import date

import pytest

from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.exercises.limits import read_limits
from formcheck.storage import Store
from tests.storage.conftest import NOON

FIRST, SECOND = parse_plan("11/9/7 @ 6/7/8 kg"), parse_plan("4x9 @ 8 kg tempo 2-1-2-0")


def test_the_plan_of_a_day_is_the_one_set_last_before_it(store: Store) -> None:
    store.add_client("Ada", created_at=NOON)
    kept = store.set_plan("Ada", "lateral-raise", FIRST, created_at=NOON, since=date(2026, 3, 1), remark="start")
    assert (kept.plan, kept.since, kept.remark) == (FIRST, date(2026, 3, 1), "start")
    store.set_plan("Ada", "lateral-raise", SECOND, created_at=NOON, since=date(2026, 3, 15))
    store.set_plan("Ada", "squat", FIRST, created_at=NOON, since=date(2026, 3, 1))

    def on(day: date) -> object:
        found = store.plan_of("ada", "lateral-raise", on=day)
        return found and found.plan

    assert on(date(2026, 2, 28)) is None
    assert on(date(2026, 3, 14)) == FIRST
    assert on(date(2026, 3, 15)) == SECOND
    store.set_plan("Ada", "lateral-raise", None, created_at=NOON, since=date(2026, 4, 1))
    assert on(date(2026, 4, 2)) is None
    assert on(date(2026, 3, 31)) == SECOND
    assert [item.plan for item in store.plan_history("Ada", "lateral-raise")] == [FIRST, SECOND, None]
    assert len(store.plan_history("Ada")) == 4


def test_a_plan_corrected_on_its_day_holds(store: Store) -> None:
    store.add_client("Ada", created_at=NOON)
    for plan in (FIRST, SECOND):
        store.set_plan("Ada", "squat", plan, created_at=NOON, since=date(2026, 3, 1))
    found = store.plan_of("Ada", "squat", on=date(2026, 3, 1))
    assert found is not None
    assert found.plan == SECOND


def test_a_note_is_kept_and_replaced(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    assert store.note_of(number) is None
    note = SetNote(reps_in_reserve=2, effort=7.5, pain=True, pain_where="left shoulder", sleep_h=6.5, remark="late")
    store.save_note(number, note, written_at=NOON)
    assert store.note_of(number) == note
    store.save_note(number, SetNote(pain=False), written_at=NOON)
    assert store.note_of(number) == SetNote(pain=False)
    with pytest.raises(StoreError, match="no review 77"):
        store.save_note(77, note, written_at=NOON)


def test_own_limits_of_all_and_of_a_client_lie_over_one_another(store: Store) -> None:
    store.add_client("Ada", created_at=NOON)
    # As stored they say for which number they were set, the point having had another one before.
    plain = ({"height": {"limit": value, "measure": "arm_line_raise_peak"}} for value in (85.0, 75.0))
    everyone, ada = (read_limits(one) for one in plain)
    assert store.limits_of("lateral-raise", client="Ada") == []
    store.set_limits("lateral-raise", everyone, created_at=NOON)
    store.set_limits("lateral-raise", ada, created_at=NOON, client="Ada")
    assert [item.changes for item in store.limits_of("lateral-raise", client="Ada")] == [everyone, ada]
    assert [item.changes for item in store.limits_of("lateral-raise")] == [everyone]
    assert store.limits_of("squat") == []


def test_going_back_to_earlier_limits_is_an_entry_of_its_own(store: Store) -> None:
    first = store.set_limits("squat", read_limits({"depth": {"limit": 85.0}}), created_at=NOON)
    store.set_limits("squat", {}, created_at=NOON)
    assert store.limits_of("squat") == []
    store.restore_limits(first.id, created_at=NOON)
    assert [item.changes for item in store.limits_of("squat")] == [first.changes]
    assert len(store.limits_history("squat")) == 3
    with pytest.raises(StoreError, match="no own limits number 9"):
        store.restore_limits(9, created_at=NOON)
