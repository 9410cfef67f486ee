"""A store written by an earlier formcheck opens, keeps every review, and its clients become rows of their own.

`tests/data/store_0001.sql` and so on are dumps of databases made by the programs of those schemas.
"""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from formcheck.coaching.rating import Rating
from formcheck.core.errors import StoreError
from formcheck.storage import Store
from formcheck.storage.jobs import JobRequest
from formcheck.storage.reviews import summary_columns
from tests.storage.conftest import DATA, NOON


def made_by(revision: str, path: Path) -> Path:
    raw = sqlite3.connect(path)
    raw.executescript((DATA / f"store_{revision}.sql").read_text(encoding="utf-8"))
    raw.commit()
    assert raw.execute("SELECT version_num FROM alembic_version").fetchone() == (revision,)
    raw.close()
    return path


@pytest.fixture
def old(path: Path) -> Path:
    return made_by("0001", path)


@pytest.fixture
def second(path: Path) -> Path:
    return made_by("0002", path)


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


def test_a_store_of_the_second_schema_keeps_everything(second: Path) -> None:
    with Store.open(second) as store:
        assert store.check() == 4
        assert [row.id for row in store.list_reviews()] == [4, 3, 2, 1]
        assert [client.name for client in store.list_clients()] == ["Ada Invented", "Bea Invented"]
        assert len(store.load_original(1).reps) == 3
        assert len(store.load_review(1).reps) == 2  # one was deleted by hand
        note = store.note_of(1)
        assert note is not None
        assert (note.effort, note.pain, note.remark) == (7.0, False, "an invented note")
        assert [str(held.plan) for held in store.plan_history("Ada Invented")] == ["11/9/7 @ 6/7/8 kg"]
        assert len(store.limits_history("lateral-raise", client="Ada Invented")) == 1
        assert store.save_review(store.load_review(3), created_at=NOON) == 6  # 5 was deleted by the old program


def test_clips_of_second_cameras_are_known_after_the_migration(second: Path) -> None:
    one, two, three, four, five = (f"{number:064x}" for number in range(1, 6))
    with Store.open(second) as store:
        ada, bea = (store.get_client(name).id for name in ("Ada Invented", "Bea Invented"))
        assert store.clips_of(client=ada) == {one, two, three}
        assert store.clips_of(client=None) == {four, five}
        assert store.clips_needed({one, two, three, four, five}, besides_client=bea) == {one, two, three, four, five}
        assert store.clips_needed({one, two, three, four, five}, besides_client=ada) == {three, four, five}


def test_a_damaged_document_does_not_keep_a_store_from_opening(second: Path) -> None:
    raw = sqlite3.connect(second)
    raw.execute("UPDATE documents SET body = substr(body, 1, length(body) - 40) WHERE review_id = 2")
    raw.commit()
    raw.close()
    with Store.open(second) as store:
        assert len(store.list_reviews()) == 4
        with pytest.raises(StoreError, match=r"Review 2 in the store .* is damaged"):
            store.check()
        assert store.clips_of(review_id=4) == {f"{4:064x}", f"{5:064x}"}


def test_a_store_of_the_third_schema_knows_which_sets_had_no_reps(path: Path) -> None:
    with Store.open(made_by("0003", path)) as store:
        assert store.check() == 2
        assert {row.id: row.problem_codes for row in store.list_reviews()} == {1: (), 2: ("no-reps",)}


def test_a_store_of_the_fourth_schema_has_a_queue(path: Path) -> None:
    with Store.open(made_by("0004", path)) as store:
        assert store.check() == 2
        assert [row.client for row in store.list_reviews()] == [None, "Cleo Invented"]
        assert store.list_jobs() == []
        job, added = store.add_job("here", JobRequest("clips/1.mp4", "1.mp4", "squat", "auto"), 1.0)
        assert added
        assert store.jobs_in_line("here") == [job]
        assert store.save_review(store.load_review(1), created_at=NOON) == 4  # 3 was deleted by the old program


def test_reviews_of_the_fourth_schema_count_as_seen_and_new_ones_do_not(path: Path) -> None:
    with Store.open(made_by("0004", path)) as store:
        assert [row.seen_at == row.created_at for row in store.list_reviews()] == [True, True]
        new = store.save_review(store.load_review(1), created_at=NOON)
        (row,) = store.list_reviews(review_id=new)
        assert (row.seen_at, row.done_at, row.deletion_at) == (None, None, None)


@pytest.mark.parametrize(("revision", "reviews"), [("0001", 6), ("0004", 2), ("0008", 3)])
def test_stores_of_any_schema_take_ratings_and_reference_reps(path: Path, revision: str, reviews: int) -> None:
    with Store.open(made_by(revision, path)) as store:
        assert store.check() == reviews
        assert (store.list_ratings(), store.list_reference_reps()) == ([], [])
        row = next(row for row in store.list_reviews() if row.client_id is not None)
        store.save_rating(row.id, Rating("height", "met", False, "one hand is lower"), created_at=NOON)
        store.set_reference_rep(row.id, 2.5, created_at=NOON)
        assert [item.review_id for item in store.list_reference_reps(client=row.client_id)] == [row.id]
        assert store.check() == reviews


def test_a_store_of_the_eighth_schema_keeps_its_comments_and_notes(path: Path) -> None:
    with Store.open(made_by("0008", path)) as store:
        assert [item.comment.text for item in store.comments_of(1)] == ["Elbows first."]
        note = store.note_of(2)
        assert note is not None
        assert note.effort == 7


def test_a_store_of_the_ninth_schema_keeps_its_jobs_and_takes_excerpts(path: Path) -> None:
    with Store.open(made_by("0009", path)) as store:
        drawing, waiting = store.list_jobs("a" * 32)
        assert (waiting.request.kind, waiting.request.excerpt) == ("review", None)
        assert waiting.name.startswith(waiting.request.key())
        assert store.add_job("a" * 32, waiting.request, 9.0) == (waiting, False)
        asked = JobRequest(
            "c.mp4", "c.mp4", "lateral-raise", "auto", review_id=drawing.request.review_id, kind="excerpt", excerpt="{}"
        )
        assert store.add_job("a" * 32, asked, 9.0)[0].request == asked


def test_reviews_of_the_eleventh_schema_get_their_counts_a_side(path: Path) -> None:
    with Store.open(made_by("0011", path)) as store:
        assert store.check() == 3
        rows = {row.id: row for row in store.list_reviews()}
        # As corrected by hand; both arms at once; as the machine made it, since its correction was undone.
        assert [(rows[n].left_reps, rows[n].right_reps) for n in (1, 2, 3)] == [(2, 2), (None, None), (3, 0)]
        assert [rows[n].reps for n in (1, 2, 3)] == ["2 left, 2 right", "3", "3 left"]
        assert not any(row.target_each_side for row in rows.values())
        for number in (1, 2, 3):
            columns = summary_columns(store.load_review(number))
            assert {name: getattr(rows[number], name) for name in columns} == columns
        assert store.list_jobs("home")[0].request.same_set
        assert store.undo_revision(1, undone_at=NOON) is not None
        assert store.list_reviews(review_id=1)[0].reps == "3 left, 2 right"


def test_a_damaged_document_of_the_eleventh_schema_keeps_no_store_from_opening(path: Path) -> None:
    with closing(sqlite3.connect(made_by("0011", path))) as raw:
        raw.execute("UPDATE documents SET body = substr(body, 1, 900) || '\"one\"' WHERE review_id = 3")
        raw.commit()
    with Store.open(path) as store:
        rows = {row.id: row.reps for row in store.list_reviews()}
        assert rows == {1: "2 left, 2 right", 2: "3", 3: "3"}
        with pytest.raises(StoreError, match="damaged"):
            store.load_review(3)


def test_a_job_of_the_tenth_schema_waits_on_and_nobody_was_asked_about_it(path: Path) -> None:
    with Store.open(made_by("0010", path)) as store:
        assert store.check() == 3
        (job,) = store.jobs_in_line("home")
        assert (job.request.second_name, job.request.same_set, job.asks_same_set) == ("side.mp4", False, False)
        joined, added = store.add_job("home", job.request, 2.0)
        assert (joined.id, added) == (job.id, False)
        answered, added = store.add_job("home", replace(job.request, same_set=True), 3.0)
        assert added
        assert answered.request.same_set
