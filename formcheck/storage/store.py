"""The store: every table and its checks in one object."""

from sqlalchemy import Connection, select, text

from formcheck.storage.comments import Comments
from formcheck.storage.corrections import Revisions
from formcheck.storage.jobs import Jobs
from formcheck.storage.plans_and_notes import Training
from formcheck.storage.ratings import Ratings
from formcheck.storage.reference_reps import ReferenceReps
from formcheck.storage.schema_check import schema_problem
from formcheck.storage.tables import clients, documents, limits, metadata, reviews, revisions, set_notes

_FOREIGN_CODE = text(
    "SELECT 'trigger ' || tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid "
    "WHERE NOT tgisinternal AND relname = ANY(:tables) AND pg_table_is_visible(pg_class.oid) "
    "UNION ALL SELECT 'rule ' || rulename FROM pg_rules WHERE tablename = ANY(:tables) LIMIT 1"
)
"""PostgreSQL's triggers and rules on formcheck's tables, but for those that keep its foreign keys."""


class Store(Revisions, Training, Comments, Ratings, ReferenceReps, Jobs):
    """An open store; close it, or use it in a ``with`` statement. May be used from several threads."""

    def check(self) -> int:
        """Read everything once and return the number of reviews (StoreError at the first damage)."""
        with self._reading() as connection:
            if connection.dialect.name == "sqlite":
                for pragma, good in (("integrity_check", "ok"), ("foreign_key_check", None)):
                    if connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() != good:
                        raise self._error(f"is damaged: it does not pass its {pragma}.")
            self._check_schema(connection)
            count = self._check_documents(connection)
            people = connection.scalars(select(clients.c.id)).all()
            exercises = connection.execute(select(limits.c.exercise_id, limits.c.client_id).distinct()).all()
            noted = connection.scalars(select(set_notes.c.review_id)).all()
            revised = connection.scalars(select(revisions.c.review_id).distinct()).all()
        for client_id in people:
            self.plan_history(client_id)
        for exercise_id, client_id in exercises:
            self.limits_history(exercise_id, client=client_id)
        for review_id in revised:
            self.revisions_of(review_id)
        self.notes_of(noted)
        self.check_comments()
        self.list_ratings()
        self.list_reference_reps()
        return count

    def _check_schema(self, connection: Connection) -> None:
        """Raise StoreError for whatever in the database is not formcheck's and could act on what is stored."""
        if connection.dialect.name == "sqlite":
            problem = schema_problem(connection.exec_driver_sql)
        else:
            named = connection.execute(_FOREIGN_CODE, {"tables": [*metadata.tables]}).scalar()
            problem = f"it holds the {named}, which formcheck never makes" if named else None
        if problem is not None:
            raise self._error(f"is not sound: {problem}.")

    def _check_documents(self, connection: Connection) -> int:
        """The number of reviews, each of which has its document, and every corrected one too."""
        made = select(reviews.c.id, documents.c.sha256, documents.c.body).join_from(reviews, documents, isouter=True)
        corrected = select(revisions.c.review_id, revisions.c.sha256, revisions.c.body)
        count = 0
        for query in (made, corrected):
            for review_id, sha256, body in connection.execute(query.execution_options(yield_per=100)):
                if body is None:
                    raise self._error(f"is damaged: review {review_id} has lost its document.")
                self._read(review_id, sha256, body)
                count += query is made
        return count
