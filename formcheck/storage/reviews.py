"""Reviews: saved whole in one transaction, listed without their measures, read with their damage noticed."""

from collections.abc import Iterable, Sequence
from dataclasses import fields, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, delete, func, or_, select, update

from formcheck.core.errors import FILE, ReviewFormatError, StoreError
from formcheck.core.model import Review
from formcheck.core.rep_sides import count_by_either_side
from formcheck.formats import decode, encode
from formcheck.storage.clients import client_id_for, make_name_key
from formcheck.storage.database import OpenStore, compute_digest, in_batches, insert_row, storable, storable_text
from formcheck.storage.engine import clear_log
from formcheck.storage.jobs import Job, drop_jobs, note_saved, saved_by
from formcheck.storage.rows import Session, StoredReview
from formcheck.storage.tables import clients, documents, reviews, revisions
from formcheck.verdicts import count_points, grade_points

_COLUMNS: list[Any] = [
    clients.c.name.label("client") if field.name == "client" else reviews.c[field.name]
    for field in fields(StoredReview)
]
_JOINED = reviews.join(clients, reviews.c.client_id == clients.c.id, isouter=True)
_CLIPS = (reviews.c.clip_sha256, reviews.c.second_clip_sha256)
_HAS_REPS = reviews.c.complete_reps + reviews.c.partial_reps > 0
MADE = select(documents.c.review_id, documents.c.sha256, documents.c.body)
CORRECTED = select(revisions.c.review_id, revisions.c.sha256, revisions.c.body).where(revisions.c.undone_at.is_(None))
CORRECTED = CORRECTED.order_by(revisions.c.number)
_LOADED_AT_ONCE = 100
"""Reviews read in one question: some ten megabytes."""


class Reviews(OpenStore):
    """The part of the store that holds the reviews."""

    def save_review(
        self,
        review: Review,
        *,
        created_at: datetime,
        client: str | None = None,
        clip_path: str | Path | None = None,
        session_on: date | None = None,
        set_number: int | None = None,
        once: bool = False,
        job: Job | None = None,
    ) -> int:
        """Store a review and return its number; when this returns, the review is on disk.

        Parameters
        ----------
        created_at : when it was made, with time zone.
        client : whose set it is, by name; a new name makes a new client.
        clip_path : where the clip is.
        session_on : the day of the session; the day of `created_at` in this machine's zone when not given.
        set_number : place among the session's sets of this exercise; the next one when not given, or that of an
            earlier review of the same clip.
        once : store nothing when this client has a review of this clip and exercise; the number is then that one's,
            also when another program stores one at the same moment.
        job : the job it is saved for, as its worker claimed it. A job saves one review: where it did before, nothing is
            stored, and the number is that one's.

        Raises StoreError when it cannot be written or the job is no longer the worker's, ReviewFormatError when the
        review holds a NaN or a wrong type.
        """
        body = encode(replace(review, reference=None))
        row: dict[str, Any] = {
            "created_at": created_at,
            "clip_path": None if clip_path is None else str(clip_path),
            "clip_name": review.clip.name,
            "clip_sha256": review.clip.sha256,
            "second_clip_sha256": None if review.second is None else review.second.clip.sha256,
            "variation": review.exercise.id.partition("/")[2] or None,
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
            review_id = insert_row(connection, reviews, **row)
            insert_row(connection, documents, review_id=review_id, sha256=compute_digest(body), body=body)
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
            values: dict[str, Any] = {"session_on": session_on, "set_number": set_number, "variation": variation}
            values["client_id"] = client_id_for(connection, client, changed_at)
            values = {name: value for name, value in values.items() if value is not None} or {"id": review_id}
            query = update(reviews).where(reviews.c.id == review_id).values(storable(values))
            if connection.execute(query).rowcount == 0:
                raise self._no_review(review_id)

    def mark_reviews(self, review_ids: Sequence[int], **moments: datetime | None) -> None:
        """Note when reviews were seen, done, or asked to be deleted; None takes the note back (StoreError).

        Parameters
        ----------
        moments : ``seen_at``, ``done_at``, ``deletion_at``; what is not given stays, and so does when one was first
            seen. Reviews that are gone are passed over.
        """
        if unknown := moments.keys() - {"seen_at", "done_at", "deletion_at"}:
            raise ValueError(f"no such note: {unknown}")
        with self._writing() as connection:
            for some in in_batches(review_ids):
                for name, moment in moments.items():
                    query = update(reviews).where(reviews.c.id.in_(some)).values({name: moment})
                    if name == "seen_at" and moment is not None:
                        query = query.where(reviews.c.seen_at.is_(None))
                    connection.execute(query)

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
        marked: str | None = None,
        containing: str = "",
        limit: int | None = None,
    ) -> list[StoredReview]:
        """The rows that fit every given argument, the newest first (StoreError).

        Parameters
        ----------
        client : a name, whatever its capitals and spaces, or an id.
        with_reps : leave out sets in which no rep was found.
        without_client : only sets that have no client; each may be of another person.
        marked : name of a moment noted by `mark_reviews`: only reviews that have it.
        containing : a part of the client's, the exercise's or the clip's name, whatever its capitals.
        """
        wanted: dict[str, object] = {"exercise_id": exercise_id, "clip_sha256": clip_sha256, "clip_path": clip_path}
        wanted |= {"id": review_id, "session_on": session_on, "client_id": client if isinstance(client, int) else None}
        conditions = [reviews.c[name] == value for name, value in wanted.items() if value is not None]
        if isinstance(client, str):
            conditions.append(clients.c.name_key == make_name_key(client))
        if without_client:
            conditions.append(of_client(None))
        if with_reps:
            conditions.append(_HAS_REPS)
        if marked is not None:
            conditions.append(reviews.c[marked].is_not(None))
        if part := " ".join((storable_text(containing) or "").split()).casefold():
            names = clients.c.name_key, func.lower(reviews.c.exercise_name), func.lower(reviews.c.clip_name)
            conditions.append(or_(*(name.contains(part, autoescape=True) for name in names)))
        query = select(*_COLUMNS).select_from(_JOINED).where(*conditions)
        query = query.order_by(reviews.c.created_at.desc(), reviews.c.id.desc()).limit(limit)
        with self._reading() as connection:
            return [StoredReview(**row._mapping) for row in connection.execute(query)]

    def exercises_reviewed(self, *, client: int | None = None, without_client: bool = False) -> dict[str, str]:
        """Id → name of every exercise of which a set with reps is stored, the newest first.

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
        """How many reviews are stored, of a client, of an exercise, or at all."""
        wanted = {reviews.c.client_id: client, reviews.c.exercise_id: exercise_id}
        conditions = [column == value for column, value in wanted.items() if value is not None]
        with self._reading() as connection:
            return connection.execute(select(func.count()).select_from(reviews).where(*conditions)).scalar_one()

    def sessions(self, *, client: str | int | None = None, exercise_id: str | None = None) -> list[Session]:
        """Sessions, the oldest first: one for each client, day and exercise; a set reviewed twice counts once.

        Sets that have no client may each be of another person: every clip of them is a session of its own.
        """
        found: dict[tuple[date, str, str, str], dict[int, StoredReview]] = {}
        for row in reversed(self.list_reviews(client=client, exercise_id=exercise_id)):  # the newest of a set stays
            key = row.session_on, row.client or "", row.exercise_id, "" if row.client else row.clip_sha256
            found.setdefault(key, {})[row.set_number] = row
        sets = [tuple(found[key][number] for number in sorted(found[key])) for key in sorted(found)]
        return [Session(rows[0].session_on, rows[0].client, rows[0].exercise_id, rows) for rows in sets]

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
        return self.load_reviews([review_id])[review_id]

    def load_original(self, review_id: int) -> Review:
        """The review as the machine made it, whatever was corrected since (StoreError)."""
        return self.load_reviews([review_id], MADE)[review_id]

    def load_reviews(self, review_ids: Sequence[int], *sources: Select[Any]) -> dict[int, Review]:
        """Whole reviews by their numbers, as corrected where they were, in the order asked for (StoreError).

        Read together: asking for each by itself takes longer than reading them.
        """
        found: dict[int, Review] = {}
        for some in in_batches(review_ids, _LOADED_AT_ONCE):
            with self._reading() as connection:
                found |= self._load(connection, some, *(sources or (CORRECTED, MADE)))
        return found

    def delete_review(self, review_id: int, *, jobs: Sequence[int] = ()) -> None:
        """Delete a review for good, and with it these jobs (StoreError when there is none of this number)."""
        with self._writing() as connection:
            drop_jobs(connection, jobs)
            if connection.execute(delete(reviews).where(reviews.c.id == review_id)).rowcount == 0:
                raise self._no_review(review_id)
        clear_log(self.engine)

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
        needed = set[str]()
        with self._reading() as connection:
            for some in in_batches(sorted(clips)):
                for column in _CLIPS:
                    query = select(column).where(column.in_(some), other).distinct()
                    needed.update(connection.execute(query).scalars())
        return needed

    def _load(self, connection: Connection, review_ids: Sequence[int], *sources: Select[Any]) -> dict[int, Review]:
        """Reviews from the first source that holds each, and of one source the row that comes last (StoreError)."""
        found: dict[int, tuple[str, str]] = {}
        for source in sources:
            left = [number for number in review_ids if number not in found]
            rows = connection.execute(source.where(source.selected_columns.review_id.in_(left)))
            found |= {number: (sha256, body) for number, sha256, body in rows}
        for number in review_ids:
            if number not in found:
                raise self._no_review(number)
        return {number: self._read(number, *found[number]) for number in review_ids}

    def _read(self, review_id: int, sha256: str, body: str) -> Review:
        name = f"Review {review_id} in the store {FILE}"
        if compute_digest(body) != sha256:
            raise StoreError(f"{name} is damaged.", name=self.location)
        try:
            return decode(body)
        except ReviewFormatError as error:
            raise StoreError(f"{name} cannot be read: {error}", name=self.location) from error


def of_client(client_id: int | None) -> ColumnElement[bool]:
    """Whether a review is this client's, or nobody's; written so that PostgreSQL, too, can use an index for it."""
    return reviews.c.client_id.is_(None) if client_id is None else reviews.c.client_id == client_id


def summary_columns(review: Review) -> dict[str, Any]:
    """What a row says about its review."""
    by_side = count_by_either_side(review.reps)
    grades = list(grade_points(review).values())
    return {
        "exercise_id": review.exercise.id,
        "exercise_name": review.exercise.name,
        "view": review.view.name,
        "load_kg": review.set_info.load_kg,
        "target_reps": review.set_info.target_reps,
        "target_each_side": review.set_info.target_each_side,
        "complete_reps": review.complete_reps,
        "partial_reps": len(review.reps) - review.complete_reps,
        "left_reps": None if by_side is None else by_side["left"],
        "right_reps": None if by_side is None else by_side["right"],
        "problems": ",".join(problem.code for problem in review.quality.problems),
        **{str(verdict): amount for verdict, amount in count_points(review).items()},
        "probably_met": grades.count("probably_met"),
        "probably_not_met": grades.count("probably_not_met"),
        "too_close": grades.count("close"),
    }


def _next_set(connection: Connection, row: dict[str, Any], *, lock: bool = True) -> int:
    if lock and row["client_id"] is not None:
        # Two sets of one client that arrive at once get different numbers: the second waits here for the first.
        connection.execute(select(clients.c.id).where(clients.c.id == row["client_id"]).with_for_update())
    same = [reviews.c[name] == row[name] for name in ("session_on", "exercise_id")]
    same.append(of_client(row["client_id"]))
    again = select(reviews.c.set_number).where(*same, reviews.c.clip_sha256 == row["clip_sha256"])
    known = connection.execute(again.order_by(reviews.c.id.desc()).limit(1)).scalar()
    return int(known or (connection.execute(select(func.max(reviews.c.set_number)).where(*same)).scalar() or 0) + 1)


def _the_same(connection: Connection, row: dict[str, Any]) -> int | None:
    """The newest review of this clip, exercise and client; until the transaction ends nobody else adds one."""
    if connection.dialect.name == "postgresql":  # SQLite has one writer at a time anyway
        connection.execute(select(func.pg_advisory_xact_lock(int(row["clip_sha256"][:15], 16))))
    query = select(reviews.c.id).where(of_client(row["client_id"]))
    query = query.where(reviews.c.clip_sha256 == row["clip_sha256"], reviews.c.exercise_id == row["exercise_id"])
    found = connection.execute(query.order_by(reviews.c.id.desc()).limit(1)).scalar()
    return None if found is None else int(found)
