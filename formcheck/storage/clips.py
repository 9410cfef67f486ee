"""Which clips reviews are of, the second camera's too, so that a deletion knows what nobody else needs."""

from collections.abc import Iterable

from sqlalchemy import ColumnElement, or_, select

from formcheck.storage.database import ASKED_AT_ONCE, OpenStore
from formcheck.storage.tables import reviews

_CLIPS = (reviews.c.clip_sha256, reviews.c.second_clip_sha256)


class Clips(OpenStore):
    """The part of the store that knows the clips."""

    def clips_of(self, *, client: int | None = None, review_id: int | None = None) -> set[str]:
        """SHA-256 of every clip of a client's reviews, or of one review (StoreError); second cameras' too."""
        mine = of_client(client) if review_id is None else reviews.c.id == review_id
        with self._reading() as connection:
            pairs = connection.execute(select(*_CLIPS).where(mine)).all()
        if review_id is not None and not pairs:
            raise self._no_review(review_id)
        return {sha256 for pair in pairs for sha256 in pair if sha256 is not None}

    def clips_needed(
        self, clips: Iterable[str], *, besides_client: int | None = None, besides_review: int | None = None
    ) -> set[str]:
        """Which of the clips (SHA-256) a review of anybody else than the client is of, or any other review."""
        other = or_(reviews.c.client_id.is_(None), reviews.c.client_id != besides_client)
        other = other if besides_review is None else reviews.c.id != besides_review
        asked, needed = sorted(clips), set[str]()
        with self._reading() as connection:
            for begin in range(0, len(asked), ASKED_AT_ONCE):
                for column in _CLIPS:
                    query = select(column).where(column.in_(asked[begin : begin + ASKED_AT_ONCE]), other).distinct()
                    needed.update(connection.execute(query).scalars())
        return needed


def of_client(client_id: int | None) -> ColumnElement[bool]:
    """Whether a review is this client's, or nobody's; written so that PostgreSQL, too, can use an index for it."""
    return reviews.c.client_id.is_(None) if client_id is None else reviews.c.client_id == client_id
