"""Plans, the lifter's notes and own limits, each with what held before."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

from sqlalchemy import RowMapping, delete, select

from formcheck.coaching.note import SetNote
from formcheck.coaching.plan import Plan, parse_plan
from formcheck.core.errors import FILE, StoreError
from formcheck.exercises.limits import LimitChange, note_measures
from formcheck.exercises.registry import load_exercises
from formcheck.formats.stored_json import decode_limits, encode_limits
from formcheck.storage.clients import Clients
from formcheck.storage.database import decoding_errors, in_batches, insert_row
from formcheck.storage.rows import StoredLimits, StoredPlan
from formcheck.storage.tables import limits, plans, reviews, set_notes

_NOTE = [set_notes.c[name] for name in SetNote.__dataclass_fields__]


class Training(Clients):
    """The part of the store that holds what belongs to the training."""

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
        row: dict[str, Any] = {"exercise_id": exercise_id, "created_at": created_at}
        row |= {"since": since or created_at.astimezone().date(), "remark": remark or None}
        with self._writing() as connection:
            row["client_id"] = self._client(connection, who).id
            number = insert_row(connection, plans, notation=None if plan is None else str(plan), **row)
        return StoredPlan(id=number, plan=plan, **row)

    def plan_of(self, who: str | int, exercise_id: str, *, on: date) -> StoredPlan | None:
        """The plan that held on a day; None when there was none or it was ended (StoreError)."""
        return find_plan(self.plan_history(who, exercise_id), on)

    def plan_history(self, who: str | int, exercise_id: str | None = None) -> list[StoredPlan]:
        """Every plan ever set, by the day it began and then by when it was set (StoreError)."""
        with self._reading() as connection, decoding_errors("A stored plan is damaged"):
            query = select(plans).where(plans.c.client_id == self._client(connection, who).id)
            if exercise_id is not None:
                query = query.where(plans.c.exercise_id == exercise_id)
            rows = [dict(row) for row in connection.execute(query.order_by(plans.c.since, plans.c.id)).mappings()]
            notations = [row.pop("notation") for row in rows]
            parsed = [None if notation is None else parse_plan(notation) for notation in notations]
        return [StoredPlan(plan=plan, **row) for plan, row in zip(parsed, rows, strict=True)]

    # ------------------------------------------------------------ notes

    def save_note(self, review_id: int, note: SetNote, *, written_at: datetime) -> None:
        """Store the lifter's note on a set, in place of an earlier one (StoreError)."""
        with self._writing() as connection:
            if connection.execute(select(reviews.c.id).where(reviews.c.id == review_id)).first() is None:
                raise self._no_review(review_id)
            connection.execute(delete(set_notes).where(set_notes.c.review_id == review_id))
            insert_row(connection, set_notes, review_id=review_id, written_at=written_at, **asdict(note))

    def note_of(self, review_id: int) -> SetNote | None:
        """The lifter's note on a set, if there is one (StoreError)."""
        return self.notes_of([review_id]).get(review_id)

    def notes_of(self, review_ids: Sequence[int]) -> dict[int, SetNote]:
        """The notes there are on some sets, by review (StoreError)."""
        found: dict[int, SetNote] = {}
        with self._reading() as connection, decoding_errors("A stored note is damaged"):
            for some in in_batches(review_ids):
                query = select(set_notes.c.review_id, *_NOTE).where(set_notes.c.review_id.in_(some))
                found |= {number: SetNote(*values) for number, *values in connection.execute(query)}
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
        """Store own limits, for one client or for all; no changes: the shipped ones hold again (StoreError).

        They are set for the measures by which the exercise is judged today.
        """
        exercise = load_exercises().get(exercise_id)
        noted = changes if exercise is None else note_measures(exercise, changes)
        return self._add_limits(exercise_id, noted, created_at=created_at, client=client)

    def _add_limits(
        self,
        exercise_id: str,
        changes: Mapping[str, LimitChange],
        *,
        created_at: datetime,
        client: str | int | None,
    ) -> StoredLimits:
        body = encode_limits(changes)
        with self._writing() as connection:
            client_id = None if client is None else self._client(connection, client).id
            row: dict[str, Any] = {"exercise_id": exercise_id, "client_id": client_id, "created_at": created_at}
            number = insert_row(connection, limits, body=body, **row)
        return StoredLimits(id=number, changes=decode_limits(body), **row)

    def limits_of(self, exercise_id: str, *, client: str | int | None = None) -> list[StoredLimits]:
        """Own limits in force: those for all clients, then the client's own, to be laid over in this order."""
        found = [self.limits_history(exercise_id)[-1:]]
        if client is not None:
            found.append(self.limits_history(exercise_id, client=client)[-1:])
        return [item for part in found for item in part if item.changes]

    def limits_history(self, exercise_id: str, *, client: str | int | None = None) -> list[StoredLimits]:
        """Own limits ever stored for one client, or for all when None, the oldest first (StoreError)."""
        with self._reading() as connection:
            client_id = None if client is None else self._client(connection, client).id
            query = select(limits).order_by(limits.c.id)
            query = query.where(limits.c.exercise_id == exercise_id, limits.c.client_id.is_not_distinct_from(client_id))
            return [_read_limits(row) for row in connection.execute(query).mappings()]

    def restore_limits(self, limits_id: int, *, created_at: datetime) -> StoredLimits:
        """Let earlier own limits hold again, as a new entry of the history (StoreError)."""
        with self._reading() as connection:
            row = connection.execute(select(limits).where(limits.c.id == limits_id)).mappings().one_or_none()
        if row is None:
            raise StoreError(f"There are no own limits number {limits_id} in the store {FILE}.", name=self.location)
        found = _read_limits(row)
        return self._add_limits(found.exercise_id, found.changes, created_at=created_at, client=found.client_id)


def _read_limits(row: RowMapping) -> StoredLimits:
    values = dict(row)
    with decoding_errors(f"The own limits number {row['id']} are damaged"):
        return StoredLimits(changes=decode_limits(values.pop("body")), **values)


def find_plan(plans: Sequence[StoredPlan], day: date) -> StoredPlan | None:
    """The plan of a history that held on a day; None when there was none or it was ended."""
    newest = next((item for item in reversed(plans) if item.since <= day), None)
    return newest if newest is not None and newest.plan is not None else None
