"""Reviews kept in a database: an SQLite file by default, PostgreSQL by URL.

A review is saved in one transaction and is either there whole or not at all, whatever kills the program.
"""

import hashlib
from dataclasses import dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import Self

from sqlalchemy import Engine, delete, insert, select
from sqlalchemy.engine import URL

from formcheck.codec import decode, encode
from formcheck.errors import ReviewFormatError, StoreError
from formcheck.model import Review
from formcheck.store.engine import make_engine, shown, store_url, transaction
from formcheck.store.migrate import prepare
from formcheck.store.tables import documents, reviews

__all__ = ["Store", "StoredReview"]


@dataclass(frozen=True, slots=True)
class StoredReview:
    """One row of the history: what a list of reviews shows, without the measures."""

    id: int
    created_at: datetime
    """With time zone, in UTC."""
    client: str | None
    clip_path: str | None
    """Where the clip was when it was reviewed."""
    clip_name: str
    clip_sha256: str
    exercise_id: str
    exercise_name: str
    view: str
    load_kg: float | None
    target_reps: int | None
    complete_reps: int
    partial_reps: int
    met: int
    """Checks met in every rep that was judged; `not_met` in at least one, `undecided` otherwise."""
    not_met: int
    undecided: int


_COLUMNS = [reviews.c[field.name] for field in fields(StoredReview)]


class Store:
    """An open store; close it, or use it in a ``with`` statement. May be used from several threads."""

    def __init__(self, engine: Engine, url: URL) -> None:
        self._engine = engine
        self._url = url

    @classmethod
    def open(cls, where: str | Path) -> Self:
        """Open a store, making it when it is new and migrating it when it is older.

        Parameters
        ----------
        where : a file path, or a database URL such as ``postgresql+psycopg://user@host/name``.

        Raises StoreError when it cannot be opened, is damaged, or was written by a newer formcheck.
        """
        url = store_url(where)
        engine = make_engine(url)
        try:
            prepare(engine, url)
        except BaseException:
            engine.dispose()
            raise
        return cls(engine, url)

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    @property
    def place(self) -> str:
        """Where the store is, fit to be shown."""
        return shown(self._url)

    def save_review(
        self,
        review: Review,
        *,
        created_at: datetime,
        client: str | None = None,
        clip_path: str | Path | None = None,
    ) -> int:
        """Keep a review and return its number; when this returns, the review is on disk.

        Parameters
        ----------
        created_at : when it was made, with time zone.
        client : whose set it is.
        clip_path : where the clip is.

        Raises StoreError when it cannot be written, ReviewFormatError when the review holds a NaN or a wrong type.
        """
        body = encode(review)
        complete = sum(rep.complete for rep in review.reps)
        row = {
            "created_at": created_at,
            "client": _plain(client),
            "clip_path": None if clip_path is None else _plain(str(clip_path)),
            "clip_name": _plain(review.clip.name),
            "clip_sha256": review.clip.sha256,
            "exercise_id": review.exercise.id,
            "exercise_name": review.exercise.name,
            "view": review.view.name,
            "load_kg": review.set_info.load_kg,
            "target_reps": review.set_info.target_reps,
            "complete_reps": complete,
            "partial_reps": len(review.reps) - complete,
            **_verdicts(review),
        }
        with transaction(self._engine, self._url, "written", write=True) as connection:
            key = connection.execute(insert(reviews).values(row)).inserted_primary_key
            assert key is not None
            review_id = int(key[0])
            connection.execute(insert(documents).values(review_id=review_id, sha256=_digest(body), body=body))
        return review_id

    def list_reviews(
        self,
        *,
        client: str | None = None,
        exercise_id: str | None = None,
        clip_sha256: str | None = None,
        review_id: int | None = None,
        limit: int | None = None,
    ) -> list[StoredReview]:
        """The rows that fit every given argument, the newest first (StoreError)."""
        query = select(*_COLUMNS).order_by(reviews.c.created_at.desc(), reviews.c.id.desc()).limit(limit)
        wanted = {"client": client, "exercise_id": exercise_id, "clip_sha256": clip_sha256, "id": review_id}
        for name, value in wanted.items():
            if value is not None:
                query = query.where(reviews.c[name] == value)
        with transaction(self._engine, self._url, "read") as connection:
            return [StoredReview(*row) for row in connection.execute(query)]

    def load_review(self, review_id: int) -> Review:
        """A whole review (StoreError when there is none of this number or it is damaged)."""
        query = select(documents.c.sha256, documents.c.body).where(documents.c.review_id == review_id)
        with transaction(self._engine, self._url, "read") as connection:
            row = connection.execute(query).one_or_none()
        if row is None:
            raise self._none_such(review_id)
        return self._read(review_id, *row)

    def delete_review(self, review_id: int) -> None:
        """Delete a review for good (StoreError when there is none of this number)."""
        with transaction(self._engine, self._url, "written", write=True) as connection:
            if connection.execute(delete(reviews).where(reviews.c.id == review_id)).rowcount == 0:
                raise self._none_such(review_id)

    def check(self) -> int:
        """Read everything once and return the number of reviews (StoreError at the first damage)."""
        with transaction(self._engine, self._url, "read") as connection:
            if connection.dialect.name == "sqlite":
                for pragma, good in (("integrity_check", "ok"), ("foreign_key_check", None)):
                    if connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() != good:
                        raise StoreError(f"The store {self.place} is damaged: it does not pass its {pragma}.")
            whole = select(reviews.c.id, documents.c.sha256, documents.c.body).join_from(
                reviews, documents, isouter=True
            )
            count = 0
            for review_id, digest, body in connection.execute(whole.execution_options(yield_per=100)):
                if body is None:
                    raise StoreError(f"The store {self.place} is damaged: review {review_id} has lost its document.")
                self._read(review_id, digest, body)
                count += 1
            return count

    def _read(self, review_id: int, digest: str, body: str) -> Review:
        if _digest(body) != digest:
            raise StoreError(f"Review {review_id} in the store {self.place} is damaged.")
        try:
            return decode(body)
        except ReviewFormatError as error:
            raise StoreError(f"Review {review_id} in the store {self.place} cannot be read: {error}") from error

    def _none_such(self, review_id: int) -> StoreError:
        return StoreError(f"There is no review {review_id} in the store {self.place}.")


def _verdicts(review: Review) -> dict[str, int]:
    """Number of checks by their worst verdict."""
    worst: dict[str, str] = {}
    order = ("not_met", "undecided", "met")
    for verdict in order:
        for finding in review.findings:
            if finding.verdict == verdict:
                worst.setdefault(finding.check, verdict)
    return {verdict: sum(item == verdict for item in worst.values()) for verdict in order}


def _digest(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()


def _plain(value: str | None) -> str | None:
    """Text without what UTF-8 cannot carry, such as undecodable bytes of a file name."""
    return None if value is None else value.encode("utf-8", "replace").decode("utf-8")
