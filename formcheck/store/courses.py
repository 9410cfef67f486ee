"""A client's sessions with their reviews, notes and plans, as the training's statistics take them."""

from formcheck.store import Store
from formcheck.training.advice import TrainedSession, TrainedSet


def trained_sessions(store: Store, who: str | int, exercise_id: str) -> list[TrainedSession]:
    """All sessions of one exercise, the oldest first (StoreError when there is no such client)."""
    client = store.get_client(who)
    found = []
    for session in store.sessions(client=client.id, exercise_id=exercise_id):
        sets = tuple(TrainedSet(store.load_review(row.id), store.note_of(row.id)) for row in session.sets)
        held = store.plan_of(client.id, exercise_id, on=session.day)
        found.append(TrainedSession(session.day, sets, held.plan if held is not None else None))
    return found
