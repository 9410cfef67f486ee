"""The landmarks of a stored review, wherever they are kept, read once."""

import streamlit as st

from formcheck.core.errors import RecordingError
from formcheck.core.model import LandmarkRecording
from formcheck.services.correction import stored_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home, default_store, recordings_folder
from formcheck.storage.media_files import artefacts


def kept_landmarks(review_id: int) -> LandmarkRecording:
    """The landmarks beside the drawn results, else those of the earlier look (StoreError, RecordingError)."""
    path = artefacts(data_home(), review_id).recording
    return _read(review_id, path.stat().st_mtime_ns if path.is_file() else None, str(path))


@st.cache_resource(max_entries=8, show_spinner=False)
def _read(review_id: int, changed: int | None, path: str) -> LandmarkRecording:
    from formcheck.pose.recording import load_recording

    if changed is not None:
        try:
            return load_recording(path)
        except RecordingError:
            pass  # what was kept at the look itself may still be whole
    with Store.open(default_store()) as store:
        return stored_recording(store, review_id, recordings_folder())
