"""Backups are whole, made while the store is in use, and a damaged one is refused before anything is touched."""

import json
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from formcheck.coaching.comment import CoachComment
from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import parse_plan
from formcheck.core.errors import StoreError
from formcheck.core.model import Review, SetInfo
from formcheck.exercises.limits import read_limits
from formcheck.reps.edits import Edits, leave_out
from formcheck.storage import Store
from formcheck.storage.backup import back_up, restore
from formcheck.storage.jobs import JobRequest
from tests.statistics.sets import in_turn
from tests.storage.conftest import DATA, NOON
from tests.storage.voice import spoken

Made = Callable[[int], Review]


def fill(store: Store, review: Review) -> int:
    number = store.save_review(review, created_at=NOON, client="Ada")
    store.save_note(number, SetNote(effort=7), written_at=NOON)
    store.save_revision(number, leave_out(Edits(), 0, 1), review, created_at=NOON)
    said = CoachComment("Look here.", 1.5, (((1.0, 2.0), (3.0, 4.0)),))
    store.add_comment(number, said, voice=spoken(), created_at=NOON)
    store.mark_reviews([number], seen_at=NOON, done_at=NOON)
    store.set_plan("Ada", "lateral-raise", parse_plan("4x9"), created_at=NOON)
    store.set_limits("lateral-raise", read_limits({"height": {"limit": 80.0}}), created_at=NOON, client="Ada")
    return number


def everything(store: Store) -> object:
    numbers = [row.id for row in store.list_reviews()]
    return (
        store.list_reviews(),
        store.list_clients(),
        [(store.load_review(n), store.load_original(n), store.revisions_of(n), store.note_of(n)) for n in numbers],
        [(store.comments_of(n), [store.voice_of(item.id) for item in store.comments_of(n)]) for n in numbers],
        [store.plan_history(client.id) for client in store.list_clients()],
        [store.limits_history("lateral-raise", client=client.id) for client in store.list_clients()],
    )


def test_a_deletion_that_waited_in_a_backup_is_forgotten(
    store: Store, path: Path, review: Review, tmp_path: Path
) -> None:
    number = fill(store, review)
    store.mark_reviews([number], deletion_at=NOON)
    back_up(store, tmp_path / "made.backup")
    restore(path, tmp_path / "made.backup", restored_at=NOON)
    (row,) = store.list_reviews()
    assert row.deletion_at is None
    assert row.done_at == NOON


def test_a_backup_restores_everything(store: Store, path: Path, review: Review, tmp_path: Path) -> None:
    fill(store, review)
    before = everything(store)
    target = tmp_path / "copies" / "formcheck.backup"
    target.parent.mkdir()
    assert back_up(store, target) == 1
    assert [item.name for item in target.parent.iterdir()] == ["formcheck.backup"]
    store.delete_client("Ada")
    store.save_review(review, created_at=NOON, client="Bea")
    count, kept = restore(path, target, restored_at=NOON)
    assert count == 1
    assert everything(store) == before  # also through a connection open all the while
    assert kept is not None
    with Store.open(kept) as saved:
        assert [client.name for client in saved.list_clients()] == ["Bea"]
    # Numbers given after the backup was made may not come to mean another review: the restored one starts where it was.
    assert store.save_review(review, created_at=NOON) == 2


def test_counts_a_side_come_back_and_an_answer_about_two_clips_stays_behind(
    store: Store, path: Path, tmp_path: Path
) -> None:
    target = SetInfo(8.0, 3, target_each_side=True)
    store.save_review(replace(in_turn("LRLRL"), set_info=target), created_at=NOON, client="Ada")
    asked = JobRequest("a", "a.mp4", "squat", "auto", second_path="b", same_set=True)
    job, _ = store.add_job("home", asked, 1.0)
    copy = tmp_path / "formcheck.backup"
    back_up(store, copy)
    store.delete_client("Ada")
    restore(path, copy, restored_at=NOON)
    (row,) = store.list_reviews()
    assert (row.reps, row.target_reps, row.target_each_side) == ("3 left, 2 right", 3, True)
    assert store.load_review(row.id).set_info == target
    # A backup holds no jobs, which belong to one machine's files; one that waits there outlives a restore.
    with closing(sqlite3.connect(copy)) as raw:
        assert raw.execute("SELECT count(*) FROM jobs").fetchone() == (0,)
    assert store.list_jobs("home") == [job]
    assert store.list_jobs("home")[0].request == asked


def test_into_a_new_place(store: Store, review: Review, tmp_path: Path) -> None:
    fill(store, review)
    back_up(store, tmp_path / "b.sqlite")
    count, kept = restore(tmp_path / "new" / "reviews.sqlite", tmp_path / "b.sqlite", restored_at=NOON)
    assert (count, kept) == (1, None)
    with Store.open(tmp_path / "new" / "reviews.sqlite") as other:
        assert everything(other) == everything(store)


def test_a_backup_of_an_earlier_formcheck_is_brought_up_to_date(path: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.backup"
    raw = sqlite3.connect(old)
    raw.executescript((DATA / "store_0001.sql").read_text(encoding="utf-8"))
    raw.commit()
    raw.close()
    before = old.read_bytes()
    assert restore(path, old, restored_at=NOON) == (6, None)
    assert old.read_bytes() == before
    with Store.open(path) as store:
        assert len(store.list_clients()) == 2


def test_a_backup_taken_while_others_write_holds_whole_reviews(store: Store, of_clip: Made, tmp_path: Path) -> None:
    stop = threading.Event()
    saved: list[int] = []

    def write() -> None:
        while not stop.is_set():
            saved.append(store.save_review(of_clip(len(saved)), created_at=NOON, client=f"Client {len(saved) % 5}"))

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for turn in range(4):
            known = len(saved)
            target = tmp_path / f"{turn}.backup"
            count = back_up(store, target)
            assert count >= known
            with Store.open(target) as copy:
                assert copy.check() == count
                assert [row.id for row in copy.list_reviews()] == list(range(count, 0, -1))
    finally:
        stop.set()
        writer.join()
    assert len(saved) > 4


@pytest.mark.parametrize("damage", ["cut", "zeros", "page", "text", "empty", "document", "other", "missing", "newer"])
def test_a_damaged_backup_is_refused_and_nothing_is_touched(
    store: Store, path: Path, review: Review, of_clip: Made, tmp_path: Path, damage: str
) -> None:
    for number in range(8):
        store.save_review(of_clip(number), created_at=NOON)
    backup = tmp_path / "b.sqlite"
    back_up(store, backup)
    before = everything(store)
    size = backup.stat().st_size
    if damage == "cut":
        os.truncate(backup, size // 2)
    elif damage == "zeros":
        backup.write_bytes(b"\0" * size)
    elif damage == "page":
        with backup.open("r+b") as file:
            file.seek(size // 2)
            file.write(b"\xa5" * 6000)
    elif damage == "text":
        backup.write_text("Dear reader, " * 300)
    elif damage == "empty":
        backup.write_bytes(b"")
    elif damage == "missing":
        backup.unlink()
    else:
        if damage == "other":
            backup.unlink()
        raw = sqlite3.connect(backup)
        raw.execute(
            {
                "document": "UPDATE documents SET body = replace(body, '89.42', '99.42') WHERE review_id = 7",
                "other": "CREATE TABLE birds (name TEXT)",
                "newer": "UPDATE alembic_version SET version_num = '0999'",
            }[damage]
        )
        raw.commit()
        raw.close()
    with pytest.raises(StoreError) as caught:
        restore(path, backup, restored_at=NOON)
    assert "\n" not in str(caught.value)
    assert everything(store) == before
    assert (
        sorted(item.name for item in tmp_path.iterdir() if "before-restore" in item.name or "part" in item.name) == []
    )


def test_a_backup_is_not_written_over_anything_else(store: Store, path: Path, review: Review, tmp_path: Path) -> None:
    fill(store, review)
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear reader")
    with pytest.raises(StoreError, match="not a backup"):
        back_up(store, letter)
    assert letter.read_text() == "Dear reader"
    with pytest.raises(StoreError, match="itself"):
        back_up(store, path)
    with pytest.raises(StoreError, match="cannot be written"):
        back_up(store, tmp_path / "nowhere" / "b.sqlite")
    back_up(store, tmp_path / "b.sqlite")
    assert back_up(store, tmp_path / "b.sqlite") == 1  # an earlier backup may be replaced


def test_a_store_in_memory_can_be_backed_up_too(review: Review, tmp_path: Path) -> None:
    with Store.open("sqlite://") as store:
        fill(store, review)
        assert back_up(store, tmp_path / "b.sqlite") == 1
        before = everything(store)
    with Store.open(tmp_path / "b.sqlite") as copy:
        assert everything(copy) == before


RESTORING = """
import json, os, signal, sys, time
from datetime import UTC, datetime
from formcheck.storage import Store
from formcheck.storage.backup import restore
where, new, old = sys.argv[1:]
told = []
for turn in range(8):
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        restore(where, new, restored_at=datetime.now(UTC))
        os.write(writing, b"restored")
        os._exit(0)
    os.close(writing)
    time.sleep(0.02 + 0.06 * turn)
    os.kill(child, signal.SIGKILL)
    killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
    acknowledged = os.read(reading, 20) == b"restored"
    os.close(reading)
    with Store.open(where) as store:
        told.append([killed, acknowledged, [client.name for client in store.list_clients()], store.check()])
    restore(where, old, restored_at=datetime.now(UTC))
print(json.dumps(told))
"""


@pytest.mark.skipif(os.name != "posix", reason="needs fork and SIGKILL")
def test_a_restore_killed_at_any_moment_leaves_the_old_store_or_the_new(
    store: Store, path: Path, of_clip: Made, tmp_path: Path, root: Path
) -> None:
    for number in range(12):
        store.save_review(of_clip(number), created_at=NOON, client="Old")
    with Store.open(tmp_path / "other.sqlite") as other:
        for number in range(7):
            other.save_review(of_clip(number), created_at=NOON, client="New")
        back_up(other, tmp_path / "new.backup")
    back_up(store, tmp_path / "old.backup")
    command = [sys.executable, "-c", RESTORING, path, tmp_path / "new.backup", tmp_path / "old.backup"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=root, check=False)
    assert done.returncode == 0, done.stderr
    deaths = json.loads(done.stdout)
    assert any(killed for killed, *_ in deaths)
    for _, acknowledged, names, count in deaths:
        assert (names, count) in ((["Old"], 12), (["New"], 7))
        assert names == ["New"] or not acknowledged


@pytest.mark.parametrize("damage", ["zeros", "no database", "review"])
def test_a_backup_goes_over_a_damaged_store_which_is_kept(
    store: Store, path: Path, review: Review, tmp_path: Path, damage: str
) -> None:
    """Pages of zeros, and text in the place of the header (SQLite's file format, sections 1.3 and 1.6)."""
    fill(store, review)
    before = everything(store)
    back_up(store, tmp_path / "made.backup")
    store.close()
    if damage == "review":
        with closing(sqlite3.connect(path)) as raw, raw:
            raw.execute("UPDATE documents SET body = replace(body, '89.42', '99.42')")
    else:
        whole = path.read_bytes()
        pages = bytes(len(whole) - 8192) if damage == "zeros" else b"birds" * 100
        path.write_bytes(whole[:8192] + pages if damage == "zeros" else pages)
    damaged = path.read_bytes()
    count, kept = restore(path, tmp_path / "made.backup", restored_at=NOON)
    assert count == 1
    assert kept is not None
    assert "damaged" in kept.name
    assert damage == "review" or kept.read_bytes() == damaged
    with Store.open(path) as new:
        assert everything(new) == before


def test_a_store_of_a_newer_formcheck_is_no_damaged_one(
    store: Store, path: Path, review: Review, tmp_path: Path
) -> None:
    fill(store, review)
    back_up(store, tmp_path / "made.backup")
    store.close()
    with closing(sqlite3.connect(path)) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = '0999'")
    with pytest.raises(StoreError, match="newer formcheck"):
        restore(path, tmp_path / "made.backup", restored_at=NOON)
    assert not [item.name for item in tmp_path.rglob("*") if "damaged" in item.name]
