"""The database behind the store: its URL, its connections and its transactions."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError

from formcheck.core.errors import StoreError
from formcheck.storage.store_errors import database_errors, printable_name, store_error

BUSY_TIMEOUT_S = 30
"""How long one writer waits for another."""


def store_url(where: str | Path) -> URL:
    """The database URL for a URL or a file path (StoreError when it is neither)."""
    if isinstance(where, Path) or "://" not in where:
        return URL.create("sqlite", database=str(Path(where).expanduser().absolute()))
    try:
        return make_url(where)
    except (ArgumentError, ValueError) as error:
        raise StoreError(
            "The store's URL cannot be read: it should look like sqlite:///folder/reviews.sqlite."
        ) from error


def database_file(url: URL) -> Path | None:
    """The file of an SQLite store; None for a server, a store in memory, and a URL with options of its own."""
    if url.get_backend_name() != "sqlite" or url.database in (None, "", ":memory:") or url.query:
        return None
    return Path(str(url.database))


def can_only_be_read(url: URL) -> bool:
    """Whether a store is there that this user cannot write, as on a read-only disk."""
    path = database_file(url)
    return path is not None and path.is_file() and not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK))


def make_engine(url: URL, *, read_only: bool = False) -> Engine:
    """An engine for the URL; SQLite gets durable commits, foreign keys and real transactions.

    With `read_only`, an SQLite file is read where it lies and nothing is made beside it.
    """
    sqlite = url.get_backend_name() == "sqlite"
    options: dict[str, Any] = {"connect_args": {"timeout": BUSY_TIMEOUT_S}} if sqlite else {}
    if read_only and (path := database_file(url)) is not None:
        options = {"creator": lambda: _connect_read_only(path)}
    try:
        engine = create_engine(url, **options)
    except NoSuchModuleError as error:
        raise StoreError(
            f"The store cannot be kept in {url.get_backend_name()!r}: use sqlite or postgresql."
        ) from error
    except ModuleNotFoundError as error:
        raise StoreError(f"The store's URL needs the Python package {error.name}, which is not installed.") from error
    if sqlite:
        event.listen(engine, "connect", _on_connect)
        event.listen(engine, "begin", _on_begin)
    return engine


def _connect_read_only(path: Path) -> sqlite3.Connection:
    # SQLite keeps an index of the write-ahead log beside the store, which cannot be made here. Where there is no log
    # nobody writes, and the file can be read as one that never changes.
    log = Path(f"{path}-wal")
    frozen = "" if log.is_file() and log.stat().st_size else "&immutable=1"
    uri = f"{path.absolute().as_uri()}?mode=ro{frozen}"
    return sqlite3.connect(uri, uri=True, timeout=BUSY_TIMEOUT_S, check_same_thread=False)


def _on_connect(connection: Any, _record: object) -> None:
    # The driver's own transactions leave schema changes outside; _on_begin opens them instead.
    connection.isolation_level = None
    # No function that can do harm is run because the file's own schema names it (trusted_schema). What is deleted is
    # overwritten, not only let go of (secure_delete): it may be somebody's body.
    for setting in ("foreign_keys=ON", "trusted_schema=OFF", "synchronous=FULL", "secure_delete=ON"):
        connection.execute(f"PRAGMA {setting}")


def _on_begin(connection: Connection) -> None:
    # A writer takes its lock at once: taking it later, after reading, fails when another was faster.
    write = connection.get_execution_options().get("formcheck_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def set_pragma(connection: Connection, setting: str) -> None:
    """Run a PRAGMA of SQLite outside any transaction."""
    raw = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)
    raw.execute(f"PRAGMA {setting}").fetchone()


def clear_log(engine: Engine) -> None:
    """After a deletion: leave no old pages in the write-ahead log. Best effort while others read."""
    if engine.dialect.name == "sqlite":
        with suppress(SQLAlchemyError, sqlite3.Error), engine.connect() as connection:
            set_pragma(connection, "wal_checkpoint(TRUNCATE)")


@contextmanager
def transaction(engine: Engine, doing: str, *, write: bool = False) -> Iterator[Connection]:
    """One transaction, committed at the end; every database error becomes a StoreError.

    Parameters
    ----------
    doing : a participle for the sentence, such as ``read``.
    write : whether the transaction will change anything.
    """
    with (
        database_errors(engine.url, doing),
        engine.connect().execution_options(formcheck_write=write) as connection,
        connection.begin(),
    ):
        if write:
            refuse_foreign_code(connection)
        yield connection


def refuse_foreign_code(connection: Connection) -> None:
    """Raise StoreError when an SQLite store holds a trigger or view: it would run on what is about to be written."""
    if connection.dialect.name != "sqlite":
        return
    found = connection.exec_driver_sql("SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') LIMIT 1")
    if (row := found.first()) is not None:
        raise store_error(
            connection.engine.url,
            f"holds the {row[0]} {printable_name(row[1])}, which formcheck never makes and which could change or "
            "delete what is kept: nothing is written; put a sound backup in its place (formcheck restore).",
        )
