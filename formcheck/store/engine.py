"""The database behind the store: connections, transactions, and plain sentences for what goes wrong."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from formcheck.errors import StoreError

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


def make_engine(url: URL) -> Engine:
    """An engine for the URL; SQLite gets durable commits, foreign keys and real transactions."""
    sqlite = url.get_backend_name() == "sqlite"
    try:
        engine = create_engine(url, connect_args={"timeout": BUSY_TIMEOUT_S} if sqlite else {})
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


def _on_connect(connection: Any, _record: object) -> None:
    # The driver's own transactions leave schema changes outside; _on_begin opens them instead.
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys=ON")
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
        yield connection


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
        raise StoreError(f"The store {shown(url)} cannot be {doing}: {reason}.") from error
