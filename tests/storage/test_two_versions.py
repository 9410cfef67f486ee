"""Two versions of the program on one store: the older one leaves a newer store as it is, and says so."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from formcheck.cli import cli
from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.storage import Store
from tests.storage.conftest import one_sentence

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
NEWER = "UPDATE alembic_version SET version_num = '0999';"


def edit(path: Path, script: str) -> None:
    """What a newer program's migration does, in one transaction."""
    with closing(sqlite3.connect(path)) as raw:
        raw.executescript(f"BEGIN IMMEDIATE; {script} COMMIT;")


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as raw:
        return list(raw.iterdump())


@pytest.mark.parametrize("command", [["history"], ["history", "1"], ["history", "--check"], ["client", "list"]])
def test_a_newer_store_is_refused_in_one_sentence_and_left_as_it_is(
    store: Store, path: Path, review: Review, command: list[str]
) -> None:
    store.save_review(review, created_at=NOON)
    store.close()
    edit(path, f"CREATE TABLE marks (id INTEGER PRIMARY KEY); INSERT INTO marks VALUES (7); {NEWER}")
    before = dump(path)
    done = CliRunner().invoke(cli, [*command, "--store", str(path)])
    assert done.exit_code == 1, done.output
    assert "newer" in done.output
    assert len(done.output.strip().splitlines()) == 1
    assert dump(path) == before


@pytest.mark.parametrize(
    ("migration", "fits"),
    [
        ("ALTER TABLE reviews ADD COLUMN mood TEXT;", True),
        ("ALTER TABLE documents RENAME TO papers;", False),
        ("ALTER TABLE reviews RENAME COLUMN clip_name TO film_name;", False),
    ],
)
def test_an_older_program_still_open_while_a_newer_one_migrates_loses_nothing(
    store: Store, path: Path, review: Review, migration: str, fits: bool
) -> None:
    """It writes what still fits, whole, or refuses in one sentence; what was there stays as it was."""
    store.save_review(review, created_at=NOON)
    edit(path, f"{migration} {NEWER}")
    rows = {name: count(path, name) for name in tables(path)}
    if fits:
        store.save_review(review, created_at=NOON)
    else:
        with pytest.raises(StoreError) as caught:
            store.save_review(review, created_at=NOON)
        one_sentence(caught.value)
    store.close()
    after = {name: count(path, name) for name in tables(path)}
    for name, before in rows.items():
        assert after[name] == before + (fits and name in ("reviews", "documents")), name
    with pytest.raises(StoreError, match="newer"):
        Store.open(path)


def tables(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as raw:
        return [name for (name,) in raw.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]


def count(path: Path, table: str) -> int:
    with closing(sqlite3.connect(path)) as raw:
        return int(raw.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
