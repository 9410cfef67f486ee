"""The errors of a store, in plain sentences."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.engine import URL
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from formcheck.core.errors import FILE, StoreError

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


def format_url(url: URL) -> str:
    """Where a store is, fit to be shown: a file's path, or a URL without its password."""
    return str(url.database) if url.get_backend_name() == "sqlite" else url.render_as_string(hide_password=True)


def store_error(url: URL, problem: str) -> StoreError:
    """An error that begins with the store's name, which can be replaced (`FormcheckError.renamed`)."""
    return StoreError(f"The store {FILE} {problem}", name=format_url(url))


def printable_name(name: object) -> str:
    """A name from a database that is not trusted, fit to be shown."""
    return "".join(c if c.isprintable() else "?" for c in str(name))[:60]


@contextmanager
def database_errors(url: URL, doing: str) -> Iterator[None]:
    """Turn what databases and file systems raise into one StoreError sentence."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError, OverflowError) as error:
        cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
        text = " ".join(str(cause).split()).rstrip(".?!")
        reason = next((plain for part, plain in _REASONS if part in text.lower()), text[:200])
        if isinstance(error, OSError) and error.strerror:
            reason = error.strerror
        raise store_error(url, f"cannot be {doing}: {reason}.") from error
