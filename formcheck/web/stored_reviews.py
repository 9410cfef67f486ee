"""Landmarks and curves of stored reviews, kept in memory between two runs of a page."""

from pathlib import Path
from typing import NamedTuple

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.core.model import LandmarkRecording, Review
from formcheck.formats.stored_json import encode_edits
from formcheck.services.stored_analysis import StoredAnalysis, load_stored_analysis, load_stored_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home


class ReviewCurves(NamedTuple):
    """A stored review with what it is drawn from, which may be kept no more."""

    review: Review
    found: StoredAnalysis | None
    problem: str | None
    """Why there is none, in a sentence."""


def load_review_curves(review_id: int) -> ReviewCurves:
    """Fetch a review, and its landmarks and curves where they can be had (StoreError when there is no such review)."""
    with Store.open() as store:
        review = store.load_review(review_id)
    try:
        return ReviewCurves(review, load_cached_analysis(review_id), None)
    except FormcheckError as error:
        return ReviewCurves(review, None, str(error))


def load_cached_recording(review_id: int) -> LandmarkRecording:
    """As `load_stored_recording`, in the store and data folder of this user (StoreError, RecordingError)."""
    with Store.open() as store:
        return _recording(review_id, _landmarks_key(store, review_id, data_home()), store)


def load_cached_analysis(review_id: int) -> StoredAnalysis:
    """As `load_stored_analysis`, in the store and data folder of this user (FormcheckError)."""
    with Store.open() as store:
        review = store.load_review(review_id)
        (row,) = store.list_reviews(review_id=review_id)
        limits = [item.id for item in store.limits_of(review.exercise.id, client=row.client_id)]
        state = f"{review.exercise.id} {limits} {encode_edits(store.edits_of(review_id))}"
        return _analysis(review_id, _landmarks_key(store, review_id, data_home()), state, store)


def _landmarks_key(store: Store, review_id: int, home: Path) -> str:
    """Changes with whatever the landmarks of a review may be read from."""
    (row,) = store.list_reviews(review_id=review_id)
    drawn = DataFolder(home).artifacts(review_id).recording
    return f"{store.place} {row.clip_sha256} {drawn} {drawn.stat().st_mtime_ns if drawn.is_file() else None}"


@st.cache_resource(max_entries=8, show_spinner=False)
def _recording(review_id: int, landmarks: str, _store: Store) -> LandmarkRecording:
    return load_stored_recording(_store, review_id, data_home())


@st.cache_resource(max_entries=8, show_spinner=False)
def _analysis(review_id: int, landmarks: str, state: str, _store: Store) -> StoredAnalysis:
    recording = _recording(review_id, landmarks, _store)
    return load_stored_analysis(_store, review_id, data_home(), recording=recording)
