"""Second step of a review: the work under way, followed as the job goes on."""

import streamlit as st

from formcheck.jobs.listing import jobs_in_line
from formcheck.jobs.queue import STAGES, Job, JobStatus, find_job, follow_job
from formcheck.jobs.remaining_time import line_seconds
from formcheck.report import wording
from formcheck.web import layout
from formcheck.web.components import review_html
from formcheck.web.session_state import open_in_page

_POLL_S = 0.6


def show(job_id: str) -> None:
    """Show the progress until there is a result or a sentence why there is none."""
    if find_job(job_id) is None:
        st.warning("This review is not known on this machine.")
        _back()
        return
    st.html(
        '<header class="fc-hero"><h1>Reading the set</h1>'
        "<p>You can close or reload this page; the work goes on.</p></header>"
    )
    _follow(job_id)
    if st.button("Review more clips meanwhile", key="more"):
        open_in_page()
        st.rerun()


@st.fragment(run_every=_POLL_S)
def _follow(job_id: str) -> None:
    job = follow_job(job_id)
    if job is None:
        return
    status = job.status
    if status.state == "done" and status.review_id is not None:
        open_in_page(review_id=status.review_id)
        st.rerun()
    if status.state == "failed":
        st.error(layout.escape_markdown(status.problem or "The review failed."))
        _back()
        return
    if status.state == "queued":
        _wait(job)
        return
    st.progress(min(max(status.share, 0.0), 1.0), text=progress_text(status))
    st.html(review_html.render_steps(STAGES, status.stage))


def _wait(job: Job) -> None:
    """What comes before a job that stands in line."""
    line = jobs_in_line()
    others = sum(other.id < job.id for other in line)
    if others == 0 or line[-1].id < job.id:
        return
    first, status = line[0].request, line[0].status
    left = time_left(line_seconds(until=job.name))
    words = f"{wording.count(others, 'piece')} of work before this one · now: {status.stage or 'Starting'}"
    words += f" · {left} until this one is ready" if left else ""
    if others == 1 and first.clip_path == job.request.clip_path:
        words = f"{status.stage or 'Starting'} · {left}" if left else status.stage  # the first look at this clip
    st.progress(min(max(status.share, 0.0), 1.0), text=words)


def progress_text(status: JobStatus) -> str:
    """The stage and the time left in one line."""
    stage = status.stage or "Starting"
    left = time_left(status.seconds_left)
    return f"{stage} · {left}" if left else stage


def time_left(seconds: float | None) -> str:
    """Time left as a person would say it; empty when unknown."""
    if seconds is None:
        return ""
    if seconds < 5:
        return "a few seconds left"
    if seconds < 90:
        return f"about {round(seconds / 5) * 5} seconds left"
    return f"about {round(seconds / 60)} minutes left"


def _back() -> None:
    if st.button("Choose another clip", key="back"):
        open_in_page()
        st.rerun()
