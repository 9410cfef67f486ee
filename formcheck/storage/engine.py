"""The database behind the store: connections, transactions, and plain sentences for what goes wrong."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from formcheck.core.errors import FILE, StoreError

BUSY_TIMEOUT_S = 30
"""How long one writer waits for another."""

_REASONS = (
    ("disk is full", "the disk is full"),
    ("disk i/o error", "the disk is full or failing"),
    ("readonly", "it is read-only"),
    ("read-only", "it is read-only"),
    ("locked", "another program keeps it busy"),
    ("not a database", "it is damaged or not a formcheck store"),
    ("malformed", "it is damaged"),
    ("unable to open", "the file cannot be opened"),
    ("no such table", "it is damaged: a table is missing"),
    ("no such column", "it is damaged: a column is missing"),
)


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


def shown(url: URL) -> str:
    """The store's place as it may be shown: a file's path, or a URL without its password."""
    return str(url.database) if url.get_backend_name() == "sqlite" else url.render_as_string(hide_password=True)


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
    connection.execute("PRAGMA foreign_keys=ON")
    # No function that can do harm is run because the file's own schema names it.
    connection.execute("PRAGMA trusted_schema=OFF")
    connection.execute("PRAGMA synchronous=FULL")
    # What is deleted is overwritten, not only let go of: it may be somebody's body.
    connection.execute("PRAGMA secure_delete=ON")


def _on_begin(connection: Connection) -> None:
    # A writer takes its lock at once: taking it later, after reading, fails when another was faster.
    write = connection.get_execution_options().get("formcheck_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def settle(engine: Engine) -> None:
    """After a deletion: leave no old pages in the write-ahead log. Best effort while others read."""
    if engine.dialect.name == "sqlite":
        with suppress(SQLAlchemyError, sqlite3.Error), engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()


@contextmanager
def transaction(engine: Engine, url: URL, doing: str, *, write: bool = False) -> Iterator[Connection]:
    """One transaction, committed at the end; every database error becomes a StoreError.

    Parameters
    ----------
    doing : a participle for the sentence, such as ``read``.
    write : whether the transaction will change anything.
    """
    with (
        plain_errors(url, doing),
        engine.connect().execution_options(formcheck_write=write) as connection,
        connection.begin(),
    ):
        if write:
            refuse_foreign_code(connection, url)
        yield connection


def refuse_foreign_code(connection: Connection, url: URL) -> None:
    """Raise StoreError when an SQLite store holds a trigger or view: it would run on what is about to be written."""
    if connection.dialect.name != "sqlite":
        return
    found = connection.exec_driver_sql("SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') LIMIT 1")
    if (row := found.first()) is not None:
        name = "".join(c if c.isprintable() else "?" for c in str(row[1]))[:60]
        raise StoreError(
            f"The store {FILE} holds the {row[0]} {name}, which formcheck never makes and which could change or "
            "delete what is kept: nothing is written; put a sound backup in its place (formcheck restore).",
            name=shown(url),
        )


@contextmanager
def plain_errors(url: URL, doing: str) -> Iterator[None]:
    """Turn what databases and file systems raise into one StoreError sentence."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError, OverflowError) as error:
        cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
        text = " ".join(str(cause).split()).rstrip(".?!")
        reason = next((plain for part, plain in _REASONS if part in text.lower()), text[:200])
        if isinstance(error, OSError) and error.strerror:
            reason = error.strerror
        raise StoreError(f"The store {FILE} cannot be {doing}: {reason}.", name=shown(url)) from error
