"""What can be taken along from a review: the report for a screen and for paper, the clip, the numbers."""

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from formcheck.core.model import Review
from formcheck.formats import encode
from formcheck.formats.csv_table import measures_csv
from formcheck.jobs.queue import JobRequest, start_job
from formcheck.privacy.head_cover import PROMISE
from formcheck.services.review_outputs import ReviewOutputs, load_review_outputs
from formcheck.storage import Store
from formcheck.storage.data_folder import Artifacts, data_home, default_store
from formcheck.web import layout
from formcheck.web.review.drawing_progress import follow_work
from formcheck.web.session_state import page_state
from formcheck.web.stored_reviews import load_cached_recording


def show(review_id: int, review: Review, clip_path: str | None, drawn: Artifacts) -> None:
    """Offer the files of a review."""
    layout.show_section("To take along")
    name = f"formcheck-review-{review_id}"
    blur = st.checkbox("Blur faces in report and clip", key="blur_faces")
    if blur:
        st.caption(f"{PROMISE} The first file takes about as long as the clip, those after it are quick.")
    covered = "-faces-blurred" if blur else ""
    with st.container(horizontal=True):
        if drawn.recording.is_file():
            _made("Report (PDF)", _pdf(review_id, blur), f"{name}{covered}.pdf", "application/pdf", "get_pdf")
            _made("Report (HTML)", _html(review_id, blur), f"{name}{covered}.html", "text/html", "get_report")
        film = drawn.covered if blur else drawn.overlay
        if film.is_file():
            _made("Clip with skeleton (MP4)", film.read_bytes, f"{name}{covered}.mp4", "video/mp4", "get_overlay")
        elif clip_path and Path(clip_path).is_file() and drawn.recording.is_file():
            _film_button(review_id, review, clip_path, blur)
        numbers = ("Numbers (CSV)", measures_csv(review).encode("utf-8")), ("Numbers (JSON)", _json(review))
        _made(*numbers[0], f"{name}.csv", "text/csv", "get_csv")
        _made(*numbers[1], f"{name}.json", "application/json", "get_json")
    if not film.is_file() and (job := page_state().films.get(_film_key(review_id, blur))):
        follow_work(job, failed="The skeleton could not be drawn.")


def _made(label: str, data: bytes | Callable[[], bytes], name: str, kind: str, key: str) -> None:
    """A file to save; what is a function is made when it is asked for."""
    st.download_button(label, data, name, kind, key=key, on_click="ignore")


def _json(review: Review) -> bytes:
    return (encode(review, indent=2) + "\n").encode("utf-8")


def _pdf(review_id: int, blur: bool) -> Callable[[], bytes]:
    return lambda: _handout(review_id).report_pdf(blur_faces=blur)


def _html(review_id: int, blur: bool) -> Callable[[], bytes]:
    return lambda: _handout(review_id).report_html(blur_faces=blur).encode("utf-8")


def _handout(review_id: int) -> ReviewOutputs:
    with Store.open(default_store()) as store:
        return load_review_outputs(store, review_id, data_home(), recording=load_cached_recording(review_id))


def _film_key(review_id: int, blur: bool) -> int:
    """Films with and without faces are two jobs; no review has a number below 1."""
    return -review_id if blur else review_id


def _film_button(review_id: int, review: Review, clip_path: str, blur: bool) -> None:
    films, key = page_state().films, _film_key(review_id, blur)
    if st.button("Draw the skeleton into the clip", key="make_film", disabled=key in films):
        request = JobRequest(
            clip_path,
            review.clip.name,
            review.exercise.id,
            "auto",
            review_id=review_id,
            kind="film",
            blur_faces=blur,
        )
        films[key] = start_job(request)
        st.rerun()
