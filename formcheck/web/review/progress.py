"""Work under way, followed as its job goes on: a review before its result, or a drawing beside an open page."""

import time
from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from formcheck.jobs import queue
from formcheck.jobs.queue import (
    CUT,
    STAGES,
    TRACKING_SHARE,
    Job,
    JobRequest,
    JobStatus,
    find_job,
    follow_job,
    jobs_in_line,
    start_job,
)
from formcheck.jobs.remaining_time import line_seconds
from formcheck.jobs.so_far import SoFar, read_so_far
from formcheck.report import problem_text, wording
from formcheck.web import layout
from formcheck.web.markup import render
from formcheck.web.session_state import open_in_page

_POLL_S = 0.6
_WAIT_S, _LOOK_S = 0.5, 0.1
"""Where findings are about to come, the page waits for them so long and looks so often."""
_NEARLY = 0.95
"""Share of the tracking from which on it is about to end."""


def show(job_id: str) -> None:
    """Second step of a review: its progress until there is a result or a sentence why there is none."""
    if find_job(job_id) is None:
        st.warning("There is no such review on this machine.")
        _show_way_back("Choose another clip", "back")
        return
    layout.show_heading("Analysing your set", "You can close or reload this page; the work goes on.")
    _follow_review(job_id)
    layout.load_chart_library()
    _show_way_back("Review more clips meanwhile", "more")


@st.fragment(run_every=_POLL_S)
def _follow_review(job_id: str) -> None:
    job = _await_findings(follow_job(job_id))
    if job is None:
        return
    status = job.status
    if status.state in ("working", "done") and status.review_id is not None:  # its pictures may still be drawn
        open_in_page(review_id=status.review_id)
        st.rerun()
    if job.asks_same_set:
        show_same_set_question(job)
    elif status.state == "failed":
        st.error(layout.escape_markdown(status.problem or "The review failed."))
        _show_way_back("Choose another clip", "back")
    elif status.state == "queued":
        _show_line_before(job)
    else:
        show_bar(status, describe_progress(status))
        _show_so_far(job)
        position = STAGES.index(status.stage) if status.stage in STAGES else -1
        st.html(render("review", "steps", STAGES, position))


def _await_findings(job: Job | None) -> Job | None:
    """The job as it stands, a moment later where the clip was looked at already."""
    until = time.monotonic() + _WAIT_S
    while job is not None and _comes_soon(job.status) and time.monotonic() < until:
        time.sleep(_LOOK_S)
        job = find_job(job.name)
    return job


def _comes_soon(status: JobStatus) -> bool:
    looked_at = status.stage in ("Starting", CUT) or status.share >= _NEARLY * TRACKING_SHARE
    return status.state == "working" and status.review_id is None and looked_at


def _show_so_far(job: Job) -> None:
    """What is being looked at, and the reps found so far; nothing before there is any."""
    found = read_so_far(job.name)
    if found is not None:
        st.html(render("review", "so_far", found.picture, _describe_so_far(found)))


def _describe_so_far(found: SoFar) -> str:
    at = f"at {wording.format_moment(found.at_s)} in the clip"
    if found.exercise is None:
        return f"Looking {at}"
    name = problem_text.get_exercise_name(found.exercise)
    return f"{name}: {wording.count(found.reps, 'rep')} found so far, looking {at}"


def show_same_set_question(job: Job) -> None:
    """What speaks for and against it, and the answers: both clips as one set, or the first alone."""
    request = job.request
    names = f"{request.clip_name[:80]} and {(request.second_name or 'the second clip')[:80]}"
    st.markdown(f"**Are these two clips of the same set?** {layout.escape_markdown(names)}")
    st.caption(layout.escape_markdown(job.status.problem or ""))
    with st.container(horizontal=True):
        if st.button("Yes, review them as one set", type="primary", key=f"same_set_{job.name}"):
            _answer_same_set(job, replace(request, same_set=True))
        if st.button("No, review the first clip alone", key=f"not_same_set_{job.name}"):
            _answer_same_set(job, replace(request, second_path=None, second_name=None))


def _answer_same_set(job: Job, request: JobRequest) -> None:
    """Start the review as answered, and ask no more."""
    with layout.show_errors():
        name = start_job(request)
        queue.put_away([job.name])
        open_in_page(job_id=name)
        st.rerun()


def _show_way_back(words: str, key: str) -> None:
    if st.button(words, key=key):
        open_in_page()
        st.rerun()


def _show_line_before(job: Job) -> None:
    """What comes before a job that stands in line; nothing when it is next."""
    line = jobs_in_line()
    others = sum(other.id < job.id for other in line)
    if others == 0 or line[-1].id < job.id:
        return
    first, status = line[0].request, line[0].status
    left, stage = describe_time_left(line_seconds(until=job.name)), status.stage or "Starting"
    if others == 1 and first.clip_path == job.request.clip_path:  # the first look at this clip
        words = f"{stage} · {left}" if left else status.stage
    else:
        words = f"{wording.count(others, 'piece')} of work in line before this one · now: {stage}"
        words += f" · {left} until this one is ready" if left else ""
    show_bar(status, words)
    if first.clip_path == job.request.clip_path:
        _show_so_far(line[0])


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
    failed, lost : what is shown of a job that failed without a reason, and of one that is not known any more.
    on_done : what is done with the job that is done; by default the page is run again.
    """
    job = follow_job(job_id)
    status = job.status if job else JobStatus("failed", problem=lost)
    if job is not None and status.state == "done":
        on_done(job)
    elif status.state == "failed":
        st.error(layout.escape_markdown(status.problem or failed))
    else:
        show_bar(status, f"{about} {describe_progress(status)}".strip())


def show_bar(status: JobStatus, words: str) -> None:
    """The share of the work that is done as a bar, with words."""
    st.progress(min(max(status.share, 0.0), 1.0), text=words)


def describe_progress(status: JobStatus) -> str:
    """The stage and the time left in one line."""
    left = describe_time_left(status.seconds_left)
    return (status.stage or "Starting") + (f" · {left}" if left else "")


def describe_time_left(seconds: float | None) -> str:
    """Time left as a person would say it; empty when unknown."""
    if seconds is None:
        return ""
    if seconds < 5:
        return "a few seconds left"
    if seconds < 90:
        return f"about {round(seconds / 5) * 5} seconds left"
    return f"about {round(seconds / 60)} minutes left"
