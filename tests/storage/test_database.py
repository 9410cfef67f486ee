"""The database itself: durable, of the tables the program uses, and in memory where that is asked for."""

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine

from formcheck.core.model import Review
from formcheck.storage import Store
from formcheck.storage.schema_upgrade import MIGRATIONS
from formcheck.storage.tables import SCHEMA_REVISION, metadata
from tests.storage.conftest import NOON


def test_commits_are_durable_and_references_are_kept(store: Store) -> None:
    with store.engine.connect() as connection:
        values = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    assert values == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}  # 2 = FULL, sqlite.org/pragma.html


def test_the_migrations_make_the_tables_the_program_uses(store: Store) -> None:
    with store.engine.connect() as connection:
        differences = compare_metadata(MigrationContext.configure(connection), metadata)
        # A reference added together with its column is reflected without what a deletion does; SQLite itself tells.
        added = [item for item in differences if item[0] not in ("add_fk", "remove_fk")]
        told = connection.exec_driver_sql("PRAGMA foreign_key_list(reviews)").mappings().one()
    assert added == []
    assert len(differences) == 2
    assert (told["table"], told["from"], told["to"], told["on_delete"]) == ("clients", "client_id", "id", "CASCADE")


def test_the_newest_migration_is_the_one_the_program_expects() -> None:
    assert ScriptDirectory(str(MIGRATIONS)).get_heads() == [SCHEMA_REVISION]


def test_a_memory_store_works_by_url(review: Review) -> None:
    with Store.open("sqlite://") as store:
        assert store.load_review(store.save_review(review, created_at=NOON)) == review


def test_a_schema_made_by_hand_is_not_what_is_compared() -> None:
    """The comparison of test_the_migrations_make_the_tables_the_program_uses sees a difference when there is one."""
    engine = create_engine("sqlite://")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) != []
