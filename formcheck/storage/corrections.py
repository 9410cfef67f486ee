"""Corrections by hand: stored beside the machine's review, one after the other, each can be undone."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy import func, select, update

from formcheck.core.errors import StoreError
from formcheck.core.model import Review
from formcheck.formats import encode
from formcheck.formats.stored_json import decode_edits, encode_edits
from formcheck.reps.edits import Edits
from formcheck.storage.database import compute_digest, decoding_errors, in_batches, insert_row
from formcheck.storage.reviews import CORRECTED, MADE, Reviews, summary_columns
from formcheck.storage.rows import Revision
from formcheck.storage.tables import reviews, revisions


class Revisions(Reviews):
    """The part of the store that holds corrections."""

    def save_revision(self, review_id: int, edits: Edits, review: Review, *, created_at: datetime) -> int:
        """Store corrections with the review they give, which is then in force; returns the correction's number.

        Parameters
        ----------
        edits : all corrections, those made before included.
        review : what the analysis says with them.

        Raises StoreError when there is no such review or it cannot be written, ReviewFormatError as `save_review`.
        """
        body = encode(replace(review, reference=None))
        row = {"created_at": created_at, "edits": encode_edits(edits), "sha256": compute_digest(body), "body": body}
        with self._writing() as connection:
            query = update(reviews).where(reviews.c.id == review_id)
            found = connection.execute(query.values(by_hand=bool(edits), **summary_columns(review)))
            if found.rowcount == 0:
                raise self._no_review(review_id)
            highest = select(func.max(revisions.c.number)).where(revisions.c.review_id == review_id)
            number = int(connection.execute(highest).scalar() or 0) + 1
            insert_row(connection, revisions, review_id=review_id, number=number, **row)
        return number

    def newest_corrections(self, review_ids: Sequence[int]) -> list[tuple[int, int]]:
        """Review and number of the correction in force, of those that have one, by review."""
        newest = select(revisions.c.review_id, func.max(revisions.c.number)).where(revisions.c.undone_at.is_(None))
        found: list[tuple[int, int]] = []
        with self._reading() as connection:
            for some in in_batches(review_ids):
                query = newest.where(revisions.c.review_id.in_(some)).group_by(revisions.c.review_id)
                found += [(one, number) for one, number in connection.execute(query)]
        return sorted(found)

    def edits_of(self, review_id: int) -> Edits:
        """The corrections in force; the empty ones when there are none (StoreError)."""
        in_force = [item for item in self.revisions_of(review_id) if item.undone_at is None]
        return in_force[-1].edits if in_force else Edits()

    def revisions_of(self, review_id: int) -> list[Revision]:
        """Every correction ever made of a review, the oldest first (StoreError)."""
        columns = [revisions.c[name] for name in ("number", "created_at", "undone_at", "edits")]
        query = select(*columns).where(revisions.c.review_id == review_id).order_by(revisions.c.number)
        with self._reading() as connection:
            rows = connection.execute(query).all()
            if not rows and connection.execute(select(reviews.c.id).where(reviews.c.id == review_id)).first() is None:
                raise self._no_review(review_id)
        with decoding_errors(f"The corrections of review {review_id} are damaged"):
            return [Revision(review_id, number, at, undone, decode_edits(raw)) for number, at, undone, raw in rows]

    def undo_revision(self, review_id: int, *, undone_at: datetime) -> Edits:
        """Take back the newest correction in force and give those that hold now (StoreError when there is none)."""
        with self._writing() as connection:
            newest = select(func.max(revisions.c.number))
            newest = newest.where(revisions.c.review_id == review_id, revisions.c.undone_at.is_(None))
            query = update(revisions).where(revisions.c.review_id == review_id)
            query = query.where(revisions.c.number == newest.scalar_subquery())
            if connection.execute(query.values(undone_at=undone_at)).rowcount == 0:
                raise StoreError(f"Review {review_id} has no correction that could be undone.")
            # The row says again what the review now in force says.
            review = self._load(connection, [review_id], CORRECTED, MADE)[review_id]
            in_force = select(revisions.c.id).where(revisions.c.review_id == review_id, revisions.c.undone_at.is_(None))
            values = {"by_hand": connection.execute(in_force).first() is not None, **summary_columns(review)}
            connection.execute(update(reviews).where(reviews.c.id == review_id).values(values))
        return self.edits_of(review_id)
