"""Corrections by hand: kept beside the machine's review, one after the other, each can be undone."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, func, insert, select, update

from formcheck.core.errors import ReviewFormatError, StoreError
from formcheck.core.model import Review
from formcheck.formats import encode
from formcheck.formats.stored_json import decode_edits, encode_edits
from formcheck.reps.edits import Edits
from formcheck.storage.database import ASKED_AT_ONCE, digest
from formcheck.storage.reviews import Reviews, revised_document, summary_columns
from formcheck.storage.rows import Revision
from formcheck.storage.tables import documents, reviews, revisions

_TOGETHER = 100
"""Reviews read in one question: some ten megabytes."""


class Revisions(Reviews):
    """The part of the store that keeps corrections."""

    def save_revision(self, review_id: int, edits: Edits, review: Review, *, created_at: datetime) -> int:
        """Keep corrections with the review they give, which is then in force; returns the correction's number.

        Parameters
        ----------
        edits : all corrections, those made before included.
        review : what the analysis says with them.

        Raises StoreError when there is no such review or it cannot be written, ReviewFormatError as `save_review`.
        """
        body, kept = encode(review), encode_edits(edits)
        with self._writing() as connection:
            query = update(reviews).where(reviews.c.id == review_id)
            found = connection.execute(query.values(by_hand=bool(edits), **summary_columns(review)))
            if found.rowcount == 0:
                raise self._no_review(review_id)
            highest = select(func.max(revisions.c.number)).where(revisions.c.review_id == review_id)
            number = int(connection.execute(highest).scalar() or 0) + 1
            row = {"review_id": review_id, "number": number, "created_at": created_at, "edits": kept, "body": body}
            connection.execute(insert(revisions).values(sha256=digest(body), **row))
        return number

    def load_reviews(self, review_ids: Sequence[int]) -> dict[int, Review]:
        """Whole reviews by their numbers, as corrected where they were, in the order asked for (StoreError).

        Read together: asking for each by itself takes longer than reading them.
        """
        found: dict[int, tuple[str, str]] = {}
        for begin in range(0, len(review_ids), _TOGETHER):
            some = review_ids[begin : begin + _TOGETHER]
            corrected = select(revisions.c.review_id, revisions.c.sha256, revisions.c.body)
            corrected = corrected.where(revisions.c.review_id.in_(some), revisions.c.undone_at.is_(None))
            with self._reading() as connection:
                rows = connection.execute(corrected.order_by(revisions.c.number)).all()
                found |= {number: (sha256, body) for number, sha256, body in rows}
                left = [number for number in some if number not in found]
                made = select(documents.c.review_id, documents.c.sha256, documents.c.body)
                rows = connection.execute(made.where(documents.c.review_id.in_(left))).all()
                found |= {number: (sha256, body) for number, sha256, body in rows}
        missing = [number for number in review_ids if number not in found]
        if missing:
            raise self._no_review(missing[0])
        return {number: self._read(number, *found[number]) for number in review_ids}

    def newest_corrections(self, review_ids: Sequence[int]) -> list[tuple[int, int]]:
        """Review and number of the correction in force, of those that have one, by review."""
        newest = select(revisions.c.review_id, func.max(revisions.c.number)).where(revisions.c.undone_at.is_(None))
        found: list[tuple[int, int]] = []
        with self._reading() as connection:
            for begin in range(0, len(review_ids), ASKED_AT_ONCE):
                some = newest.where(revisions.c.review_id.in_(review_ids[begin : begin + ASKED_AT_ONCE]))
                found += [(one, number) for one, number in connection.execute(some.group_by(revisions.c.review_id))]
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
        return [
            Revision(review_id, number, at, undone, self._edits(review_id, raw)) for number, at, undone, raw in rows
        ]

    def undo_revision(self, review_id: int, *, undone_at: datetime) -> Edits:
        """Take back the newest correction in force and give those that hold now (StoreError when there is none)."""
        with self._writing() as connection:
            newest = (
                select(func.max(revisions.c.number))
                .where(revisions.c.review_id == review_id, revisions.c.undone_at.is_(None))
                .scalar_subquery()
            )
            query = update(revisions).where(revisions.c.review_id == review_id, revisions.c.number == newest)
            if connection.execute(query.values(undone_at=undone_at)).rowcount == 0:
                raise StoreError(f"Review {review_id} has no correction that could be undone.")
            self._show_in_force(connection, review_id)
        return self.edits_of(review_id)

    def _show_in_force(self, connection: Connection, review_id: int) -> None:
        """Let the row say what the review now in force says."""
        revised = revised_document(connection, review_id)
        query = select(documents.c.sha256, documents.c.body).where(documents.c.review_id == review_id)
        review = self._read(review_id, *(revised or connection.execute(query).one()))
        values = {"by_hand": revised is not None, **summary_columns(review)}
        connection.execute(update(reviews).where(reviews.c.id == review_id).values(values))

    def _edits(self, review_id: int, raw: str) -> Edits:
        try:
            return decode_edits(raw)
        except ReviewFormatError as error:
            raise StoreError(f"The corrections of review {review_id} are damaged: {error}") from error
