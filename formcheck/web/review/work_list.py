"""The reviews under way, waiting and just over, seen from every visit and every tab."""

import time
from contextlib import suppress
from pathlib import Path

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.exercises.registry import load_exercises
from formcheck.jobs import queue
from formcheck.jobs.queue import Job, JobStatus, jobs_in_line, newest_jobs, next_in_line
from formcheck.jobs.remaining_time import line_seconds
from formcheck.report import wording
from formcheck.services.delete import delete_upload
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home
from formcheck.web import controls, layout
from formcheck.web.components.menu_watch import await_closed_menus
from formcheck.web.inbox.rows import make_rows
from formcheck.web.markup import render
from formcheck.web.review.progress import describe_progress, describe_time_left, show_bar, show_same_set_question

_POLL_S = 1.0
_SHOWN = 12
_OLD_S = 36 * 3600.0
_STATES = {"queued": "waits for its turn", "waiting": "is being read", "working": "is being read", "done": "ready"}


def list_reviews_at_work(now: float) -> list[Job]:
    """New reviews in line, the one worked on first; then those that failed until they are put away, and those that
    were done in the last day and a half, the newest first."""
    newest = [job for job in newest_jobs(limit=None) if job.request.new_review]
    in_line = [job for job in reversed(newest) if not job.status.over]
    over = [job for job in newest if job.status.over and not job.put_away and not _is_old(job.status, now)]
    return [*in_line, *over][:_SHOWN]


def _is_old(status: JobStatus, now: float) -> bool:
    return status.state != "failed" and now - status.heartbeat_at >= _OLD_S


def show_at_work() -> None:
    """List them, with progress and time left, as long as one is at work; nothing else."""
    if any(not job.status.over for job in list_reviews_at_work(time.time())):
        with st.container(key="fc_queue"):
            layout.show_section("Your reviews at work")
            _follow_jobs()


def show_over() -> None:
    """List them once all are over; nothing when there is none."""
    jobs = list_reviews_at_work(time.time())
    if jobs and all(job.status.over for job in jobs):
        done, asked = any(job.status.state == "done" for job in jobs), any(job.asks_same_set for job in jobs)
        with st.container(key="fc_queue"):
            layout.show_section("A question first" if asked else "Just reviewed" if done else "Could not be reviewed")
            _show_jobs(sorted(jobs, key=lambda job: not job.asks_same_set))


@st.fragment(run_every=_POLL_S)
def _follow_jobs() -> None:
    next_in_line()
    jobs = list_reviews_at_work(time.time())
    if all(job.status.over for job in jobs) and await_closed_menus("fc_queue_menus", len(jobs)):
        st.rerun()
    st.caption(describe_pace())
    _show_jobs(jobs)


def show_line() -> None:
    """On pages that are about something else: one line on what is at work; nothing when nothing is.

    Where that cannot be read the page goes on without it.
    """
    with suppress(FormcheckError, OSError):
        if jobs_in_line():
            with st.container(key="fc_work_line"):
                _follow_line()


@st.fragment(run_every=2 * _POLL_S)
def _follow_line() -> None:
    words = ""
    with suppress(FormcheckError, OSError):
        next_in_line()
        words = describe_line()
    if words:
        controls.show_link("review_set", words, "hourglass_top")


def describe_line() -> str:
    """What is at work, in one line; empty when nothing is."""
    line = jobs_in_line()
    if not line:
        return ""
    first, whole = describe_time_left(line[0].status.seconds_left), describe_time_left(line_seconds())
    times = [first or whole]
    if len(line) > 1:
        times = [first and f"{first} for the first", whole and f"{whole} for all"]
    return " · ".join([f"{wording.count(len(line), 'clip')} at work", *filter(None, times)])


def describe_pace() -> str:
    """In which order the line is worked off and how long that will take."""
    left = describe_time_left(line_seconds())
    pace = f" · {left} for everything in line" if left else ""
    return f"One after the other, in this order{pace}. You can close this page or the browser: the work goes on."


def _show_jobs(jobs: list[Job]) -> None:
    for job in jobs:
        with st.container(border=True, key=f"fc_job_{job.name}"):
            _show_job(job)


def _show_job(job: Job) -> None:
    name, status, clip = job.name, job.status, job.request.clip_name[:80]
    with st.container(horizontal=True, vertical_alignment="center"):
        st.html(render_job(job))
        if status.state == "done" and status.review_id is not None:
            help_text = f"Read the review of {clip}"
            _show_outcome(status.review_id)
            controls.show_page_button(
                "Open the review", "review_set", key=f"read_{name}", help=help_text, review=status.review_id
            )
        elif status.state == "failed" and st.button("Remove", key=f"away_{name}", help="Its clip is no longer kept"):
            with layout.show_errors():
                _put_away(job)
                st.rerun()
    if job.asks_same_set:
        show_same_set_question(job)
    if status.state in ("waiting", "working"):
        show_bar(status, describe_progress(status))


def _show_outcome(review_id: int) -> None:
    """What came out of a set, and its next cue."""
    with layout.show_errors(), Store.open() as store:
        for row in make_rows(store, store.list_reviews(review_id=review_id)):
            st.html(render("inbox", "result", row))


def _put_away(job: Job) -> None:
    """Show a failed review no more; its clips go where nothing else needs them."""
    queue.put_away([job.name])
    with Store.open() as store:
        for path in filter(None, (job.request.clip_path, job.request.second_path)):
            delete_upload(store, Path(path), data_home())


def render_job(job: Job) -> str:
    """Whose set, which exercise, and how it stands, as HTML."""
    request, exercises = job.request, load_exercises()
    base = request.exercise.partition("/")[0]
    exercise = exercises[base].name if base in exercises else request.exercise
    failure = f"not reviewed: {job.status.problem or 'something went wrong'}"
    if job.asks_same_set:
        failure = "waits for your answer"
    return render("review", "job", request, exercise, _STATES.get(job.status.state, failure))
