"""Brings a store's schema up to date when it is opened."""

import os
import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.engine import URL

from formcheck.core.errors import FILE, StoreError
from formcheck.core.private_files import make_private, make_private_folder
from formcheck.storage.engine import BUSY_TIMEOUT_S, database_file, refuse_foreign_code, set_pragma, transaction
from formcheck.storage.store_errors import database_errors, format_url, store_error
from formcheck.storage.tables import SCHEMA_REVISION

if TYPE_CHECKING:
    from alembic.config import Config

MIGRATIONS = Path(__file__).parent / "migrations"
_LOCK_KEY = 4_607_182_418  # any number that no other program takes for its advisory lock


def upgrade_schema(engine: Engine) -> None:
    """Make the tables of a new store, or migrate an older one, in one transaction.

    Several programs may do this at once: the first does the work, the others wait and find it done.
    Raises StoreError when the store is newer than this program, damaged, or not a formcheck store.
    """
    if engine.dialect.name == "sqlite":
        _prepare_file(engine.url)
        with database_errors(engine.url, "opened"):
            _use_write_ahead_log(engine)
        _make_files_private(engine.url)
    with transaction(engine, "opened") as connection:
        if _read_revision(connection) == SCHEMA_REVISION:
            return
    with database_errors(engine.url, "brought up to date"), engine.connect() as plain:
        _migrate(plain.execution_options(formcheck_write=True))


def check_schema_revision(engine: Engine) -> None:
    """For a store that can only be read: raise StoreError when it is not of this program's schema."""
    with transaction(engine, "opened") as connection:
        revision = _read_revision(connection)
    if revision == SCHEMA_REVISION:
        return
    if revision is None or revision in migrations_known():
        raise store_error(
            engine.url,
            "was made by an earlier formcheck and lies where nothing can be written, so it cannot be brought up to "
            "date: open it once where it can be.",
        )
    raise _newer(engine.url, revision)


def _make_files_private(url: URL) -> None:
    """Leave a store's file, and what SQLite keeps beside it, to the user alone."""
    if (path := database_file(url)) is not None:
        for ending in ("", "-wal", "-shm", "-journal"):
            make_private(Path(f"{path}{ending}"))


def migrations_known() -> list[str]:
    """The revisions this program has migrations for, the oldest first."""
    from alembic.script import ScriptDirectory

    return [script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()][::-1]


def migrate_to(connection: Connection, revision: str) -> None:
    """Run the migrations up to one on a connection."""
    from alembic import command

    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, revision)


def _prepare_file(url: URL) -> None:
    """Make the folder and the empty file, since SQLite would give them to whoever the umask lets in."""
    path = database_file(url)
    if path is None:
        return
    with database_errors(url, "made"):
        if not path.parent.is_dir():
            make_private_folder(path.parent)
        try:
            os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        except FileExistsError:
            _make_files_private(url)


def _use_write_ahead_log(engine: Engine) -> None:
    """Readers and a writer do not block each other, and a commit is one write; the file remembers the mode."""
    with closing(engine.raw_connection()) as raw:
        cursor = raw.cursor()
        deadline = time.monotonic() + BUSY_TIMEOUT_S
        while cursor.execute("PRAGMA journal_mode").fetchone()[0] == "delete":
            # The change needs the file alone and does not wait for it by itself.
            try:
                cursor.execute("PRAGMA journal_mode=WAL").fetchone()
            except sqlite3.OperationalError as error:
                held = error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
                if not held or time.monotonic() > deadline:
                    raise
                time.sleep(0.02)


def _read_revision(connection: Connection) -> str | None:
    """The store's schema revision; None for an empty database."""
    tables, url = set(inspect(connection).get_table_names()), connection.engine.url
    if "alembic_version" in tables:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if found is not None and not tables >= {"reviews", "documents"}:
            if found not in migrations_known():
                raise _newer(url, found)
            raise store_error(url, "cannot be opened: it is damaged: a table is missing.")
        return found
    if tables:
        raise StoreError(f"{FILE} is a database of another program, not a formcheck store.", name=format_url(url))
    return None


def _newer(url: URL, revision: str) -> StoreError:
    return store_error(
        url,
        f"was written by a newer formcheck (schema {str(revision)[:20]}, this one knows {SCHEMA_REVISION}): install "
        "the newer formcheck.",
    )


def _config() -> "Config":
    # Read only when there is something to do: it takes longer than opening the store.
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    return config


def _migrate(connection: Connection) -> None:
    sqlite, url = connection.dialect.name == "sqlite", connection.engine.url
    if sqlite:
        # Rebuilding a table would else delete what refers to it; the check below makes up for it.
        set_pragma(connection, "foreign_keys=OFF")
    with connection.begin():
        if not sqlite:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK_KEY})
        revision = _read_revision(connection)
        if revision is not None and revision not in migrations_known():
            raise _newer(url, revision)
        refuse_foreign_code(connection)
        migrate_to(connection, "head")
        if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
            raise store_error(url, "cannot be brought up to date: it is damaged.")
    if sqlite:
        set_pragma(connection, "foreign_keys=ON")
