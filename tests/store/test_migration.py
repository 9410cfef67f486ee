"""A store written by an earlier formcheck opens, keeps every review, and its clients become rows of their own.

`tests/data/store_0001.sql` is the dump of a database made by the program of schema 0001 itself.
"""

import sqlite3
from datetime import date
from pathlib import Path

import pytest

from formcheck.store import Store
from tests.store.conftest import DATA, NOON


@pytest.fixture
def old(path: Path) -> Path:
    raw = sqlite3.connect(path)
    raw.executescript((DATA / "store_0001.sql").read_text(encoding="utf-8"))
    raw.commit()
    assert raw.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
    raw.close()
    return path


def test_every_old_review_is_still_there_and_whole(old: Path) -> None:
    with Store.open(old) as store:
        assert store.check() == 6
        rows = store.list_reviews()
        assert [row.id for row in rows] == [6, 5, 4, 3, 2, 1]
        assert [row.clip_name for row in rows][-1] == "invented-set-1.mp4"
        assert {row.load_kg for row in rows} == {7.5}
        assert store.load_review(1) == store.load_original(1)
        assert not any(row.by_hand for row in rows)


def test_client_names_become_clients_whatever_their_capitals_and_spaces(old: Path) -> None:
    with Store.open(old) as store:
        assert [client.name for client in store.list_clients()] == ["Invented Client", "Zoë O'Invented"]
        assert [row.id for row in store.list_reviews(client="invented  CLIENT")] == [3, 2, 1]
        assert [row.client for row in store.list_reviews()] == [
            None,
            None,
            "Zoë O'Invented",
            "Invented Client",
            "Invented Client",
            "Invented Client",
        ]


def test_old_reviews_get_their_day_as_session_and_a_clip_reviewed_twice_is_one_set(old: Path) -> None:
    with Store.open(old) as store:
        rows = {row.id: row for row in store.list_reviews()}
        assert rows[1].session_on == date(2026, 3, 1)
        assert [rows[number].set_number for number in (1, 2, 3, 4)] == [1, 2, 1, 1]
        (session,) = store.sessions(client="Invented Client")
        assert [row.id for row in session.sets] == [3, 2]


def test_the_number_of_a_review_deleted_long_ago_is_not_given_again(old: Path) -> None:
    with Store.open(old) as store:
        assert store.save_review(store.load_review(1), created_at=NOON) == 8  # 7 was deleted by the old program
        assert store.add_client("Third Invented", created_at=NOON).id == 3


def test_an_old_store_is_migrated_once(old: Path) -> None:
    with Store.open(old) as first:
        first.add_client("Third Invented", created_at=NOON)
    with Store.open(old) as again:
        assert [client.name for client in again.list_clients()][1] == "Third Invented"
