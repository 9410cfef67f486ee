"""The progress of one client in one exercise, cached until something is stored: a year of it takes time to read."""

from dataclasses import dataclass

import streamlit as st

from formcheck.coaching.note import SetNote
from formcheck.coaching.progress import Progress, compute_progress
from formcheck.storage import Session, Store
from formcheck.storage.sessions import noted_elsewhere, read_sessions, sessions_stamp
from formcheck.web.charts.over_sessions import Chart, collect_charts


@dataclass(frozen=True, slots=True)
class ClientProgress:
    """One exercise over sessions, the oldest first."""

    stored: tuple[Session, ...]
    progress: Progress
    charts: tuple[Chart, ...]
    notes: tuple[tuple[SetNote | None, ...], ...]
    """Of each session, the lifter's note on each set."""


def load_client_progress(client_id: int, exercise_id: str, set_number: int) -> ClientProgress:
    """The progress of one set over the sessions stored now (StoreError)."""
    with Store.open() as store:
        return _make_progress(client_id, exercise_id, set_number, sessions_stamp(store, client_id, exercise_id), store)


@st.cache_resource(max_entries=8, show_spinner="Reading the sessions")
def _make_progress(client_id: int, exercise_id: str, set_number: int, stamp: str, _store: Store) -> ClientProgress:
    stored = tuple(_store.sessions(client=client_id, exercise_id=exercise_id))
    sessions = read_sessions(_store, client_id, exercise_id, stored)
    notes = tuple(tuple(item.note for item in session.sets) for session in sessions)
    progress = compute_progress(sessions, noted_elsewhere(_store, client_id, exercise_id), set_number=set_number)
    return ClientProgress(stored, progress, collect_charts(sessions, set_number), notes)
