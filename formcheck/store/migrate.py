"""Brings a store's schema up to date when it is opened."""

import sqlite3
import time
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.engine import URL

from formcheck.errors import StoreError
from formcheck.store.engine import BUSY_TIMEOUT_S, plain_errors, shown, transaction
from formcheck.store.tables import SCHEMA_REVISION

MIGRATIONS = Path(__file__).parent / "migrations"
_LOCK_KEY = 4_607_182_418  # any number that no other program takes for its advisory lock


def prepare(engine: Engine, url: URL) -> None:
    """Make the tables of a new store, or migrate an older one, in one transaction.

    Several programs may do this at once: the first does the work, the others wait and find it done.
    Raises StoreError when the store is newer than this program, damaged, or not a formcheck store.
    """
    if url.get_backend_name() == "sqlite":
        _prepare_file(url)
        with plain_errors(url, "opened"):
            _keep_write_ahead_log(engine)
    with transaction(engine, url, "opened") as connection:
        if _revision(connection, url) == SCHEMA_REVISION:
            return
    with plain_errors(url, "brought up to date"), engine.connect() as plain:
        _upgrade(plain.execution_options(formcheck_write=True), url)


def _prepare_file(url: URL) -> None:
    if url.database in (None, "", ":memory:") or "uri" in url.query:
        return
    with plain_errors(url, "made"):
        Path(str(url.database)).parent.mkdir(parents=True, exist_ok=True)


def _keep_write_ahead_log(engine: Engine) -> None:
    """Readers and a writer do not block each other, and a commit is one write; the file remembers the mode."""
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        deadline = time.monotonic() + BUSY_TIMEOUT_S
        while cursor.execute("PRAGMA journal_mode").fetchone()[0] == "delete":
            # The change needs the file alone and does not wait for it by itself.
            try:
                cursor.execute("PRAGMA journal_mode=WAL").fetchone()
            except sqlite3.OperationalError as error:
                if "locked" not in str(error) or time.monotonic() > deadline:
                    raise
                time.sleep(0.02)
    finally:
        raw.close()


def _revision(connection: Connection, url: URL) -> str | None:
    """The store's schema revision; None for an empty database."""
    tables = set(inspect(connection).get_table_names())
    if "alembic_version" in tables:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if found is not None and not tables >= {"reviews", "documents"}:
            raise StoreError(f"The store {shown(url)} cannot be opened: it is damaged: a table is missing.")
        return found
    if tables:
        raise StoreError(f"{shown(url)} is a database of another program, not a formcheck store.")
    return None


def _upgrade(connection: Connection, url: URL) -> None:
    # Read the migrations only when there is something to do: it takes longer than opening the store.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    sqlite = url.get_backend_name() == "sqlite"
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    if sqlite:
        # Rebuilding a table would else delete what refers to it; the check below makes up for it.
        _pragma(connection, "foreign_keys=OFF")
    with connection.begin():
        if not sqlite:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK_KEY})
        revision = _revision(connection, url)
        known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
        if revision is not None and revision not in known:
            raise StoreError(
                f"The store {shown(url)} was written by a newer formcheck (schema {str(revision)[:20]}, this one knows "
                f"{SCHEMA_REVISION}): install the newer formcheck."
            )
        command.upgrade(config, "head")
        if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
            raise StoreError(f"The store {shown(url)} cannot be brought up to date: it is damaged.")
    if sqlite:
        _pragma(connection, "foreign_keys=ON")


def _pragma(connection: Connection, setting: str) -> None:
    raw = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)
    raw.execute(f"PRAGMA {setting}")
