"""Pictures or a film being drawn beside an open review, followed as the job goes on."""

import streamlit as st

from formcheck.jobs.queue import JobStatus, follow_job
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
    job = follow_job(job_id)
    status = job.status if job else JobStatus("failed", problem="The drawing was lost.")
    if status.state == "done":
        st.rerun()
    if status.state == "failed":
        st.error(layout.escape_markdown(status.problem or failed))
        return
    st.progress(min(max(status.share, 0.0), 1.0), text=f"{about} {progress_text(status)}".strip())
