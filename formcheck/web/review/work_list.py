"""The reviews under way, waiting and just over, seen from every visit and every tab."""

import time
from contextlib import suppress
from html import escape
from pathlib import Path

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.exercises.registry import load_exercises
from formcheck.jobs import queue
from formcheck.jobs.listing import jobs_in_line, newest_jobs
from formcheck.jobs.queue import Job, JobRequest, JobStatus, next_in_line
from formcheck.jobs.remaining_time import line_seconds
from formcheck.report import wording
from formcheck.services.delete import delete_upload
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home, default_store
from formcheck.web import layout
from formcheck.web.pages import PAGES
from formcheck.web.review.progress import progress_text, time_left

_POLL_S = 1.0
_SHOWN = 12
_OLD_S = 36 * 3600.0


def reviews_at_work(now: float) -> list[Job]:
    """New reviews in line, the one worked on first; then those that failed until they are put away, and those that
    were done in the last day and a half, the newest first."""
    newest = [job for job in newest_jobs(limit=None) if job.request.new_review]
    jobs = [job for job in reversed(newest) if not job.status.over]
    for job in newest:
        status = job.status
        if not status.over or job.put_away:
            continue
        if status.state == "failed" or now - status.heartbeat_at < _OLD_S:
            jobs.append(job)
    return jobs[:_SHOWN]


def show() -> None:
    """List them, with progress and time left; nothing when there is none."""
    jobs = reviews_at_work(time.time())
    if not jobs:
        return
    if any(not job.status.over for job in jobs):
        layout.show_section("Your reviews at work")
        _changing()
    else:
        layout.show_section(
            "Just reviewed" if any(job.status.state == "done" for job in jobs) else "Could not be reviewed"
        )
        _rows(jobs)


def show_line() -> None:
    """On pages that are about something else: one line on what is at work; nothing when nothing is.

    Where that cannot be read the page goes on without it.
    """
    with suppress(FormcheckError, OSError):
        if jobs_in_line():
            with st.container(key="fc_work_line"):
                _line()


@st.fragment(run_every=2 * _POLL_S)
def _line() -> None:
    words = ""
    with suppress(FormcheckError, OSError):
        next_in_line()
        words = line_words()
    if words:
        st.page_link(PAGES / "review_set.py", label=words, icon=":material/hourglass_top:")


def line_words() -> str:
    """What is at work, in one line; empty when nothing is."""
    line = jobs_in_line()
    if not line:
        return ""
    first, whole = time_left(line[0].status.seconds_left), time_left(line_seconds())
    parts = [f"{wording.count(len(line), 'clip')} at work"]
    if len(line) == 1:
        parts += [first or whole]
    else:
        parts += [f"{first} for the first" if first else "", f"{whole} for all" if whole else ""]
    return " · ".join(part for part in parts if part)


def pace_words() -> str:
    """In which order the line is worked off and how long that will take."""
    left = time_left(line_seconds())
    order = "One after the other, in this order"
    order += f" · {left} for everything in line. " if left else ". "
    return order + "You can close this page or the browser: the work goes on."


@st.fragment(run_every=_POLL_S)
def _changing() -> None:
    next_in_line()
    jobs = reviews_at_work(time.time())
    if all(job.status.over for job in jobs):
        st.rerun()
    st.caption(pace_words())
    _rows(jobs)


def _rows(jobs: list[Job]) -> None:
    for job in jobs:
        with st.container(border=True, key=f"fc_job_{job.name}"):
            _row(job.name, job.request, job.status)


def _row(job: str, request: JobRequest, status: JobStatus) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        st.html(job_head(request, status))
        if status.state == "done" and status.review_id is not None:
            if st.button("Read it", key=f"read_{job}", help=f"Read the review of {request.clip_name[:80]}"):
                st.switch_page(PAGES / "review_set.py", query_params={"review": str(status.review_id)})
        elif status.state == "failed" and st.button("Put away", key=f"away_{job}", help="Its clip is kept no longer"):
            with layout.show_errors():
                _put_away(job, request)
                st.rerun()
    if status.state in ("waiting", "working"):
        st.progress(min(max(status.share, 0.0), 1.0), text=progress_text(status))


def _put_away(job: str, request: JobRequest) -> None:
    """Show a failed review no more; its clips go where nothing else needs them."""
    queue.put_away([job])
    with Store.open(default_store()) as store:
        for path in filter(None, (request.clip_path, request.second_path)):
            delete_upload(store, Path(path), data_home())


def job_head(request: JobRequest, status: JobStatus) -> str:
    """Whose set, which exercise, and how it stands, as HTML."""
    exercises = load_exercises()
    base = request.exercise.partition("/")[0]
    exercise = exercises[base].name if base in exercises else request.exercise
    who = f"{escape(request.client)} · " if request.client else ""
    stands = {
        "queued": "waits for its turn",
        "waiting": "is being read",
        "working": "is being read",
        "done": "ready",
        "failed": f"not reviewed: {escape(status.problem or 'something went wrong')}",
    }[status.state]
    return (
        f'<div class="fc-set"><b>{who}{escape(exercise)}</b><span></span>'
        f"<span>“{escape(request.clip_name)}” {stands}</span></div>"
    )
