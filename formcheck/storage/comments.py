"""The coach's comments on stored reviews, with their drawings and voice notes."""

import hashlib
from datetime import datetime

from sqlalchemy import delete, select

from formcheck.coaching.comment import CoachComment, clean_voice
from formcheck.core.errors import FILE, StoreError, UsageError
from formcheck.formats.stored_json import decode_strokes, encode_strokes
from formcheck.storage.database import OpenStore, decoding_errors, insert_row
from formcheck.storage.engine import clear_log
from formcheck.storage.rows import StoredComment
from formcheck.storage.tables import comments, reviews


class Comments(OpenStore):
    """The part of the store that holds what the coach says."""

    def add_comment(
        self, review_id: int, comment: CoachComment, *, created_at: datetime, voice: bytes | None = None
    ) -> int:
        """Store a comment on a review and return its number (StoreError).

        voice : a voice note as a WAV file, which is cleaned of all but its sound (UsageError when it is none).
        """
        sound = None if voice is None else clean_voice(voice)
        strokes = encode_strokes(comment.strokes) if comment.strokes else None
        with self._writing() as connection:
            if connection.execute(select(reviews.c.id).where(reviews.c.id == review_id)).first() is None:
                raise self._no_review(review_id)
            return insert_row(
                connection,
                comments,
                review_id=review_id,
                created_at=created_at,
                at_s=comment.at_s,
                text=comment.text,
                strokes=strokes,
                voice=sound,
                voice_sha256=None if sound is None else _digest(sound),
            )

    def comments_of(self, review_id: int) -> list[StoredComment]:
        """The comments on a review: of the whole set first, then by their moments (StoreError)."""
        names = ("id", "created_at", "at_s", "text", "strokes", "voice_sha256")
        query = select(*(comments.c[name] for name in names)).where(comments.c.review_id == review_id)
        with self._reading() as connection, decoding_errors(f"A comment on review {review_id} is damaged"):
            found = [
                StoredComment(
                    row.id,
                    review_id,
                    row.created_at,
                    CoachComment(row.text, row.at_s, decode_strokes(row.strokes)),
                    row.voice_sha256 is not None,
                )
                for row in connection.execute(query.order_by(comments.c.id))
            ]
        return sorted(found, key=lambda item: -1.0 if item.comment.at_s is None else item.comment.at_s)

    def voice_of(self, comment_id: int) -> bytes:
        """The voice note of a comment, a WAV file (StoreError when there is none or it is damaged)."""
        query = select(comments.c.voice, comments.c.voice_sha256).where(comments.c.id == comment_id)
        with self._reading() as connection:
            row = connection.execute(query).one_or_none()
        if row is None or row.voice is None:
            raise StoreError(f"There is no voice note {comment_id} in the store {FILE}.", name=self.location)
        if _digest(row.voice) != row.voice_sha256:
            raise StoreError(f"Voice note {comment_id} in the store {FILE} is damaged.", name=self.location)
        return bytes(row.voice)

    def delete_comment(self, comment_id: int) -> None:
        """Delete a comment for good, with its drawing and voice note (StoreError when there is none)."""
        with self._writing() as connection:
            if connection.execute(delete(comments).where(comments.c.id == comment_id)).rowcount == 0:
                raise StoreError(f"There is no comment {comment_id} in the store {FILE}.", name=self.location)
        clear_log(self.engine)

    def check_comments(self) -> None:
        """Read every comment and voice note once (StoreError at the first damage)."""
        with self._reading() as connection:
            commented = connection.scalars(select(comments.c.review_id).distinct()).all()
            spoken = connection.scalars(select(comments.c.id).where(comments.c.voice_sha256.is_not(None))).all()
        for review_id in commented:
            self.comments_of(review_id)
        for number in spoken:
            try:
                clean_voice(self.voice_of(number))
            except UsageError as error:
                raise StoreError(f"Voice note {number} in the store {FILE} is damaged.", name=self.location) from error


def _digest(sound: bytes) -> str:
    return hashlib.sha256(sound).hexdigest()
