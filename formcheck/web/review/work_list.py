"""The reviews under way, waiting and just over, seen from every visit and every tab."""

import time
from html import escape
from pathlib import Path

import streamlit as st

from formcheck.exercises.registry import load_exercises
from formcheck.jobs.listing import Job, jobs_in_line, newest_jobs
from formcheck.jobs.queue import JobRequest, JobStatus, job_folder, next_in_line
from formcheck.jobs.remaining_time import line_seconds
from formcheck.services.delete import delete_upload
from formcheck.storage import Store
from formcheck.storage.client_files import PUT_AWAY
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
    jobs = [job for job in jobs_in_line(data_home()) if _new_review(job)]
    for job in newest_jobs(data_home(), limit=None):
        name, _, status = job
        folder = job_folder(data_home(), name)
        if not status.over or not _new_review(job) or folder is None or (folder / PUT_AWAY).exists():
            continue
        if status.state == "failed" or now - status.written_at < _OLD_S:
            jobs.append(job)
    return jobs[:_SHOWN]


def _new_review(job: Job) -> bool:
    return job[1].kind == "review" and job[1].review_id is None


def show() -> None:
    """List them, with progress and time left; nothing when there is none."""
    jobs = reviews_at_work(time.time())
    if not jobs:
        return
    if any(not status.over for *_, status in jobs):
        layout.show_section("Your reviews at work")
        _changing()
    else:
        layout.show_section(
            "Just reviewed" if any(status.state == "done" for *_, status in jobs) else "Could not be reviewed"
        )
        _rows(jobs)


def pace_words() -> str:
    """In which order the line is worked off and how long that will take."""
    left = time_left(line_seconds(data_home()))
    order = "One after the other, in this order"
    order += f" · {left} for everything in line. " if left else ". "
    return order + "You can close this page or the browser: the work goes on."


@st.fragment(run_every=_POLL_S)
def _changing() -> None:
    next_in_line(data_home())
    jobs = reviews_at_work(time.time())
    if all(status.over for *_, status in jobs):
        st.rerun()
    st.caption(pace_words())
    _rows(jobs)


def _rows(jobs: list[Job]) -> None:
    for job, request, status in jobs:
        with st.container(border=True, key=f"fc_job_{job}"):
            _row(job, request, status)


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
    folder = job_folder(data_home(), job)
    if folder is not None:
        (folder / PUT_AWAY).touch()
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
