"""Part of a review: its files to save, the report for a screen and for paper, the clip, the numbers."""

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from formcheck.core.model import Review
from formcheck.formats import encode
from formcheck.formats.csv_table import write_measures_csv
from formcheck.jobs.queue import JobRequest, start_job
from formcheck.privacy.head_cover import PROMISE
from formcheck.services.file_names import name_file
from formcheck.services.review_outputs import ReviewOutputs, load_review_outputs
from formcheck.storage import Store
from formcheck.storage.data_folder import Artifacts, data_home
from formcheck.web.review.progress import follow_work
from formcheck.web.session_state import page_state
from formcheck.web.stored_reviews import load_cached_recording

_MIME_TYPES = {
    "pdf": "application/pdf",
    "html": "text/html",
    "mp4": "video/mp4",
    "csv": "text/csv",
    "json": "application/json",
}


def show(review_id: int, review: Review, clip_path: str | None, drawn: Artifacts) -> None:
    """Offer the files of a review; what takes time is made when it is asked for."""
    blur = st.checkbox("Blur faces in report and clip", key="blur_faces")
    if blur:
        st.caption(f"{PROMISE} The first file takes about as long as the clip, those after it are quick.")
    with Store.open() as store:
        base = name_file(store.list_reviews(review_id=review_id)[0])
    film = drawn.covered if blur else drawn.overlay
    films = page_state().films
    film_key = -review_id if blur else review_id  # two jobs; no review has a number below 1

    def offer(label: str, ending: str, make: Callable[[], str | bytes], key: str) -> None:
        covered = "_faces-blurred" if blur and ending not in ("csv", "json") else ""
        name = f"{base}{covered}.{ending}"
        st.download_button(label, make, name, _MIME_TYPES[ending], key=key, on_click="ignore")

    def load_outputs() -> ReviewOutputs:
        with Store.open() as store:
            return load_review_outputs(store, review_id, data_home(), recording=load_cached_recording(review_id))

    with st.container(horizontal=True):
        if drawn.recording.is_file():
            offer("Report (PDF)", "pdf", lambda: load_outputs().report_pdf(blur_faces=blur), "get_pdf")
            offer("Report (HTML)", "html", lambda: load_outputs().report_html(blur_faces=blur), "get_report")
        if film.is_file():
            offer("Clip with skeleton (MP4)", "mp4", film.read_bytes, "get_overlay")
        elif (
            clip_path
            and Path(clip_path).is_file()
            and drawn.recording.is_file()
            and st.button("Draw the skeleton into the clip", key="make_film", disabled=film_key in films)
        ):
            films[film_key] = start_job(_request_film(review_id, review, clip_path, blur))
            st.rerun()
        offer("Numbers (CSV)", "csv", lambda: write_measures_csv(review), "get_csv")
        offer("Numbers (JSON)", "json", lambda: encode(review, indent=2) + "\n", "get_json")
    if not film.is_file() and film_key in films:
        follow_work(films[film_key], failed="The skeleton could not be drawn.")


def _request_film(review_id: int, review: Review, clip_path: str, blur: bool) -> JobRequest:
    return JobRequest(
        clip_path, review.clip.name, review.exercise.id, "auto", review_id=review_id, kind="film", blur_faces=blur
    )
