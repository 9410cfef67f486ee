"""Backup and restore of a whole store. A backup is itself a store: one SQLite file, whatever the database is."""

import errno
import secrets
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, delete, func, insert, select

from formcheck.core.atomic_write import atomic_write
from formcheck.core.errors import StoreError
from formcheck.storage import Store
from formcheck.storage.engine import BUSY_TIMEOUT_S, database_file, store_url, transaction
from formcheck.storage.schema_check import file_schema_problem, open_quarantined
from formcheck.storage.store_errors import database_errors
from formcheck.storage.tables import jobs, metadata

_ROWS_AT_ONCE = 200


def back_up(store: Store, target: Path) -> int:
    """Write everything in an open store to one file and return the number of reviews in it.

    Others may write meanwhile: the backup holds what was there at one moment. It appears whole and checked, or not at
    all; an existing file is only replaced when it is an earlier backup. Raises StoreError.
    """
    target = Path(target).expanduser().absolute()
    if store.is_file and Path(store.location).exists() and target.exists() and target.samefile(store.location):
        raise StoreError(f"The backup cannot be written over the store {store.location} itself; choose another file.")
    if target.exists() and not _is_store(target):
        raise StoreError(f"{target} is there already and is not a backup; choose another file.")
    with _part_beside(target) as part:
        if store.is_file:
            with closing(sqlite3.connect(store.location, timeout=BUSY_TIMEOUT_S)) as source:
                _copy_file(source, part)
            with closing(sqlite3.connect(part)) as copied, copied:
                copied.execute("PRAGMA secure_delete=ON")
                copied.execute("DELETE FROM jobs")
        else:
            with Store.open(part) as copy:
                _copy_rows(store, copy)
        count = _check_copy(part, f"The backup {target}")
        with closing(sqlite3.connect(part)) as alone:  # one file that needs no other beside it
            alone.execute("PRAGMA journal_mode=DELETE")
    return count


def restore(where: str | Path, backup: Path, *, restored_at: datetime) -> tuple[int, Path | None]:
    """Put a backup in the place of a store; gives the number of reviews, and the backup of what the store held.

    The backup is read whole first: a damaged one is refused and the store stays as it is. What the store held is
    written to a backup beside it before (for a database server: in the folder of the backup). A damaged store is moved
    aside as it is. A backup of an earlier formcheck is brought up to date on the way. Raises StoreError.
    """
    backup = Path(backup).expanduser().absolute()
    if not backup.is_file():
        raise StoreError(f"There is no backup {backup}.")
    with _make_temporary_folder() as folder:  # read without trust: it may have been made to do harm
        copy = Path(folder, "backup.sqlite")
        with database_errors(store_url(backup), "read"):
            with closing(open_quarantined(backup)) as source:
                _copy_file(source, copy)
            if not _is_store(copy):
                raise StoreError(f"{backup} is not a backup of a formcheck store.")
            problem = file_schema_problem(copy)
        if problem is not None:
            raise StoreError(f"The backup {backup} is refused, and nothing was changed: {problem}.")
        count = _check_copy(copy, f"The backup {backup}")
        aside = _put_damaged_aside(where, restored_at)
        with Store.open(where) as store, Store.open(copy) as new:
            earlier = aside or _back_up_present(store, backup, restored_at)
            # What comes back was wanted back: a deletion that waited when the backup was made is forgotten.
            new.mark_reviews([row.id for row in new.list_reviews(marked="deletion_at")], deletion_at=None)
            if store.is_file:
                _carry_jobs(store, new)
                with database_errors(store_url(where), "written"), closing(sqlite3.connect(copy)) as source:
                    _copy_file(source, Path(store.location))
            else:
                _copy_rows(new, store)
        with Store.open(where) as store:
            store.check()
    return count, earlier


# ---------------------------------------------------------------- inside


def _make_temporary_folder() -> tempfile.TemporaryDirectory[str]:
    """A folder for the time being (StoreError where there is none to be had)."""
    try:
        return tempfile.TemporaryDirectory(prefix="formcheck-", ignore_cleanup_errors=True)
    except OSError as error:
        reason = "there is no place for temporary files" if error.errno == errno.ENOENT else error.strerror
        raise StoreError(f"The backup cannot be unpacked: {reason}.") from error


def _put_damaged_aside(where: str | Path, at: datetime) -> Path | None:
    """Give a damaged store's file, with what SQLite keeps beside it, another name; None where it is whole."""
    path = database_file(store_url(where))
    if path is None or not path.is_file() or not _is_damaged(path):
        return None
    target = _name_earlier(path, "damaged", at)
    with database_errors(store_url(path), "moved aside"):
        for ending in ("-wal", "-shm", "-journal"):
            with suppress(FileNotFoundError):
                Path(f"{path}{ending}").rename(f"{target}{ending}")
        path.rename(target)
    return target


def _is_damaged(path: Path) -> bool:
    """Whether SQLite calls the file damaged, or a review in it is."""
    try:
        with closing(open_quarantined(path)) as raw:
            whole = raw.execute("PRAGMA quick_check").fetchone() == ("ok",)
    except sqlite3.Error as error:
        return error.sqlite_errorname.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))
    if not whole:
        return True
    with Store.open(path) as store:  # of a newer formcheck, or busy: that says so
        try:
            store.check()
        except StoreError:
            return True
    return False


def _name_earlier(path: Path, kind: str, at: datetime) -> Path:
    return path.with_name(f"{path.stem}.{kind}-{at:%Y%m%d-%H%M%S}-{secrets.token_hex(2)}{path.suffix}")


def _back_up_present(store: Store, backup: Path, at: datetime) -> Path | None:
    if not store.list_reviews(limit=1) and not store.list_clients():
        return None
    beside = Path(store.location) if store.is_file else backup.with_name("store.sqlite")
    target = _name_earlier(beside, "before-restore", at)
    back_up(store, target)
    return target


def _copy_file(source: sqlite3.Connection, target: Path) -> None:
    """SQLite's own online backup: one transaction for the target, taken at one moment of the source."""
    with closing(sqlite3.connect(target, timeout=BUSY_TIMEOUT_S)) as sink:
        source.backup(sink, pages=-1)


def _carry_jobs(store: Store, new: Store) -> None:
    """Let what waits or is worked on outlive a restore; jobs of reviews go with these."""
    with transaction(store.engine, "read") as reading:
        unsaved = jobs.c.review_id.is_(None) & jobs.c.of_review_id.is_(None)
        rows = [dict(row) for row in reading.execute(select(jobs).where(unsaved)).mappings()]
    with transaction(new.engine, "written", write=True) as writing:
        writing.execute(delete(jobs))
        if rows:
            writing.execute(insert(jobs), rows)


def _copy_rows(source: Store, target: Store) -> None:
    """Replace all rows of the target by those of the source, in one transaction on each side; but for the jobs."""
    # One moment for all tables; SQLite's transactions are that already.
    one_moment = {} if source.engine.dialect.name == "sqlite" else {"isolation_level": "REPEATABLE READ"}
    with (
        database_errors(target.engine.url, "written"),
        source.engine.connect().execution_options(**one_moment) as reading,
        reading.begin(),
        transaction(target.engine, "written", write=True) as writing,
    ):
        tables = [table for table in metadata.sorted_tables if table is not jobs]
        for table in reversed(tables):
            writing.execute(delete(table))
        for table in tables:
            rows = reading.execute(select(table).execution_options(yield_per=_ROWS_AT_ONCE)).mappings()
            for part in rows.partitions(_ROWS_AT_ONCE):
                writing.execute(insert(table), [dict(row) for row in part])
        _renumber(writing)


def _renumber(connection: Connection) -> None:
    """Let new rows be numbered after those copied; SQLite sees to that itself."""
    if connection.dialect.name != "postgresql":
        return
    for table in metadata.sorted_tables:
        if "id" in table.c and (highest := connection.execute(select(func.max(table.c.id))).scalar()) is not None:
            connection.execute(select(func.setval(func.pg_get_serial_sequence(table.name, "id"), highest)))


def _check_copy(path: Path, what: str) -> int:
    """The number of reviews in a copy that is whole (StoreError)."""
    try:
        with Store.open(path) as copy:
            return copy.check()
    except StoreError as error:
        raise StoreError(f"{what} is damaged; nothing was changed. ({error.with_name(path.name)})") from error


def _is_store(path: Path) -> bool:
    try:
        with closing(open_quarantined(path)) as raw:
            names = {row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    except sqlite3.Error:
        return False
    return names >= {"alembic_version", "reviews", "documents"}


@contextmanager
def _part_beside(target: Path) -> Iterator[Path]:
    """A part file for a store, with what SQLite puts beside it removed at the end (StoreError)."""
    with database_errors(store_url(target), "written"), atomic_write(target, durable=True) as part:
        try:
            yield part
        finally:
            for ending in ("-wal", "-shm", "-journal"):
                with suppress(OSError):
                    Path(f"{part}{ending}").unlink(missing_ok=True)
