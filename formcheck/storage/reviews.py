"""Reviews: saved whole in one transaction, listed without their measures, read with their damage noticed."""

from collections.abc import Sequence
from dataclasses import fields
from datetime import date, datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, delete, func, insert, or_, select, update

from formcheck.core.errors import FILE, ReviewFormatError, StoreError
from formcheck.core.model import Review
from formcheck.formats import decode, encode
from formcheck.storage.clients import client_id_for
from formcheck.storage.clips import Clips, of_client
from formcheck.storage.database import digest, plain
from formcheck.storage.engine import settle
from formcheck.storage.jobs import Job, drop_jobs, note_saved, saved_by
from formcheck.storage.rows import Session, StoredReview
from formcheck.storage.tables import clients, documents, reviews, revisions
from formcheck.verdicts import count_points

_COLUMNS: list[Any] = [
    clients.c.name.label("client") if field.name == "client" else reviews.c[field.name]
    for field in fields(StoredReview)
]
_JOINED = reviews.join(clients, reviews.c.client_id == clients.c.id, isouter=True)
_HAS_REPS = reviews.c.complete_reps + reviews.c.partial_reps > 0


class Reviews(Clips):
    """The part of the store that keeps the reviews."""

    def save_review(
        self,
        review: Review,
        *,
        created_at: datetime,
        client: str | None = None,
        clip_path: str | Path | None = None,
        session_on: date | None = None,
        set_number: int | None = None,
        variation: str | None = None,
        once: bool = False,
        job: Job | None = None,
    ) -> int:
        """Keep a review and return its number; when this returns, the review is on disk.

        Parameters
        ----------
        created_at : when it was made, with time zone.
        client : whose set it is, by name; a new name makes a new client.
        clip_path : where the clip is.
        session_on : the day of the session; the day of `created_at` in this machine's zone when not given.
        set_number : place among the session's sets of this exercise; the next one when not given, or that of an
            earlier review of the same clip.
        variation : which variation of the exercise it was, in the coach's words; else that of the exercise id.
        once : keep nothing when this client has a review of this clip and exercise; the number is then that one's,
            also when another program keeps one at the same moment.
        job : the job it is saved for, as its worker claimed it. A job saves one review: where it did before, nothing is
            kept, and the number is that one's.

        Raises StoreError when it cannot be written or the job is no longer the worker's, ReviewFormatError when the
        review holds a NaN or a wrong type.
        """
        body = encode(review)
        row: dict[str, Any] = {
            "created_at": created_at,
            "clip_path": None if clip_path is None else plain(str(clip_path)),
            "clip_name": plain(review.clip.name),
            "clip_sha256": review.clip.sha256,
            "second_clip_sha256": None if review.second is None else review.second.clip.sha256,
            "variation": plain(variation) or review.exercise.id.partition("/")[2] or None,
            **summary_columns(review),
        }
        with self._writing() as connection:
            if job is not None and (before := saved_by(connection, job)) is not None:
                return before
            row["client_id"] = client_id_for(connection, client, created_at)
            if once and (there := _the_same(connection, row)) is not None:
                return there
            row["session_on"] = session_on or created_at.astimezone().date()
            row["set_number"] = set_number or _next_set(connection, row)
            key = connection.execute(insert(reviews).values(row)).inserted_primary_key
            assert key is not None
            review_id = int(key[0])
            connection.execute(insert(documents).values(review_id=review_id, sha256=digest(body), body=body))
            if job is not None:
                note_saved(connection, job, review_id)
        return review_id

    def change_review(
        self,
        review_id: int,
        *,
        client: str | None = None,
        session_on: date | None = None,
        set_number: int | None = None,
        variation: str | None = None,
        changed_at: datetime,
    ) -> None:
        """Say later whose set it was, when, which one, or which variation; what is None stays (StoreError)."""
        with self._writing() as connection:
            values: dict[str, Any] = {"session_on": session_on, "set_number": set_number, "variation": plain(variation)}
            values["client_id"] = client_id_for(connection, client, changed_at)
            values = {name: value for name, value in values.items() if value is not None} or {"id": review_id}
            query = update(reviews).where(reviews.c.id == review_id).values(values)
            if connection.execute(query).rowcount == 0:
                raise self._no_review(review_id)

    def list_reviews(
        self,
        *,
        client: str | int | None = None,
        exercise_id: str | None = None,
        clip_sha256: str | None = None,
        clip_path: str | None = None,
        review_id: int | None = None,
        session_on: date | None = None,
        with_reps: bool = False,
        without_client: bool = False,
        containing: str = "",
        limit: int | None = None,
    ) -> list[StoredReview]:
        """The rows that fit every given argument, the newest first (StoreError).

        Parameters
        ----------
        client : a name, whatever its capitals and spaces, or an id.
        with_reps : leave out sets in which no rep was found.
        without_client : only sets that have no client; each may be of another person.
        containing : a part of the client's, the exercise's or the clip's name, whatever its capitals.
        """
        query = select(*_COLUMNS).select_from(_JOINED)
        query = query.order_by(reviews.c.created_at.desc(), reviews.c.id.desc()).limit(limit)
        wanted: dict[str, object] = {"exercise_id": exercise_id, "clip_sha256": clip_sha256, "clip_path": clip_path}
        wanted |= {"id": review_id, "session_on": session_on}
        for name, value in wanted.items():
            if value is not None:
                query = query.where(reviews.c[name] == value)
        if isinstance(client, int):
            query = query.where(reviews.c.client_id == client)
        elif client is not None:
            query = query.where(clients.c.name_key == " ".join((plain(client) or "").split()).casefold())
        if without_client:
            query = query.where(of_client(None))
        if with_reps:
            query = query.where(_HAS_REPS)
        if part := " ".join((plain(containing) or "").split()).casefold():
            names = clients.c.name_key, func.lower(reviews.c.exercise_name), func.lower(reviews.c.clip_name)
            query = query.where(or_(*(name.contains(part, autoescape=True) for name in names)))
        with self._reading() as connection:
            return [StoredReview(**row._mapping) for row in connection.execute(query)]

    def exercises_reviewed(self, *, client: int | None = None, without_client: bool = False) -> dict[str, str]:
        """Id → name of every exercise of which a set with reps is kept, the newest first.

        Of a client, of the sets that have none, or at all.
        """
        query = select(func.max(reviews.c.id).label("newest")).where(_HAS_REPS).group_by(reviews.c.exercise_id)
        if client is not None or without_client:
            query = query.where(of_client(client))
        last = query.subquery()
        names = select(reviews.c.exercise_id, reviews.c.exercise_name).join(last, reviews.c.id == last.c.newest)
        with self._reading() as connection:
            return {str(id_): str(name) for id_, name in connection.execute(names.order_by(reviews.c.id.desc()))}

    def count_reviews(self, *, client: int | None = None, exercise_id: str | None = None) -> int:
        """How many reviews are kept, of a client, of an exercise, or at all."""
        query = select(func.count()).select_from(reviews)
        if client is not None:
            query = query.where(reviews.c.client_id == client)
        if exercise_id is not None:
            query = query.where(reviews.c.exercise_id == exercise_id)
        with self._reading() as connection:
            return int(connection.execute(query).scalar_one())

    def sessions(self, *, client: str | int | None = None, exercise_id: str | None = None) -> list[Session]:
        """Sessions, the oldest first: one for each client, day and exercise; a set reviewed twice counts once.

        Sets that have no client may each be of another person: every clip of them is a session of its own.
        """
        rows = self.list_reviews(client=client, exercise_id=exercise_id)

        def key(row: StoredReview) -> tuple[date, str, str, str]:
            return row.session_on, row.client or "", row.exercise_id, "" if row.client else row.clip_sha256

        found = []
        for _, group in groupby(sorted(rows, key=key), key):
            newest: dict[int, StoredReview] = {}
            for row in sorted(group, key=lambda row: (row.created_at, row.id)):
                newest[row.set_number] = row
            sets = tuple(newest[number] for number in sorted(newest))
            found.append(Session(sets[0].session_on, sets[0].client, sets[0].exercise_id, sets))
        return found

    def session_days(self) -> dict[int, tuple[date, int]]:
        """Client's id → the last day of a session and how many days had one, of clients with any (StoreError)."""
        days = func.max(reviews.c.session_on), func.count(reviews.c.session_on.distinct())
        query = select(reviews.c.client_id, *days).where(reviews.c.client_id.is_not(None)).group_by(reviews.c.client_id)
        with self._reading() as connection:
            return {client: (last, count) for client, last, count in connection.execute(query) if last is not None}

    def next_set(self, client_id: int | None, exercise_id: str, day: date) -> int:
        """The number the next set of this exercise would have in a day's session, from 1."""
        row = {"client_id": client_id, "exercise_id": exercise_id, "session_on": day, "clip_sha256": ""}
        with self._reading() as connection:
            return _next_set(connection, row, lock=False)

    def load_review(self, review_id: int) -> Review:
        """A whole review, as corrected where it was (StoreError when there is none of this number or it is damaged)."""
        with self._reading() as connection:
            row = revised_document(connection, review_id) or _document(connection, review_id)
        if row is None:
            raise self._no_review(review_id)
        return self._read(review_id, *row)

    def load_original(self, review_id: int) -> Review:
        """The review as the machine made it, whatever was corrected since (StoreError)."""
        with self._reading() as connection:
            row = _document(connection, review_id)
        if row is None:
            raise self._no_review(review_id)
        return self._read(review_id, *row)

    def delete_review(self, review_id: int, *, jobs: Sequence[int] = ()) -> None:
        """Delete a review for good, and with it these jobs (StoreError when there is none of this number)."""
        with self._writing() as connection:
            drop_jobs(connection, jobs)
            if connection.execute(delete(reviews).where(reviews.c.id == review_id)).rowcount == 0:
                raise self._no_review(review_id)
        settle(self._engine)

    def _read(self, review_id: int, sha256: str, body: str) -> Review:
        if digest(body) != sha256:
            raise StoreError(f"Review {review_id} in the store {FILE} is damaged.", name=self.place)
        try:
            return decode(body)
        except ReviewFormatError as error:
            raise StoreError(
                f"Review {review_id} in the store {FILE} cannot be read: {error}", name=self.place
            ) from error


def summary_columns(review: Review) -> dict[str, Any]:
    """What a row says about its review."""
    complete = sum(rep.complete for rep in review.reps)
    return {
        "exercise_id": review.exercise.id,
        "exercise_name": review.exercise.name,
        "view": review.view.name,
        "load_kg": review.set_info.load_kg,
        "target_reps": review.set_info.target_reps,
        "complete_reps": complete,
        "partial_reps": len(review.reps) - complete,
        "problems": ",".join(problem.code for problem in review.quality.problems),
        **{str(verdict): amount for verdict, amount in count_points(review.findings).items()},
    }


def revised_document(connection: Connection, review_id: int) -> tuple[str, str] | None:
    """Digest and body of the corrected review in force, if any."""
    query = (
        select(revisions.c.sha256, revisions.c.body)
        .where(revisions.c.review_id == review_id, revisions.c.undone_at.is_(None))
        .order_by(revisions.c.number.desc())
        .limit(1)
    )
    row = connection.execute(query).one_or_none()
    return None if row is None else (row.sha256, row.body)


def _document(connection: Connection, review_id: int) -> tuple[str, str] | None:
    query = select(documents.c.sha256, documents.c.body).where(documents.c.review_id == review_id)
    row = connection.execute(query).one_or_none()
    return None if row is None else (row.sha256, row.body)


def _next_set(connection: Connection, row: dict[str, Any], *, lock: bool = True) -> int:
    if lock and row["client_id"] is not None:
        # Two sets of one client that arrive at once get different numbers: the second waits here for the first.
        connection.execute(select(clients.c.id).where(clients.c.id == row["client_id"]).with_for_update())
    same = [reviews.c[name] == row[name] for name in ("session_on", "exercise_id")]
    same.append(of_client(row["client_id"]))
    again = (
        select(reviews.c.set_number)
        .where(*same, reviews.c.clip_sha256 == row["clip_sha256"])
        .order_by(reviews.c.id.desc())
        .limit(1)
    )
    known = connection.execute(again).scalar()
    return int(known or (connection.execute(select(func.max(reviews.c.set_number)).where(*same)).scalar() or 0) + 1)


def _the_same(connection: Connection, row: dict[str, Any]) -> int | None:
    """The newest review of this clip, exercise and client; until the transaction ends nobody else adds one."""
    if connection.dialect.name == "postgresql":  # SQLite has one writer at a time anyway
        lock = func.pg_advisory_xact_lock(int(row["clip_sha256"][:15], 16))
        connection.execute(select(lock))
    query = select(reviews.c.id).where(of_client(row["client_id"]))
    query = query.where(reviews.c.clip_sha256 == row["clip_sha256"], reviews.c.exercise_id == row["exercise_id"])
    found = connection.execute(query.order_by(reviews.c.id.desc()).limit(1)).scalar()
    return None if found is None else int(found)
