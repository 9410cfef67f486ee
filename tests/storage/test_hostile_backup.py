"""A store that was made to do harm is refused before anything of it is run, and found in a store that is in use.

The dangers are those SQLite's own page on the matter lists (sqlite.org/security.html, "Untrusted SQLite Database
Files"): triggers, views, expressions in checks, defaults and indexes, virtual tables, and schemas written by hand.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner

from formcheck.cli import cli
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.storage import Store
from formcheck.storage.backup import back_up, restore
from tests.storage.conftest import DATA, NOON

TRIGGER = "CREATE TRIGGER tidy AFTER INSERT ON reviews BEGIN DELETE FROM reviews; DELETE FROM documents; END"
BY_HAND = "PRAGMA writable_schema=ON; UPDATE sqlite_master SET {} ; PRAGMA writable_schema=OFF"
HARM = {
    "trigger": TRIGGER,
    "trigger on reading": "CREATE TRIGGER tidy INSTEAD OF INSERT ON sight BEGIN DELETE FROM reviews; END",
    "view": "CREATE VIEW sight AS SELECT * FROM reviews",
    "view in a table's place": "DROP TABLE set_notes; CREATE VIEW set_notes AS SELECT 1 AS review_id",
    "another table": "CREATE TABLE birds (name TEXT)",
    "a virtual table": "CREATE VIRTUAL TABLE words USING fts5(body)",
    "another column": "ALTER TABLE reviews ADD COLUMN extra TEXT",
    "a generated column": "ALTER TABLE reviews ADD COLUMN extra TEXT GENERATED ALWAYS AS (hex(clip_name)) VIRTUAL",
    "a column renamed": "ALTER TABLE plans RENAME COLUMN remark TO remarks",
    "another index": "CREATE INDEX extra ON reviews (lower(clip_name))",
    "an index missing": "DROP INDEX reviews_by_path",
    "a unique index lost": "DROP INDEX clients_by_name; CREATE INDEX clients_by_name ON clients (name_key)",
    "a table missing": "DROP TABLE limits",
    "a check by hand": BY_HAND.format(
        "sql = replace(sql, 'remark TEXT, ', 'remark TEXT CHECK (load_extension(remark)), ') WHERE name = 'plans'"
    ),
    "a default by hand": BY_HAND.format(
        "sql = replace(sql, 'notation TEXT', 'notation TEXT DEFAULT (hex(1))') WHERE name = 'plans'"
    ),
    "a table without its rows' guard": BY_HAND.format(
        "sql = replace(sql, ' ON DELETE CASCADE', '') WHERE name = 'documents'"
    ),
    "two tables on one page": BY_HAND.format(
        "rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'plans') WHERE name = 'limits'"
    ),
    "a name given twice": "PRAGMA writable_schema=ON; INSERT INTO sqlite_master SELECT * FROM sqlite_master WHERE "
    "name = 'plans'; PRAGMA writable_schema=OFF",
    "a version given twice": "INSERT INTO alembic_version VALUES ('0001')",
}


def harm(path: Path, statement: str) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA trusted_schema=ON")
        if statement.startswith("CREATE TRIGGER tidy INSTEAD"):
            raw.execute(HARM["view"])
        raw.executescript(statement)
        raw.commit()


@pytest.mark.parametrize("kind", HARM)
def test_a_hostile_backup_is_refused_and_the_store_stays(
    store: Store, path: Path, review: Review, tmp_path: Path, kind: str
) -> None:
    store.save_review(review, created_at=NOON, client="Ada")
    backup = tmp_path / "b.sqlite"
    back_up(store, backup)
    harm(backup, HARM[kind])
    before = path.read_bytes()
    with pytest.raises(StoreError) as caught:
        restore(path, backup, restored_at=NOON)
    assert "\n" not in str(caught.value)
    assert path.read_bytes() == before
    assert store.check() == 1
    store.save_review(review, created_at=NOON)
    assert store.count_reviews() == 2
    assert not [item for item in tmp_path.iterdir() if "before-restore" in item.name]


@pytest.mark.parametrize("old", ["store_0001.sql", "store_0002.sql"])
def test_a_hostile_backup_of_an_earlier_formcheck_is_refused_too(path: Path, tmp_path: Path, old: str) -> None:
    backup = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(backup)) as raw:
        raw.executescript((DATA / old).read_text(encoding="utf-8"))
        raw.execute("CREATE TRIGGER tidy AFTER UPDATE ON reviews BEGIN DELETE FROM documents; END")
        raw.commit()
    with pytest.raises(StoreError, match="tidy"):
        restore(path, backup, restored_at=NOON)
    assert not path.exists()


@pytest.mark.parametrize("kind", [kind for kind in HARM if kind != "a name given twice"])
def test_the_check_finds_it_in_a_store_in_use(path: Path, review: Review, kind: str) -> None:
    with Store.open(path) as store:
        store.save_review(review, created_at=NOON)
    harm(path, HARM[kind])
    done = CliRunner().invoke(cli, ["history", "--check", "--store", str(path)], prog_name="formcheck")
    assert done.exit_code == 1
    assert len(done.stderr.strip().splitlines()) == 1
    assert "undamaged" not in done.stdout


def test_a_store_with_a_trigger_is_read_and_never_written(path: Path, review: Review) -> None:
    with Store.open(path) as store:
        number = store.save_review(review, created_at=NOON)
        harm(path, TRIGGER)
        with pytest.raises(StoreError, match="trigger tidy"):
            store.save_review(review, created_at=NOON)
        assert store.load_review(number) == review
    with Store.open(path) as store, pytest.raises(StoreError, match="trigger tidy"):
        store.delete_review(number)
    with Store.open(path) as store:
        assert store.load_review(number) == review
        assert store.count_reviews() == 1
