"""Pictures or a film being drawn beside an open review, followed from the status file."""

import time

import streamlit as st

from formcheck.jobs.queue import JobStatus, job_folder, read_status, resume_job
from formcheck.storage.data_folder import data_home
from formcheck.web import layout
from formcheck.web.review.progress import progress_text

_POLL_S = 0.6


@st.fragment(run_every=_POLL_S)
def follow_drawing(job_id: str, *, about: str = "", failed: str) -> None:
    """Show how far a drawing is, carry it on when its worker is gone, and rerun the page when it is done.

    Parameters
    ----------
    about : a sentence before the progress.
    failed : what is said when a drawing that failed gives no reason.
    """
    folder = job_folder(data_home(), job_id)
    status = read_status(folder) if folder else JobStatus("failed", problem="The drawing was lost.")
    if status.state == "done":
        st.rerun()
    if status.state == "failed":
        st.error(layout.escape_markdown(status.problem or failed))
        return
    if status.silent(time.time()):
        resume_job(data_home(), job_id)
    st.progress(min(max(status.share, 0.0), 1.0), text=f"{about} {progress_text(status)}".strip())
