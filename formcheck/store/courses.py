"""A client's sessions with their reviews, notes and plans, as the training's statistics take them."""

import hashlib
from collections.abc import Sequence
from datetime import date

from formcheck.store import Session, Store, StoredPlan
from formcheck.training.advice import TrainedSession, TrainedSet
from formcheck.training.plan import Plan


def trained_sessions(store: Store, who: str | int, exercise_id: str) -> list[TrainedSession]:
    """All sessions of one exercise, the oldest first (StoreError when there is no such client)."""
    client = store.get_client(who)
    return trained(store, client.id, exercise_id, store.sessions(client=client.id, exercise_id=exercise_id))


def trained(store: Store, client_id: int, exercise_id: str, sessions: Sequence[Session]) -> list[TrainedSession]:
    """These sessions of a client's exercise, in their order, with all that is stored of them (StoreError)."""
    plans = store.plan_history(client_id, exercise_id)
    numbers = _numbers(sessions)
    reviews, notes = store.load_reviews(numbers), store.notes_of(numbers)
    return [
        TrainedSession(
            session.day,
            tuple(TrainedSet(reviews[row.id], notes.get(row.id)) for row in session.sets),
            _held(plans, session.day),
        )
        for session in sessions
    ]


def sessions_stamp(store: Store, client_id: int, exercise_id: str) -> str:
    """A short text that changes whenever `trained_sessions` would give something else; no review is read for it."""
    sessions = store.sessions(client=client_id, exercise_id=exercise_id)
    numbers = _numbers(sessions)
    parts = (
        store.place,
        sessions,
        store.newest_corrections(numbers),
        sorted(store.notes_of(numbers).items()),
        store.plan_history(client_id, exercise_id),
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _numbers(sessions: Sequence[Session]) -> list[int]:
    return [row.id for session in sessions for row in session.sets]


def _held(plans: Sequence[StoredPlan], day: date) -> Plan | None:
    """The plan of the newest entry that began by then; one that ended the planning has none."""
    return next((item.plan for item in reversed(plans) if item.since <= day), None)
