"""The question whether two clips show the same set, asked where the clips alone do not tell."""

from dataclasses import replace

import streamlit as st

from formcheck.jobs import queue
from formcheck.jobs.queue import Job, JobRequest, start_job
from formcheck.web import layout
from formcheck.web.session_state import open_in_page


def show_question(job: Job) -> None:
    """What speaks for and against it, and the answers: both clips as one set, or the first alone."""
    request = job.request
    names = f"{request.clip_name[:80]} and {(request.second_name or 'the second clip')[:80]}"
    st.markdown(f"**Are these two clips of the same set?** {layout.escape_markdown(names)}")
    st.caption(layout.escape_markdown(job.status.problem or ""))
    with st.container(horizontal=True):
        if st.button("Yes, review them as one set", type="primary", key=f"same_set_{job.name}"):
            _answer(job, replace(request, same_set=True))
        if st.button("No, review the first clip alone", key=f"not_same_set_{job.name}"):
            _answer(job, replace(request, second_path=None, second_name=None))


def _answer(job: Job, request: JobRequest) -> None:
    """Start the review as answered, and ask no more."""
    with layout.show_errors():
        name = start_job(request)
        queue.put_away([job.name])
        open_in_page(job_id=name)
        st.rerun()
