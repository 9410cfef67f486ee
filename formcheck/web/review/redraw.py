"""Drawing anew the pictures of a stored review that has none, such as one made on the command line."""

from pathlib import Path

import streamlit as st

from formcheck.core.model import Review
from formcheck.jobs.queue import JobRequest, start_job
from formcheck.web.review.drawing_progress import follow_work
from formcheck.web.session_state import page_state


def show(review_id: int, clip_path: str | None, review: Review) -> None:
    """Start the drawing, or join it, and show how far it is; say so when the clip is gone."""
    if clip_path is None:
        st.info("There is no clip of this set, so only what was measured is shown.")
        return
    if not Path(clip_path).is_file():
        st.info("The clip of this review is no longer where it was, so only the numbers are shown.")
        return
    given = review.view.name if review.view.origin == "given" else "auto"
    request = JobRequest(clip_path, review.clip.name, review.exercise.id, given, review_id=review_id)
    jobs = page_state().redraws
    if review_id not in jobs:
        jobs[review_id] = start_job(request)
    follow_work(
        jobs[review_id],
        about="The clip with the skeleton is being drawn.",
        failed="The pictures could not be drawn.",
    )
