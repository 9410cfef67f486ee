"""Part of a review: the short clips cut out of it, made beside the page; each is saved where it is ready."""

from pathlib import Path

import streamlit as st

from formcheck.jobs import queue
from formcheck.jobs.background_tasks import read_excerpt_wish
from formcheck.jobs.queue import Job, newest_jobs
from formcheck.report import wording
from formcheck.services.excerpt import name_excerpt
from formcheck.services.file_names import name_file
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import layout
from formcheck.web.review.progress import describe_progress, show_bar

_POLL_S = 0.6
_SHOWN = 4


def show(review_id: int) -> None:
    """List them until they are put away; nothing where there is none."""
    jobs = _list_excerpts(review_id)
    if not jobs:
        return
    with st.container(key="fc_excerpts"):
        if all(job.status.over for job in jobs):
            _show_jobs(review_id, jobs)
        else:
            _follow(review_id)


def _list_excerpts(review_id: int) -> list[Job]:
    """The newest first; what is ready is there as long as its file is."""
    mine = [job for job in newest_jobs(limit=None) if job.request.kind == "excerpt"]
    mine = [job for job in mine if job.request.review_id == review_id and not job.put_away]
    return [job for job in mine if job.status.state != "done" or _find_file(job).is_file()][:_SHOWN]


def _find_file(job: Job) -> Path:
    return DataFolder(data_home()).excerpt(job.name)


@st.fragment(run_every=_POLL_S)
def _follow(review_id: int) -> None:
    jobs = _list_excerpts(review_id)
    for job in jobs:
        queue.follow_job(job.name)
    if all(job.status.over for job in jobs):
        st.rerun()
    _show_jobs(review_id, jobs)


def _show_jobs(review_id: int, jobs: list[Job]) -> None:
    with Store.open() as store:
        base = name_file(store.list_reviews(review_id=review_id)[0])
    for job in jobs:
        _show_job(job, base)


def _show_job(job: Job, base: str) -> None:
    status, wish = job.status, read_excerpt_wish(job.request)
    what = f"rep {wish.rep}" if wish.rep is not None else wording.format_moment(wish.at_s or 0.0)
    if not status.over:
        show_bar(status, f"Cutting out {what}. {describe_progress(status)}")
        return
    with st.container(horizontal=True, vertical_alignment="center"):
        if status.state == "done":
            st.download_button(
                f"Save the clip of {what} (MP4)",
                _find_file(job).read_bytes,
                f"{base}_{name_excerpt(wish)}.mp4",
                "video/mp4",
                key=f"excerpt_{job.name}",
                type="primary",
                on_click="ignore",
            )
        else:
            st.error(layout.escape_markdown(status.problem or "The clip could not be cut out."))
        if st.button("Remove", key=f"excerpt_away_{job.name}", help=f"The clip of {what} is no longer kept"):
            queue.put_away([job.name])
            _find_file(job).unlink(missing_ok=True)
            st.rerun()
