"""Part of the pages about filming: a short test clip, and whether the camera stands well enough."""

from collections.abc import Sequence
from pathlib import Path
from typing import cast

import streamlit as st

from formcheck.core.model import ViewHint
from formcheck.exercises.schema import Exercise
from formcheck.jobs import background_tasks
from formcheck.jobs.queue import Job, JobRequest, find_job, start_job
from formcheck.report.placement_text import WrittenHint
from formcheck.report.problem_text import get_exercise_name
from formcheck.storage import media_files
from formcheck.web import layout, uploads
from formcheck.web.filming.guide import VIEWS
from formcheck.web.markup import render
from formcheck.web.review.progress import follow_work
from formcheck.web.session_state import page_state

_ADDRESS = "test"


def ask_test_clip(exercise: Exercise, view: str) -> None:
    """Take a test clip, follow the work on it, and say what to move."""
    layout.show_section("Ten-second test clip")
    st.html(
        '<p class="fc-lead-small">Film ten seconds with two slow reps without weight, and see here whether the angle '
        "is good enough before you film the set.</p>"
    )
    given = st.file_uploader(
        "Test clip", type=media_files.CLIP_TYPES, key="test_clip", max_upload_size=media_files.UPLOAD_LIMIT_MB
    )
    state = page_state()
    if given is not None and given.file_id != state.test_seen:
        state.test_seen = given.file_id
        with layout.show_errors():
            start_test(uploads.save_clip(given), given.name, exercise, view)
    follow_test()


def start_test(clip: Path, name: str, exercise: Exercise, view: str) -> None:
    """Have a stored test clip looked at; the page's address then names the work."""
    request = JobRequest(str(clip), name, exercise.id, cast(ViewHint, view), kind="placement")
    st.query_params[_ADDRESS] = start_job(request)


def follow_test() -> bool:
    """Follow the work on the test clip that the address names and say what to move; False where it names none."""
    job = find_job(st.query_params.get(_ADDRESS, ""))
    if job is None or job.request.kind != "placement":
        return False
    words = {"lost": "The test clip was lost.", "failed": "The test clip could not be looked at."}
    follow_work(job.name, **words, on_done=_show_verdict)
    return True


def _show_verdict(job: Job) -> None:
    st.html(render_verdict(background_tasks.read_verdict(job.result), name_purpose(job.request)))


def name_purpose(request: JobRequest) -> str:
    """What a test clip was filmed for: the exercise and the view."""
    return f"{get_exercise_name(request.exercise)}, {VIEWS[request.view][1]}"


def render_verdict(advice: Sequence[WrittenHint], purpose: str) -> str:
    """The answer in one line and one card a topic, what is to be moved first; `purpose` is what the clip is for."""
    return render("filming", "verdict", advice, purpose)
