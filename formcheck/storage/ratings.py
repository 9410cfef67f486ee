"""Whether coaches agree with what reviews say; kept here and sent nowhere."""

from datetime import datetime

from sqlalchemy import Connection, delete, insert, select

from formcheck.coaching.rating import Rating
from formcheck.core.errors import FILE, StoreError
from formcheck.storage.database import OpenStore, decoding_errors, storable
from formcheck.storage.engine import clear_log
from formcheck.storage.rows import StoredRating
from formcheck.storage.tables import ratings, reviews


class Ratings(OpenStore):
    """The part of the store that holds the coach's ratings."""

    def save_rating(self, review_id: int, rating: Rating, *, created_at: datetime) -> None:
        """Store a rating in place of an earlier one of the same thing (StoreError)."""
        row = {
            "check_id": rating.check,
            "verdict": rating.verdict,
            "agrees": rating.agrees,
            "rep_s": rating.rep_s,
            "why": rating.why,
        }
        with self._writing() as connection:
            if connection.execute(select(reviews.c.id).where(reviews.c.id == review_id)).first() is None:
                raise self._no_review(review_id)
            _drop(connection, review_id, rating)
            connection.execute(insert(ratings).values(review_id=review_id, created_at=created_at, **storable(row)))

    def delete_rating(self, review_id: int, rating: Rating) -> None:
        """Take back the rating of one thing for good (StoreError when there is none)."""
        with self._writing() as connection:
            if not _drop(connection, review_id, rating):
                raise StoreError(f"Review {review_id} in the store {FILE} has no such rating.", name=self.location)
        clear_log(self.engine)

    def ratings_of(self, review_id: int) -> list[Rating]:
        """The ratings of a review, in the order they were given (StoreError)."""
        return [item.rating for item in self.list_ratings(review_id=review_id)]

    def list_ratings(
        self, *, client: int | None = None, exercise_id: str | None = None, review_id: int | None = None
    ) -> list[StoredRating]:
        """Every rating, or those of a client, an exercise or a review (StoreError)."""
        wanted = {reviews.c.client_id: client, reviews.c.exercise_id: exercise_id, reviews.c.id: review_id}
        query = select(reviews.c.exercise_id, ratings).join_from(reviews, ratings)
        query = query.where(*(column == value for column, value in wanted.items() if value is not None))
        with self._reading() as connection, decoding_errors("A stored rating is damaged"):
            return [
                StoredRating(
                    row.review_id,
                    row.exercise_id,
                    row.created_at,
                    Rating(row.check_id, row.verdict, row.agrees, row.why, row.rep_s),
                )
                for row in connection.execute(query.order_by(ratings.c.id))
            ]


def _drop(connection: Connection, review_id: int, rating: Rating) -> bool:
    check, rep_s = rating.subject
    of_it = ratings.c.review_id == review_id, ratings.c.check_id == check, ratings.c.rep_s == rep_s
    return connection.execute(delete(ratings).where(*of_it)).rowcount > 0
