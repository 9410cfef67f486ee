"""The reps that a client's others are held against: one for each exercise and camera side."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import delete, insert, select

from formcheck.core.errors import FILE, StoreError, UsageError
from formcheck.storage.database import OpenStore
from formcheck.storage.rows import StoredReferenceRep
from formcheck.storage.tables import reference_reps, reviews

_KEY = (reviews.c.client_id, reviews.c.exercise_id, reviews.c.view)
_COLUMNS = (
    *(reference_reps.c[name] for name in ("review_id", "created_at", "rep_s")),
    *(reviews.c[name] for name in ("client_id", "exercise_id", "view", "session_on")),
)


class ReferenceReps(OpenStore):
    """The part of the store that holds the reference reps.

    Whose and of what they are, their reviews say: a review that is given to another client takes its rep along.
    """

    def set_reference_rep(self, review_id: int, rep_s: float, *, created_at: datetime) -> None:
        """Hold the client's others of this exercise and camera side against this rep, and against no earlier one.

        rep_s : moment of its top, seconds of the clip.

        Raises StoreError when there is no such review, UsageError when it has no client.
        """
        with self._writing() as connection:
            key = connection.execute(select(*_KEY).where(reviews.c.id == review_id)).one_or_none()
            if key is None:
                raise self._no_review(review_id)
            if key.client_id is None:
                raise UsageError(
                    f"Review {review_id} has no client: say whose set it is before one of its reps counts."
                )
            same = select(reviews.c.id).where(*(column == value for column, value in zip(_KEY, key, strict=True)))
            connection.execute(delete(reference_reps).where(reference_reps.c.review_id.in_(same)))
            connection.execute(
                insert(reference_reps).values(review_id=review_id, rep_s=float(rep_s), created_at=created_at)
            )

    def remove_reference_rep(self, review_id: int) -> None:
        """Hold nothing against a rep of this review any more (StoreError when none of its reps is a reference)."""
        with self._writing() as connection:
            query = delete(reference_reps).where(reference_reps.c.review_id == review_id)
            if connection.execute(query).rowcount == 0:
                words = f"No rep of review {review_id} in the store {FILE} is a reference rep."
                raise StoreError(words, name=self.location)

    def list_reference_reps(
        self, *, client: int | None = None, exercise_id: str | None = None, view: str | None = None
    ) -> list[StoredReferenceRep]:
        """The reference reps that fit every given argument; one for each client, exercise and side (StoreError)."""
        wanted = dict(zip(_KEY, (client, exercise_id, view), strict=True))
        query = select(*_COLUMNS).join_from(reviews, reference_reps).where(reviews.c.client_id.is_not(None))
        query = query.where(*(column == value for column, value in wanted.items() if value is not None))
        with self._reading() as connection:
            # A correction may have brought two of them together: the one that was chosen last holds.
            rows: Sequence[StoredReferenceRep] = [
                StoredReferenceRep(**row._mapping)
                for row in connection.execute(query.order_by(reference_reps.c.created_at, reviews.c.id))
            ]
        return list({(row.client_id, row.exercise_id, row.view): row for row in rows}.values())

    def find_reference_rep(self, client: int, exercise_id: str, view: str) -> StoredReferenceRep | None:
        """The reference rep of a client, exercise and camera side, if there is one (StoreError)."""
        found = self.list_reference_reps(client=client, exercise_id=exercise_id, view=view)
        return found[0] if found else None
