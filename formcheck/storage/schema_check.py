"""Whether an SQLite file holds formcheck's tables and indexes and nothing else.

A trigger or a view is code that runs on the next write or read, and a changed table can carry some too: what did not
come from formcheck's own migrations is never taken for a store. The statements of a file's schema are compared with
those the migrations write, whatever their spacing and capitals. Alembic's comparison of tables sees neither checks nor
triggers nor views, and knows the newest schema only.
"""

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import NullPool, create_engine

from formcheck.storage.engine import BUSY_TIMEOUT_S
from formcheck.storage.schema_upgrade import migrate_to, migrations_known
from formcheck.storage.store_errors import printable_name

Query = Callable[[str], Any]
"""Runs a statement and gives an iterable of rows."""
Schema = Mapping[tuple[str, str, str], str]
"""Kind, name and table of each part → its statement."""


def open_quarantined(path: Path) -> sqlite3.Connection:
    """Open a file that may have been made to do harm: read-only, running nothing that its schema names."""
    raw = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_TIMEOUT_S)
    for setting in ("trusted_schema=OFF", "query_only=ON", "cell_size_check=ON", "writable_schema=OFF"):
        raw.execute(f"PRAGMA {setting}")
    return raw


def file_schema_problem(path: Path) -> str | None:
    """`schema_problem` of a file that is not trusted (sqlite3.Error where it is no database)."""
    with closing(open_quarantined(path)) as raw:
        return schema_problem(raw.execute)


def schema_problem(query: Query) -> str | None:
    """What of the schema is not formcheck's, as a part of a sentence; None when all of it is.

    Nothing is read from the tables before they are known to be formcheck's own.
    """
    foreign = "SELECT type, name FROM sqlite_master WHERE type NOT IN ('table', 'index') ORDER BY name"
    for kind, name in query(foreign):
        return f"it holds the {kind} {printable_name(name)}, which formcheck never makes"
    there, revisions = _read_schema(query), migrations_known()
    version = ("table", "alembic_version", "alembic_version")
    if there.get(version) != _make_schema(revisions[-1]).get(version):
        return "its table alembic_version is not as formcheck makes it"
    rows = list(query("SELECT version_num FROM alembic_version"))
    if len(rows) > 1:
        return "its table alembic_version names more than one version"
    if not rows or rows[0][0] not in revisions:
        return None  # newer, or damaged: opening it says which
    wanted = _make_schema(rows[0][0])
    for part, _ in sorted(there.items() ^ wanted.items()):
        what = "is not as formcheck makes it" if part in wanted else "is not one of formcheck's"
        return f"its {part[0]} {printable_name(part[1])} {what if part in there else 'is missing'}"
    return None


def _read_schema(query: Query) -> Schema:
    """The schema without what SQLite keeps for itself."""
    return {
        (str(kind), str(name), str(table)): "".join((statement or "").replace('"', "").split()).lower()
        for kind, name, table, statement in query("SELECT type, name, tbl_name, sql FROM sqlite_master")
        if not str(name).startswith(("sqlite_sequence", "sqlite_stat"))
    }


@lru_cache(maxsize=8)
def _make_schema(revision: str) -> Schema:
    """The schema as the migrations up to one make it."""
    with create_engine("sqlite://", poolclass=NullPool).connect() as connection:
        migrate_to(connection, revision)
        return _read_schema(connection.exec_driver_sql)
