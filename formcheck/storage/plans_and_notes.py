"""Plans, the lifter's notes and own limits, each with what held before."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import Plan, parse_plan
from formcheck.core.errors import FILE, ReviewFormatError, StoreError, UsageError
from formcheck.exercises.limits import LimitChange
from formcheck.formats.stored_json import decode_limits, encode_limits
from formcheck.storage.clients import Clients
from formcheck.storage.database import ASKED_AT_ONCE, plain
from formcheck.storage.rows import StoredLimits, StoredPlan
from formcheck.storage.tables import limits, plans, reviews, set_notes

_NOTE = [set_notes.c[name] for name in SetNote.__dataclass_fields__]
_LIMITS = [limits.c[name] for name in StoredLimits.__dataclass_fields__ if name != "changes"]


class Training(Clients):
    """The part of the store that keeps what belongs to the training."""

    # ------------------------------------------------------------ plans

    def set_plan(
        self,
        who: str | int,
        exercise_id: str,
        plan: Plan | None,
        *,
        created_at: datetime,
        since: date | None = None,
        remark: str | None = None,
    ) -> StoredPlan:
        """Set what a client does from a day on; earlier plans stay in the history (StoreError).

        Parameters
        ----------
        plan : None ends the planning of this exercise.
        since : the first day it holds; the day of `created_at` in this machine's zone when not given.
        """
        row: dict[str, Any] = {"exercise_id": exercise_id, "created_at": created_at, "remark": plain(remark) or None}
        row |= {"since": since or created_at.astimezone().date(), "notation": None if plan is None else str(plan)}
        with self._writing() as connection:
            client = self._client(connection, who)
            key = connection.execute(insert(plans).values(client_id=client.id, **row)).inserted_primary_key
            assert key is not None
            return next(item for item in self._plans(connection, client.id, exercise_id) if item.id == int(key[0]))

    def plan_of(self, who: str | int, exercise_id: str, *, on: date) -> StoredPlan | None:
        """The plan that held on a day; None when there was none or it was ended (StoreError)."""
        held = [item for item in self.plan_history(who, exercise_id) if item.since <= on]
        return held[-1] if held and held[-1].plan is not None else None

    def plan_history(self, who: str | int, exercise_id: str | None = None) -> list[StoredPlan]:
        """Every plan ever set, by the day it began and then by when it was set (StoreError)."""
        with self._reading() as connection:
            return self._plans(connection, self._client(connection, who).id, exercise_id)

    def _plans(self, connection: Connection, client_id: int, exercise_id: str | None) -> list[StoredPlan]:
        query = select(plans).where(plans.c.client_id == client_id).order_by(plans.c.since, plans.c.id)
        if exercise_id is not None:
            query = query.where(plans.c.exercise_id == exercise_id)
        return [
            StoredPlan(
                row.id, row.client_id, row.exercise_id, row.created_at, row.since, _plan(row.notation), row.remark
            )
            for row in connection.execute(query)
        ]

    # ------------------------------------------------------------ notes

    def save_note(self, review_id: int, note: SetNote, *, written_at: datetime) -> None:
        """Keep the lifter's note on a set, in place of an earlier one (StoreError)."""
        values = {name: plain(value) if isinstance(value, str) else value for name, value in asdict(note).items()}
        with self._writing() as connection:
            if connection.execute(select(reviews.c.id).where(reviews.c.id == review_id)).first() is None:
                raise self._no_review(review_id)
            connection.execute(delete(set_notes).where(set_notes.c.review_id == review_id))
            connection.execute(insert(set_notes).values(review_id=review_id, written_at=written_at, **values))

    def note_of(self, review_id: int) -> SetNote | None:
        """The lifter's note on a set, if there is one (StoreError)."""
        with self._reading() as connection:
            row = connection.execute(select(*_NOTE).where(set_notes.c.review_id == review_id)).one_or_none()
        return None if row is None else _note(row)

    def notes_of(self, review_ids: Sequence[int]) -> dict[int, SetNote]:
        """The notes there are on some sets, by review (StoreError)."""
        found: dict[int, SetNote] = {}
        with self._reading() as connection:
            for begin in range(0, len(review_ids), ASKED_AT_ONCE):
                some = review_ids[begin : begin + ASKED_AT_ONCE]
                query = select(set_notes.c.review_id, *_NOTE).where(set_notes.c.review_id.in_(some))
                found |= {row.review_id: _note(row) for row in connection.execute(query)}
        return found

    # ------------------------------------------------------------ own limits

    def set_limits(
        self,
        exercise_id: str,
        changes: Mapping[str, LimitChange],
        *,
        created_at: datetime,
        client: str | int | None = None,
    ) -> StoredLimits:
        """Keep own limits, for one client or for all; no changes: the shipped ones hold again (StoreError)."""
        body = encode_limits(changes)
        with self._writing() as connection:
            client_id = None if client is None else self._client(connection, client).id
            row = {"exercise_id": exercise_id, "client_id": client_id, "created_at": created_at, "body": body}
            key = connection.execute(insert(limits).values(row)).inserted_primary_key
            assert key is not None
        return StoredLimits(int(key[0]), exercise_id, client_id, created_at, decode_limits(body))

    def limits_of(self, exercise_id: str, *, client: str | int | None = None) -> list[StoredLimits]:
        """Own limits in force: those for all clients, then the client's own, to be laid over in this order."""
        found = [self.limits_history(exercise_id)[-1:]]
        if client is not None:
            found.append(self.limits_history(exercise_id, client=client)[-1:])
        return [item for part in found for item in part if item.changes]

    def limits_history(self, exercise_id: str, *, client: str | int | None = None) -> list[StoredLimits]:
        """Own limits ever kept for one client, or for all when None, the oldest first (StoreError)."""
        with self._reading() as connection:
            client_id = None if client is None else self._client(connection, client).id
            query = select(*_LIMITS, limits.c.body).order_by(limits.c.id)
            query = query.where(limits.c.exercise_id == exercise_id, limits.c.client_id.is_not_distinct_from(client_id))
            return [self._stored_limits(row) for row in connection.execute(query)]

    def restore_limits(self, limits_id: int, *, created_at: datetime) -> StoredLimits:
        """Let earlier own limits hold again, as a new entry of the history (StoreError)."""
        with self._reading() as connection:
            row = connection.execute(select(*_LIMITS, limits.c.body).where(limits.c.id == limits_id)).one_or_none()
        if row is None:
            raise StoreError(f"There are no own limits number {limits_id} in the store {FILE}.", name=self.place)
        changes = self._changes(limits_id, row.body)
        return self.set_limits(row.exercise_id, changes, created_at=created_at, client=row.client_id)

    def _stored_limits(self, row: Any) -> StoredLimits:
        changes = self._changes(row.id, row.body)
        return StoredLimits(row.id, row.exercise_id, row.client_id, row.created_at, changes)

    def _changes(self, limits_id: int, body: str) -> Mapping[str, LimitChange]:
        try:
            return decode_limits(body)
        except ReviewFormatError as error:
            raise StoreError(f"The own limits number {limits_id} are damaged: {error}") from error


def _plan(notation: str | None) -> Plan | None:
    try:
        return None if notation is None else parse_plan(notation)
    except UsageError as error:
        raise StoreError(f"A stored plan is damaged: {error}") from error


def _note(row: Any) -> SetNote:
    try:
        return SetNote(**{name: row._mapping[name] for name in SetNote.__dataclass_fields__})
    except UsageError as error:
        raise StoreError(f"A stored note is damaged: {error}") from error
