"""Whether an SQLite file holds formcheck's tables and indexes and nothing else.

A trigger or a view is code that runs on the next write or read, and a changed table can carry some too: what did not
come from formcheck's own migrations is never taken for a store. The statements of a file's schema are compared with
those the migrations write, whatever their spacing and capitals.
"""

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from functools import lru_cache
from pathlib import Path

from sqlalchemy import create_engine

from formcheck.storage.schema_upgrade import migrate_to, migrations_known

_FREE = ("sqlite_sequence", "sqlite_stat")
"""What SQLite keeps for itself."""
Schema = Mapping[tuple[str, str, str], str]
"""Kind, name and table of each part → its statement."""


def open_quarantined(path: Path, timeout_s: float) -> sqlite3.Connection:
    """Open a file that may have been made to do harm: read-only, running nothing that its schema names."""
    raw = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=timeout_s)
    for setting in ("trusted_schema=OFF", "query_only=ON", "cell_size_check=ON", "writable_schema=OFF"):
        raw.execute(f"PRAGMA {setting}")
    return raw


def foreign_parts(raw: sqlite3.Connection) -> list[str]:
    """Triggers and views of the main database, by kind and name: formcheck makes none."""
    found = raw.execute("SELECT type, name FROM sqlite_master WHERE type NOT IN ('table', 'index') ORDER BY name")
    return [f"{kind} {_shown(name)}" for kind, name in found]


def schema_problem(raw: sqlite3.Connection) -> str | None:
    """What of the schema is not formcheck's, as a part of a sentence; None when all of it is.

    Nothing is read from the tables before they are known to be formcheck's own.
    """
    if foreign := foreign_parts(raw):
        return f"it holds the {foreign[0]}, which formcheck never makes"
    there = _schema(raw)
    version = ("table", "alembic_version", "alembic_version")
    revisions = migrations_known()
    if there.get(version) != _made_by(revisions[-1]).get(version):
        return "its table alembic_version is not as formcheck makes it"
    rows = raw.execute("SELECT version_num FROM alembic_version").fetchall()
    if len(rows) > 1:
        return "its table alembic_version names more than one version"
    if not rows or rows[0][0] not in revisions:
        return None  # newer, or damaged: opening it says which
    wanted = _made_by(rows[0][0])
    for part in sorted(there.keys() | wanted.keys()):
        if there.get(part) != wanted.get(part):
            what = "is missing" if part not in there else "is not as formcheck makes it"
            if part not in wanted:
                what = "is not one of formcheck's"
            return f"its {part[0]} {_shown(part[1])} {what}"
    return None


def _schema(raw: sqlite3.Connection) -> Schema:
    rows = raw.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
    return {
        (str(kind), str(name), str(table)): _plain(sql)
        for kind, name, table, sql in rows
        if not str(name).startswith(_FREE)
    }


@lru_cache(maxsize=8)
def _made_by(revision: str) -> Schema:
    """The schema as the migrations up to one make it."""
    engine = create_engine("sqlite://")
    try:
        with engine.connect() as connection:
            migrate_to(connection, revision)
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            return _schema(raw)
    finally:
        engine.dispose()


def _plain(statement: str | None) -> str:
    return "".join((statement or "").replace('"', "").split()).lower()


def _shown(name: object) -> str:
    return "".join(c if c.isprintable() else "?" for c in str(name))[:60]


def file_schema_problem(path: Path, timeout_s: float) -> str | None:
    """`schema_problem` of a file that is not trusted (sqlite3.Error where it is no database)."""
    with closing(open_quarantined(path, timeout_s)) as raw:
        return schema_problem(raw)
