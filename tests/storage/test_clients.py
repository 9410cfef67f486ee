"""Clients, sessions and what is deleted with a client."""

import sqlite3
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest

from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.exercises.limits import read_limits
from formcheck.reps.edits import Edits, leave_out
from formcheck.storage import Store
from tests.storage.conftest import NOON

Made = Callable[[int], Review]


def test_a_client_is_found_whatever_the_capitals_and_spaces(store: Store) -> None:
    ada = store.add_client("  Ada   Invented ", created_at=NOON, notes="left shoulder")
    assert (ada.name, ada.notes, ada.created_at) == ("Ada Invented", "left shoulder", NOON)
    assert store.find_client("ada invented") == ada == store.get_client(ada.id)
    assert store.find_client("Ada") is None
    with pytest.raises(StoreError, match="already"):
        store.add_client("ADA INVENTED", created_at=NOON)


def test_a_name_composed_in_another_way_is_the_same_name(store: Store) -> None:
    """Unicode Standard Annex 15: é may be written as one sign or as two."""
    store.add_client("Ren\u00e9", created_at=NOON)
    assert store.find_client("Rene\u0301") is not None


@pytest.mark.parametrize("name", ["", "   ", "a" * 121, "two\x00names", "bell\x07"])
def test_what_is_no_name_is_refused(store: Store, name: str) -> None:
    if "\x00" in name:
        assert store.add_client(name, created_at=NOON).name == "two?names"
        return
    with pytest.raises(StoreError) as caught:
        store.add_client(name, created_at=NOON)
    assert str(caught.value).endswith(".")
    assert store.list_clients() == []


def test_an_unknown_client_is_one_sentence_with_the_known_ones(store: Store) -> None:
    with pytest.raises(StoreError, match="none"):
        store.get_client("Nobody")
    store.add_client("Ada Invented", created_at=NOON)
    with pytest.raises(StoreError, match="Ada Invented"):
        store.get_client("Nobody")
    with pytest.raises(StoreError, match="no client number 9"):
        store.get_client(9)


def test_a_new_name_keeps_id_and_reviews(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON, client="Ada Invented")
    ada = store.get_client("Ada Invented")
    assert store.change_client("ada invented", name="Ada Made-Up", notes="n").id == ada.id
    assert [row.id for row in store.list_reviews(client="Ada Made-Up")] == [number]
    assert store.change_client(ada.id, notes="").notes is None
    store.add_client("Bea Invented", created_at=NOON)
    with pytest.raises(StoreError, match="already"):
        store.change_client("Bea Invented", name="ADA made-up")
    store.change_client("Bea Invented", name="BEA INVENTED")  # her own name in capitals


def test_saving_for_a_name_twice_makes_one_client(store: Store, review: Review) -> None:
    for name in ("Ada Invented", "ada  invented"):
        store.save_review(review, created_at=NOON, client=name)
    assert [client.name for client in store.list_clients()] == ["Ada Invented"]
    assert len(store.list_reviews(client=store.get_client("Ada Invented").id)) == 2


def test_sets_of_a_session_are_numbered_and_a_clip_reviewed_again_keeps_its_number(store: Store, of_clip: Made) -> None:
    day = date(2026, 3, 1)
    for minute, clip in enumerate((1, 2, 1, 3)):
        store.save_review(of_clip(clip), created_at=NOON + timedelta(minutes=minute), client="Ada", session_on=day)
    store.save_review(of_clip(4), created_at=NOON, client="Ada", session_on=day + timedelta(days=2))
    store.save_review(of_clip(5), created_at=NOON, client="Bea", session_on=day)
    first, second = store.sessions(client="Ada")
    assert (first.day, [row.clip_name for row in first.sets]) == (
        day,
        ["invented-set-1.mp4", "invented-set-2.mp4", "invented-set-3.mp4"],
    )
    assert [row.set_number for row in first.sets] == [1, 2, 3]
    assert first.sets[0].id == 3  # the newest review of that set
    assert [row.set_number for row in second.sets] == [1]
    assert len(store.sessions()) == 3


def test_sets_without_a_client_are_never_one_session(store: Store, of_clip: Made) -> None:
    day = date(2026, 3, 1)
    for clip in (1, 2, 1):
        store.save_review(of_clip(clip), created_at=NOON, session_on=day)
    store.save_review(of_clip(3), created_at=NOON, client="Ada", session_on=day)
    alone = [session for session in store.sessions() if session.client is None]
    assert sorted(row.clip_name for session in alone for row in session.sets) == [
        "invented-set-1.mp4",
        "invented-set-2.mp4",
    ]
    assert [len(session.sets) for session in alone] == [1, 1]
    assert [row.id for row in store.list_reviews(without_client=True)] == [3, 2, 1]


def test_what_was_said_of_a_review_can_be_changed_later(store: Store, review: Review) -> None:
    number = store.save_review(review, created_at=NOON)
    store.change_review(
        number, client="Ada", session_on=date(2026, 2, 1), set_number=4, variation="cable", changed_at=NOON
    )
    (row,) = store.list_reviews(client="Ada")
    assert (row.session_on, row.set_number, row.variation) == (date(2026, 2, 1), 4, "cable")
    store.change_review(number, changed_at=NOON)
    assert store.list_reviews(client="Ada") == [row]
    with pytest.raises(StoreError, match="no review 99"):
        store.change_review(99, set_number=2, changed_at=NOON)


def test_nothing_of_a_deleted_client_can_be_read_out_of_the_file(store: Store, path: Path, review: Review) -> None:
    """SQLite else leaves deleted rows in free pages (sqlite.org/pragma.html, secure_delete) and in the log."""

    def bytes_on_disk() -> bytes:
        return b"".join(file.read_bytes() for file in path.parent.glob(f"{path.name}*"))

    for turn in range(5):
        number = store.save_review(review, created_at=NOON, client="Zzyzx Unforgettable")
        store.save_note(number, SetNote(pain=True, pain_where=f"qwertzuiop {turn}"), written_at=NOON)
    assert b"Zzyzx" in bytes_on_disk()
    assert b"qwertzuiop" in bytes_on_disk()
    store.delete_client("Zzyzx Unforgettable")
    for word in (b"Zzyzx", b"zzyzx", b"qwertzuiop", review.clip.name.encode()):
        assert word not in bytes_on_disk()


def test_a_deleted_client_leaves_nothing_behind(store: Store, path: Path, review: Review) -> None:
    number = store.save_review(review, created_at=NOON, client="Ada")
    other = store.save_review(review, created_at=NOON, client="Bea")
    store.save_note(number, SetNote(effort=7), written_at=NOON)
    store.save_revision(number, leave_out(Edits(), 0, 1), review, created_at=NOON)
    store.set_plan("Ada", "lateral-raise", parse_plan("4x9"), created_at=NOON)
    store.set_limits("lateral-raise", read_limits({"height": {"limit": 80.0}}), created_at=NOON, client="Ada")
    assert store.delete_client("ada").name == "Ada"
    assert [row.id for row in store.list_reviews()] == [other]
    raw = sqlite3.connect(path)
    left = {
        table: raw.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        for table in ("clients", "documents", "revisions", "plans", "set_notes", "limits")
    }
    raw.close()
    assert left == {"clients": 1, "documents": 1, "revisions": 0, "plans": 0, "set_notes": 0, "limits": 0}
    with pytest.raises(StoreError, match="no client 'Ada'"):
        store.delete_client("Ada")
