"""What can be taken along from a review: report, numbers, and the clip with the skeleton once it is drawn."""

import time
from pathlib import Path

import streamlit as st

from formcheck.codec import encode
from formcheck.model import Review
from formcheck.page import frame
from formcheck.page.jobs import JobRequest, JobStatus, job_folder, read_status, resume_job, start_job
from formcheck.page.progress import progress_text
from formcheck.page.shelf import Artefacts
from formcheck.page.state import page_state
from formcheck.store.home import data_home

_POLL_S = 0.8


def show(review_id: int, review: Review, clip_path: str | None, drawn: Artefacts) -> None:
    """Offer the files of a review."""
    frame.section("To take along")
    name = f"formcheck-review-{review_id}"
    with st.container(horizontal=True):
        if drawn.report.is_file():
            _file("Report (HTML)", drawn.report, f"{name}.html", "text/html", "get_report")
        st.download_button(
            "Numbers (JSON)",
            encode(review, indent=2),
            f"{name}.json",
            "application/json",
            key="get_json",
            on_click="ignore",
        )
        if drawn.overlay.is_file():
            _file("Clip with skeleton (MP4)", drawn.overlay, f"{name}.mp4", "video/mp4", "get_overlay")
        elif clip_path and Path(clip_path).is_file() and drawn.recording.is_file():
            _film_button(review_id, review, clip_path)
    if not drawn.overlay.is_file() and (job := page_state().films.get(review_id)):
        _follow(job)


def _file(label: str, path: Path, name: str, kind: str, key: str) -> None:
    st.download_button(label, path.read_bytes, name, kind, key=key, on_click="ignore")


def _film_button(review_id: int, review: Review, clip_path: str) -> None:
    films = page_state().films
    if st.button("Draw the skeleton into the clip", key="make_film", disabled=review_id in films):
        request = JobRequest(clip_path, review.clip.name, review.exercise.id, "auto", review_id=review_id, kind="film")
        films[review_id] = start_job(data_home(), request)
        st.rerun()


@st.fragment(run_every=_POLL_S)
def _follow(job_id: str) -> None:
    folder = job_folder(data_home(), job_id)
    status = read_status(folder) if folder else JobStatus("failed", problem="The drawing was lost.")
    if status.state == "done":
        st.rerun()
    if status.state == "failed":
        st.error(frame.plain(status.problem or "The skeleton could not be drawn."))
        return
    if status.silent(time.time()):
        resume_job(data_home(), job_id)
    st.progress(min(max(status.share, 0.0), 1.0), text=progress_text(status))
