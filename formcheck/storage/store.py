"""The store: every table and its checks in one object."""

import sqlite3

from sqlalchemy import Connection, select, text

from formcheck.core.errors import FILE, StoreError
from formcheck.storage.corrections import Revisions
from formcheck.storage.jobs import Jobs
from formcheck.storage.plans_and_notes import Training
from formcheck.storage.schema_check import schema_problem
from formcheck.storage.tables import clients, documents, limits, metadata, reviews, revisions, set_notes

_FOREIGN_CODE = text(
    "SELECT 'trigger ' || tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
    "WHERE NOT tgisinternal AND relname = ANY(:tables) AND pg_table_is_visible(pg_class.oid) "
    "UNION ALL SELECT 'rule ' || rulename FROM pg_rules WHERE tablename = ANY(:tables) LIMIT 1"
)
"""PostgreSQL's triggers and rules on formcheck's tables, but for those that keep its foreign keys."""


class Store(Revisions, Training, Jobs):
    """An open store; close it, or use it in a ``with`` statement. May be used from several threads."""

    def check(self) -> int:
        """Read everything once and return the number of reviews (StoreError at the first damage)."""
        with self._reading() as connection:
            if connection.dialect.name == "sqlite":
                for pragma, good in (("integrity_check", "ok"), ("foreign_key_check", None)):
                    if connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() != good:
                        raise StoreError(
                            f"The store {FILE} is damaged: it does not pass its {pragma}.", name=self.place
                        )
            self._check_schema(connection)
            count = self._check_documents(connection)
            people = connection.execute(select(clients.c.id)).scalars().all()
            exercises = connection.execute(select(limits.c.exercise_id, limits.c.client_id).distinct()).all()
            noted = connection.execute(select(set_notes.c.review_id)).scalars().all()
            revised = connection.execute(select(revisions.c.review_id).distinct()).scalars().all()
        for client_id in people:
            self.plan_history(client_id)
        for exercise_id, client_id in exercises:
            self.limits_history(exercise_id, client=client_id)
        for review_id in noted:
            self.note_of(review_id)
        for review_id in revised:
            self.revisions_of(review_id)
        return count

    def _check_schema(self, connection: Connection) -> None:
        """Raise StoreError for whatever in the database is not formcheck's and could act on what is kept."""
        if connection.dialect.name == "sqlite":
            raw = connection.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            problem = schema_problem(raw)
        else:
            named = connection.execute(_FOREIGN_CODE, {"tables": [*metadata.tables]}).scalar()
            problem = f"it holds the {named}, which formcheck never makes" if named else None
        if problem is not None:
            raise StoreError(f"The store {FILE} is not sound: {problem}.", name=self.place)

    def _check_documents(self, connection: Connection) -> int:
        whole = select(reviews.c.id, documents.c.sha256, documents.c.body).join_from(reviews, documents, isouter=True)
        count = 0
        for review_id, sha256, body in connection.execute(whole.execution_options(yield_per=100)):
            if body is None:
                raise StoreError(
                    f"The store {FILE} is damaged: review {review_id} has lost its document.", name=self.place
                )
            self._read(review_id, sha256, body)
            count += 1
        corrected = select(revisions.c.review_id, revisions.c.sha256, revisions.c.body)
        for review_id, sha256, body in connection.execute(corrected.execution_options(yield_per=100)):
            self._read(review_id, sha256, body)
        return count
