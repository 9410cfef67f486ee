"""Part of a review: what is still to be drawn for it, drawn beside the open page and put in when it is there."""

from pathlib import Path

import streamlit as st

from formcheck.core.model import Review
from formcheck.jobs.queue import find_drawing, find_job, request_drawing, start_job
from formcheck.storage.data_folder import Artifacts
from formcheck.web.review.progress import follow_work
from formcheck.web.session_state import page_state


def show(number: int, review: Review, clip_path: str | None, drawn: Artifacts) -> None:
    """Have what is missing drawn, and say how far that is; say so when the clip is gone; nothing when all is there."""
    plays = drawn.playable(clip_path) is not None
    if plays and drawn.complete and not drawn.plays_slowly:
        return
    if clip_path is None:
        st.info("There is no clip of this set, so only what was measured is shown.")
        return
    if not Path(clip_path).is_file():
        st.info("The clip of this review is no longer where it was, so only the numbers are shown.")
        return
    job = _find_work(number, review, clip_path)
    if plays and drawn.complete:
        return  # it plays already: the film is there the next time
    about = "The set can be read already." if plays else "The film will play here."
    follow_work(job, about=about, failed="The pictures could not be drawn.")


def _find_work(number: int, review: Review, clip_path: str) -> str:
    """The job that draws what is missing, started where there is none; what failed is not tried again in a visit."""
    jobs = page_state().redraws
    known = find_job(jobs[number]) if number in jobs else None
    if known is None or (known.request.new_review and known.status.over):
        at_work = find_drawing(number)
        jobs[number] = start_job(request_drawing(number, review, clip_path)) if at_work is None else at_work.name
    return jobs[number]
