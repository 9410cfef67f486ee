"""Storing a correction of a review, and drawing anew what showed the numbers before it."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.reps.edits import Edits
from formcheck.services.review_outputs import load_review_outputs
from formcheck.services.stored_analysis import correct
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import layout
from formcheck.web.session_state import page_state
from formcheck.web.stored_reviews import load_cached_recording


def save_correction(number: int, wanted: Edits) -> None:
    """Store these corrections as those in force, and show the page again; a problem becomes a message."""
    with layout.show_errors(), Store.open() as store:
        recording = load_cached_recording(number)
        correct(store, number, wanted, data_home(), created_at=datetime.now(UTC), recording=recording)
        redraw_changed(number)


def redraw_changed(number: int) -> None:
    """Draw anew what showed the earlier numbers of a review, and show the page again."""
    redraw(number)
    st.rerun()


def redraw(number: int) -> None:
    """Draw anew what showed the earlier numbers of a review."""
    drawn = DataFolder(data_home()).artifacts(number)
    for path in (drawn.overlay, drawn.covered):
        path.unlink(missing_ok=True)
    for key in (number, -number):
        page_state().films.pop(key, None)
    if drawn.pictures_file.is_file():
        with st.spinner("Drawing the pictures anew"), Store.open() as store:
            made = load_review_outputs(store, number, data_home(), recording=load_cached_recording(number))
            made.write_drawn(drawn)
