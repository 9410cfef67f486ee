"""Clients in the store: added, found by name, renamed, deleted."""

import unicodedata
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime

from sqlalchemy import Connection, delete, select, update
from sqlalchemy.exc import IntegrityError

from formcheck.core.errors import FILE, StoreError
from formcheck.storage.database import OpenStore, insert_row, storable_text
from formcheck.storage.engine import clear_log
from formcheck.storage.jobs import drop_jobs
from formcheck.storage.rows import Client
from formcheck.storage.tables import clients

LONGEST_NAME = 120
_COLUMNS = (clients.c.id, clients.c.name, clients.c.notes, clients.c.created_at)


class Clients(OpenStore):
    """The part of the store that knows the clients."""

    def add_client(self, name: str, *, created_at: datetime, notes: str | None = None) -> Client:
        """Add a client (StoreError when the name is taken, whatever its capitals and spaces, or is none)."""
        shown = clean_client_name(name)
        with self._writing() as connection:
            if _find(connection, shown) is not None:
                raise StoreError(f"There is a client {shown!r} already.")
            return self._client(connection, _add(connection, shown, created_at, notes or None))

    def list_clients(self) -> list[Client]:
        """All clients by name."""
        with self._reading() as connection:
            rows = connection.execute(select(*_COLUMNS).order_by(clients.c.name_key))
            return [Client(*row) for row in rows]

    def find_client(self, name: str) -> Client | None:
        """The client of this name, whatever its capitals and spaces; None when there is none."""
        with self._reading() as connection:
            return _find(connection, name)

    def get_client(self, who: str | int) -> Client:
        """The client of this name or id (StoreError when there is none, naming the known ones)."""
        with self._reading() as connection:
            return self._client(connection, who)

    def change_client(self, who: str | int, *, name: str | None = None, notes: str | None = None) -> Client:
        """Rename a client or replace the notes; an empty text clears the notes (StoreError)."""
        with self._writing() as connection:
            client = self._client(connection, who)
            values: dict[str, str | None] = {}
            if name is not None:
                shown = clean_client_name(name)
                other = _find(connection, shown)
                if other is not None and other.id != client.id:
                    raise StoreError(f"There is a client {other.name!r} already.")
                values = {"name": shown, "name_key": shown.casefold()}
            if notes is not None:
                values["notes"] = storable_text(notes) or None
            if values:
                connection.execute(update(clients).where(clients.c.id == client.id).values(values))
            return self._client(connection, client.id)

    def delete_client(self, who: str | int, *, jobs: Sequence[int] = ()) -> Client:
        """Delete a client with every review, note, plan and limit of theirs and these jobs, for good (StoreError)."""
        with self._writing() as connection:
            client = self._client(connection, who)
            drop_jobs(connection, jobs)
            connection.execute(delete(clients).where(clients.c.id == client.id))
        clear_log(self.engine)
        return client

    def _client(self, connection: Connection, who: str | int) -> Client:
        if isinstance(who, int):
            if (row := connection.execute(select(*_COLUMNS).where(clients.c.id == who)).one_or_none()) is None:
                raise StoreError(f"There is no client number {who} in the store {FILE}.", name=self.location)
            return Client(*row)
        if (found := _find(connection, who)) is None:
            known = connection.execute(select(clients.c.name).order_by(clients.c.name_key).limit(6)).scalars().all()
            raise StoreError(f"There is no client {' '.join(who.split())[:LONGEST_NAME]!r}{_known(known)}")
        return found


def clean_client_name(name: str) -> str:
    """The name as it is stored: spaces put in order (StoreError when it is none or too long)."""
    shown = _order_spaces(name)
    if not shown or not shown.isprintable():
        raise StoreError("A client's name has at least one letter and no control characters.")
    if len(shown) > LONGEST_NAME:
        raise StoreError(f"A client's name has at most {LONGEST_NAME} characters.")
    return shown


def client_id_for(connection: Connection, name: str | None, created_at: datetime) -> int | None:
    """The id of the client of this name, who is added when new; None for no name."""
    if name is None or not name.strip():
        return None
    shown = clean_client_name(name)
    if (found := _find(connection, shown)) is None:
        with suppress(IntegrityError), connection.begin_nested():  # another program may be faster
            return _add(connection, shown, created_at)
        found = _find(connection, shown)
        assert found is not None
    return found.id


def make_name_key(name: str) -> str:
    """A client's name as it is compared: without regard to case and spacing."""
    return _order_spaces(name).casefold()


def _order_spaces(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", storable_text(name) or "").split())


def _add(connection: Connection, name: str, created_at: datetime, notes: str | None = None) -> int:
    return insert_row(connection, clients, name=name, name_key=name.casefold(), created_at=created_at, notes=notes)


def _find(connection: Connection, name: str) -> Client | None:
    row = connection.execute(select(*_COLUMNS).where(clients.c.name_key == make_name_key(name))).one_or_none()
    return None if row is None else Client(*row)


def _known(names: Sequence[str]) -> str:
    if not names:
        return "; none are stored yet."
    return f"; known are {', '.join(names[:5])}{' and others' if len(names) > 5 else ''}."
