"""Landmarks and curves of stored reviews, cached in memory between two runs of a page."""

from typing import NamedTuple

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.core.model import Analysis, LandmarkRecording, Review
from formcheck.formats.stored_json import encode_edits
from formcheck.reps.edits import Edits
from formcheck.services.stored_analysis import (
    StoredAnalysis,
    analyse_corrected,
    load_stored_analysis,
    load_stored_recording,
)
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home


class ReviewCurves(NamedTuple):
    """A stored review with what it is drawn from, which may not be stored any more."""

    review: Review
    found: StoredAnalysis | None
    problem: str | None
    """Why there is none, in a sentence."""


def load_review_curves(review_id: int) -> ReviewCurves:
    """Fetch a review, and its landmarks and curves where they can be had (StoreError when there is no such review)."""
    with Store.open() as store:
        review = store.load_review(review_id)
        try:
            state = _describe_state(store, review_id, review.exercise.id, store.edits_of(review_id))
            return ReviewCurves(review, _analysis(review_id, _landmarks_key(store, review_id), state, store), None)
        except FormcheckError as error:
            return ReviewCurves(review, None, str(error))


def load_cached_recording(review_id: int) -> LandmarkRecording:
    """As `load_stored_recording`, in the store and data folder of this user (StoreError, RecordingError)."""
    with Store.open() as store:
        return _recording(review_id, _landmarks_key(store, review_id), store)


def analyse_correction(review_id: int, edits: Edits) -> Analysis:
    """What the analysis says with these corrections; nothing is stored (FormcheckError)."""
    with Store.open() as store:
        exercise_id = edits.exercise_id or store.load_original(review_id).exercise.id
        state = _describe_state(store, review_id, exercise_id, edits)
        return _corrected(review_id, _landmarks_key(store, review_id), state, store, edits)


def _describe_state(store: Store, review_id: int, exercise_id: str, edits: Edits) -> str:
    """Changes with whatever an analysis of the landmarks depends on."""
    (row,) = store.list_reviews(review_id=review_id)
    limits = [item.id for item in store.limits_of(exercise_id, client=row.client_id)]
    return f"{exercise_id} {limits} {encode_edits(edits)}"


def _landmarks_key(store: Store, review_id: int) -> str:
    """Changes with whatever the landmarks of a review may be read from."""
    (row,) = store.list_reviews(review_id=review_id)
    drawn = DataFolder(data_home()).artifacts(review_id).recording
    return f"{store.location} {row.clip_sha256} {drawn} {drawn.stat().st_mtime_ns if drawn.is_file() else None}"


@st.cache_resource(max_entries=8, show_spinner=False)
def _recording(review_id: int, landmarks: str, _store: Store) -> LandmarkRecording:
    return load_stored_recording(_store, review_id, data_home())


@st.cache_resource(max_entries=8, show_spinner=False)
def _analysis(review_id: int, landmarks: str, state: str, _store: Store) -> StoredAnalysis:
    recording = _recording(review_id, landmarks, _store)
    return load_stored_analysis(_store, review_id, data_home(), recording=recording)


@st.cache_resource(max_entries=8, show_spinner=False)
def _corrected(review_id: int, landmarks: str, state: str, _store: Store, _edits: Edits) -> Analysis:
    recording = _recording(review_id, landmarks, _store)
    return analyse_corrected(_store, review_id, _edits, data_home(), recording=recording)
