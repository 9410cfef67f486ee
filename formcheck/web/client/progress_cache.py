"""The progress of one client in one exercise, cached until something is stored: a year of it takes time to read."""

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st

from formcheck.coaching.note import SetNote
from formcheck.coaching.progress import Progress, compute_progress
from formcheck.services.reference_rep import list_in_short
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
    beside_reference: Mapping[int, str]
    """Number of a review → what differs from the reference rep, in short."""


def load_client_progress(client_id: int, exercise_id: str, set_number: int) -> ClientProgress:
    """The progress of one set over the sessions stored now (StoreError)."""
    with Store.open() as store:
        return _make_progress(client_id, exercise_id, set_number, sessions_stamp(store, client_id, exercise_id), store)


@st.cache_resource(max_entries=8, show_spinner="Reading the sessions")
def _make_progress(client_id: int, exercise_id: str, set_number: int, stamp: str, _store: Store) -> ClientProgress:
    stored = tuple(_store.sessions(client=client_id, exercise_id=exercise_id))
    sessions = read_sessions(_store, client_id, exercise_id, stored)
    notes = tuple(tuple(item.note for item in session.sets) for session in sessions)
    every = [row for session in stored for row in session.sets]
    reviews = [item.review for session in sessions for item in session.sets]
    beside = list_in_short(_store, every, {row.id: review for row, review in zip(every, reviews, strict=True)})
    progress = compute_progress(sessions, noted_elsewhere(_store, client_id, exercise_id), set_number=set_number)
    return ClientProgress(stored, progress, collect_charts(sessions, set_number), notes, beside)
