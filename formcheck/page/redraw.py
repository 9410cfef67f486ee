"""Drawing anew the pictures of a stored review that has none, such as one made on the command line."""

import time
from pathlib import Path

import streamlit as st

from formcheck.model import Review
from formcheck.page import frame
from formcheck.page.jobs import JobRequest, JobStatus, job_folder, read_status, resume_job, start_job
from formcheck.page.progress import progress_text
from formcheck.page.state import page_state
from formcheck.store.home import data_home

_POLL_S = 0.6


def show(review_id: int, clip_path: str | None, review: Review) -> None:
    """Start the drawing, or join it, and show how far it is; say so when the clip is gone."""
    if clip_path is None or not Path(clip_path).is_file():
        st.info("The clip of this review is no longer where it was, so only the numbers are shown.")
        return
    given = review.view.name if review.view.origin == "given" else "auto"
    request = JobRequest(clip_path, review.clip.name, review.exercise.id, given, review_id=review_id)
    jobs = page_state().redraws
    if review_id not in jobs:
        jobs[review_id] = start_job(data_home(), request)
    _follow(jobs[review_id])


@st.fragment(run_every=_POLL_S)
def _follow(job_id: str) -> None:
    folder = job_folder(data_home(), job_id)
    status = read_status(folder) if folder else JobStatus("failed", problem="The drawing was lost.")
    if status.state == "done":
        st.rerun()
    if status.state == "failed":
        st.error(frame.plain(status.problem or "The pictures could not be drawn."))
        return
    if status.silent(time.time()):
        resume_job(data_home(), job_id)
    st.progress(
        min(max(status.share, 0.0), 1.0), text=f"The clip with the skeleton is being drawn. {progress_text(status)}"
    )
