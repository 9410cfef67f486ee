"""An open database and its transactions: what every part of the store stands on."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any, Self, TypeVar

from sqlalchemy import Connection, Engine, Table, insert

from formcheck.core.errors import FILE, ReviewFormatError, StoreError, UsageError
from formcheck.storage.data_folder import default_store
from formcheck.storage.engine import can_only_be_read, database_file, make_engine, store_url, transaction
from formcheck.storage.file_identity import check_expected, check_same, identity_of, note_opened
from formcheck.storage.schema_upgrade import check_schema_revision, upgrade_schema
from formcheck.storage.store_errors import format_url, store_error

_T = TypeVar("_T")
BATCH_SIZE = 500
"""Values in one question: databases bound how many it may hold."""


class OpenStore:
    """An open store; close it, or use it in a ``with`` statement. May be used from several threads.

    Attributes
    ----------
    engine : the database's engine, for what works on the store as a whole.
    location : where the store is, fit to be shown.
    writable : whether the store can be written.
    is_file : whether the store is an SQLite file of its own that can be written.
    """

    def __init__(self, engine: Engine, *, read_only: bool = False) -> None:
        self.engine, self.location, self.writable = engine, format_url(engine.url), not read_only
        self._file = database_file(engine.url)
        self._identity = None if self._file is None else identity_of(self._file)
        self.is_file = self._file is not None and self.writable

    @classmethod
    def open(cls, where: str | Path | None = None) -> Self:
        """Open a store, making it when it is new and migrating it when it is older.

        One that lies where nothing can be written is opened for reading.

        Parameters
        ----------
        where : a file path, or a database URL such as ``postgresql+psycopg://user@host/name``; without it, this user's
            own store (`formcheck.storage.data_folder.default_store`).

        Raises StoreError when it cannot be opened, is damaged, was written by a newer formcheck, or is not the file it
        was (`formcheck.storage.file_identity`).
        """
        url = store_url(where or default_store())
        file = database_file(url)
        if file is not None:
            check_expected(file)
        read_only = can_only_be_read(url)
        engine = make_engine(url, read_only=read_only)
        try:
            (check_schema_revision if read_only else upgrade_schema)(engine)
            if file is not None:
                note_opened(file)
        except BaseException:
            engine.dispose()
            raise
        return cls(engine, read_only=read_only)

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def check_writable(self) -> None:
        """Raise StoreError when the store can only be read."""
        if not self.writable:
            raise self._error("cannot be written: it is read-only.")

    def _reading(self) -> AbstractContextManager[Connection]:
        self._check_same()
        return transaction(self.engine, "read")

    def _writing(self) -> AbstractContextManager[Connection]:
        self._check_same()
        self.check_writable()
        return transaction(self.engine, "written", write=True)

    def _check_same(self) -> None:
        """Raise StoreError when the file was deleted or replaced since the store was opened."""
        if self._file is not None:
            check_same(self._file, self._identity)

    def _error(self, problem: str) -> StoreError:
        return store_error(self.engine.url, problem)

    def _no_review(self, review_id: int) -> StoreError:
        return StoreError(f"There is no review {review_id} in the store {FILE}.", name=self.location)


def in_batches(values: Sequence[_T], size: int = BATCH_SIZE) -> Iterator[Sequence[_T]]:
    """The values in their order, at most so many at once."""
    return (values[begin : begin + size] for begin in range(0, len(values), size))


def insert_row(connection: Connection, table: Table, **values: Any) -> int:
    """Insert a row, its texts made storable, and give its number."""
    key = connection.execute(insert(table).values(storable(values))).inserted_primary_key
    assert key is not None
    return int(key[0])


@contextmanager
def decoding_errors(what: str) -> Iterator[None]:
    """Turn what a damaged stored text raises into a StoreError that begins with what is damaged."""
    try:
        yield
    except (ReviewFormatError, UsageError) as error:
        raise StoreError(f"{what}: {error}") from error


def compute_digest(body: str) -> str:
    """SHA-256 of a stored text, by which damage is noticed."""
    return hashlib.sha256(body.encode()).hexdigest()


def storable_text(value: str | None) -> str | None:
    """Text without what UTF-8 cannot carry, such as undecodable bytes of a file name, and without NUL.

    PostgreSQL refuses NUL in any text.
    """
    return None if value is None else value.encode("utf-8", "replace").decode("utf-8").replace("\0", "?")


def storable(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values by column, with `storable_text` for every text."""
    return {name: storable_text(value) if isinstance(value, str) else value for name, value in values.items()}
