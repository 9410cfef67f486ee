"""What a client's page shows of one exercise, made once for what is stored: a year of sessions takes time to read."""

from dataclasses import dataclass

import streamlit as st

from formcheck.coaching.note import SetNote
from formcheck.coaching.progress import Progress, progress_of
from formcheck.storage import Session, Store
from formcheck.storage.data_folder import default_store
from formcheck.storage.sessions import noted_elsewhere, sessions_stamp, trained
from formcheck.web.charts.over_sessions import Course, courses


@dataclass(frozen=True, slots=True)
class ClientCourse:
    """One exercise over sessions, the oldest first."""

    stored: tuple[Session, ...]
    progress: Progress
    charts: tuple[Course, ...]
    notes: tuple[tuple[SetNote | None, ...], ...]
    """Of each session, the lifter's note on each set."""


def client_course(client_id: int, exercise_id: str, set_number: int) -> ClientCourse:
    """The course of one set over the sessions stored now (StoreError)."""
    with Store.open(default_store()) as store:
        return _made(client_id, exercise_id, set_number, sessions_stamp(store, client_id, exercise_id), store)


@st.cache_resource(max_entries=8, show_spinner="Reading the sessions")
def _made(client_id: int, exercise_id: str, set_number: int, stamp: str, _store: Store) -> ClientCourse:
    stored = tuple(_store.sessions(client=client_id, exercise_id=exercise_id))
    sessions = trained(_store, client_id, exercise_id, stored)
    notes = tuple(tuple(item.note for item in session.sets) for session in sessions)
    progress = progress_of(sessions, noted_elsewhere(_store, client_id, exercise_id), set_number=set_number)
    return ClientCourse(stored, progress, courses(sessions, set_number), notes)
