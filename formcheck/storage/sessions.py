"""A client's sessions with their reviews, notes and plans, as the training's statistics take them."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from itertools import groupby

from formcheck.coaching.advice import TrainedSession, TrainedSet, load_rules
from formcheck.coaching.note import SetNote
from formcheck.coaching.pain_history import NotedSession, find_pain_elsewhere
from formcheck.storage import Session, Store
from formcheck.storage.plans_and_notes import find_plan
from formcheck.storage.rows import StoredReview

SetKey = tuple[str, date, int]
"""Exercise, day and number of a set of one client."""


def trained_sessions(store: Store, who: str | int, exercise_id: str) -> list[TrainedSession]:
    """All sessions of one exercise, the oldest first (StoreError when there is no such client)."""
    client = store.get_client(who)
    return read_sessions(store, client.id, exercise_id, store.sessions(client=client.id, exercise_id=exercise_id))


def read_sessions(store: Store, client_id: int, exercise_id: str, sessions: Sequence[Session]) -> list[TrainedSession]:
    """These sessions of a client's exercise, in their order, with all that is stored of them (StoreError)."""
    plans = store.plan_history(client_id, exercise_id)
    reviews = store.load_reviews(_list_numbers(sessions))
    notes = _read_notes(store, store.list_reviews(client=client_id, exercise_id=exercise_id))
    return [
        TrainedSession(
            session.day,
            tuple(TrainedSet(reviews[row.id], notes.get(_set_key(row))) for row in session.sets),
            held.plan if (held := find_plan(plans, session.day)) else None,
        )
        for session in sessions
    ]


def noted_elsewhere(store: Store, client_id: int, exercise_id: str) -> list[NotedSession]:
    """What was noted in the newest sessions of the client's other exercises: all that may hold back this one.

    As many sessions of each as the rules look back, the oldest first (StoreError); no review is read for it.
    """
    rows = [row for row in store.list_reviews(client=client_id) if row.exercise_id != exercise_id]
    days: dict[str, set[date]] = {}
    for row in rows:
        days.setdefault(row.exercise_id, set()).add(row.session_on)
    newest = {(name, day) for name, some in days.items() for day in sorted(some)[-load_rules().pain.sessions :]}
    recent = [row for row in rows if (row.exercise_id, row.session_on) in newest]
    notes = _read_notes(store, recent)
    sets = sorted({(row.session_on, row.exercise_id, row.set_number) for row in recent})
    return [
        NotedSession(day, name, tuple(notes.get((name, day, number)) for *_, number in some))
        for (day, name), some in groupby(sets, key=lambda one: one[:2])
    ]


def sessions_stamp(store: Store, client_id: int, exercise_id: str) -> str:
    """A short text that changes whenever a course made of the client's sessions would; no review is read for it."""
    sessions = store.sessions(client=client_id, exercise_id=exercise_id)
    parts = (
        store.location,
        sessions,
        store.newest_corrections(_list_numbers(sessions)),
        sorted(_read_notes(store, store.list_reviews(client=client_id, exercise_id=exercise_id)).items()),
        store.plan_history(client_id, exercise_id),
        store.list_reference_reps(client=client_id, exercise_id=exercise_id),
        find_pain_elsewhere(noted_elsewhere(store, client_id, exercise_id), exercise_id, load_rules().pain.sessions),
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _read_notes(store: Store, rows: Sequence[StoredReview]) -> Mapping[SetKey, SetNote]:
    """What was noted of each set, whichever of its reviews the note was written to: a new one forgets no pain."""
    written = store.notes_of([row.id for row in rows])
    found: dict[SetKey, SetNote] = {}
    for row in sorted(rows, key=lambda item: (item.created_at, item.id)):
        if (note := written.get(row.id)) is not None:
            key = _set_key(row)
            found[key] = note if key not in found else _merge_read_notes(found[key], note)
    return found


def _merge_read_notes(before: SetNote, after: SetNote) -> SetNote:
    """The later note, with what it leaves open taken from the earlier one."""
    both = asdict(before) | {name: value for name, value in asdict(after).items() if value is not None}
    return SetNote(**{**both, "pain_where": both["pain_where"] if both["pain"] else None})


def _set_key(row: StoredReview) -> SetKey:
    return row.exercise_id, row.session_on, row.set_number


def _list_numbers(sessions: Sequence[Session]) -> list[int]:
    return [row.id for session in sessions for row in session.sets]
