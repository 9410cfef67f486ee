"""An open database and its transactions: what every part of the store stands on."""

import hashlib
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Self

from sqlalchemy import Connection, Engine
from sqlalchemy.engine import URL

from formcheck.core.errors import FILE, StoreError
from formcheck.storage.data_folder import default_store
from formcheck.storage.engine import can_only_be_read, database_file, make_engine, shown, store_url, transaction
from formcheck.storage.file_identity import check_expected, check_same, identity_of, remember
from formcheck.storage.schema_upgrade import check_as_it_is, prepare

ASKED_AT_ONCE = 500
"""Values in one question: databases bound how many it may hold."""


class OpenStore:
    """An open store; close it, or use it in a ``with`` statement. May be used from several threads."""

    def __init__(self, engine: Engine, url: URL, *, read_only: bool = False) -> None:
        self._engine = engine
        self._url = url
        self._read_only = read_only
        self._file = database_file(url)
        self._identity = None if self._file is None else identity_of(self._file)

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
            (check_as_it_is if read_only else prepare)(engine, url)
            if file is not None:
                remember(file)
        except BaseException:
            engine.dispose()
            raise
        return cls(engine, url, read_only=read_only)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    @property
    def place(self) -> str:
        """Where the store is, fit to be shown."""
        return shown(self._url)

    @property
    def is_file(self) -> bool:
        """Whether the store is an SQLite file of its own that can be written."""
        return self._file is not None and not self._read_only

    @property
    def writable(self) -> bool:
        """Whether the store can be written."""
        return not self._read_only

    @property
    def engine(self) -> Engine:
        """The database's engine, for what works on the store as a whole."""
        return self._engine

    @property
    def url(self) -> URL:
        """The database's URL, which may hold a password; `place` is what may be shown."""
        return self._url

    def _reading(self) -> AbstractContextManager[Connection]:
        self._check_same()
        return transaction(self._engine, self._url, "read")

    def _writing(self) -> AbstractContextManager[Connection]:
        self._check_same()
        self.check_writable()
        return transaction(self._engine, self._url, "written", write=True)

    def check_writable(self) -> None:
        """Raise StoreError when the store can only be read."""
        if self._read_only:
            raise StoreError(f"The store {FILE} cannot be written: it is read-only.", name=self.place)

    def _check_same(self) -> None:
        """Raise StoreError when the file was deleted or replaced since the store was opened."""
        if self._file is not None:
            check_same(self._file, self._identity)

    def _no_review(self, review_id: int) -> StoreError:
        return StoreError(f"There is no review {review_id} in the store {FILE}.", name=self.place)


def digest(body: str) -> str:
    """SHA-256 of a stored text, by which damage is noticed."""
    return hashlib.sha256(body.encode()).hexdigest()


def plain(value: str | None) -> str | None:
    """Text without what UTF-8 cannot carry, such as undecodable bytes of a file name, and without NUL.

    PostgreSQL refuses NUL in any text.
    """
    return None if value is None else value.encode("utf-8", "replace").decode("utf-8").replace("\0", "?")
