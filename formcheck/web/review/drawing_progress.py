"""Work beside an open page, such as drawing pictures or a film, followed as its job goes on."""

from collections.abc import Callable

import streamlit as st

from formcheck.jobs.queue import Job, JobStatus, follow_job
from formcheck.web import layout
from formcheck.web.review.progress import progress_text

_POLL_S = 0.6


@st.fragment(run_every=_POLL_S)
def follow_work(
    job_id: str,
    *,
    about: str = "",
    failed: str,
    lost: str = "The drawing was lost.",
    on_done: Callable[[Job], None] = lambda _job: st.rerun(),
) -> None:
    """Show how far a job is, and carry it on when its worker is gone.

    Parameters
    ----------
    about : a sentence before the progress.
    failed, lost : what is said of a job that failed without a reason, and of one that is not known any more.
    on_done : what is done with the job that is done; by default the page is run again.
    """
    job = follow_job(job_id)
    status = job.status if job else JobStatus("failed", problem=lost)
    if job is not None and status.state == "done":
        on_done(job)
    elif status.state == "failed":
        st.error(layout.escape_markdown(status.problem or failed))
    else:
        st.progress(min(max(status.share, 0.0), 1.0), text=f"{about} {progress_text(status)}".strip())
