"""Part of the filming page: a ten-second test clip, and whether the phone stands well enough."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from formcheck.core.errors import UsageError
from formcheck.core.model import ViewHint
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.jobs import background_tasks
from formcheck.jobs.queue import JobRequest, JobStatus, find_job, follow_job, start_job
from formcheck.report.placement_text import WrittenHint
from formcheck.storage import media_files
from formcheck.web import layout, uploads
from formcheck.web.review.progress import progress_text
from formcheck.web.session_state import page_state

_POLL_S = 0.6
_MARKS = {"good": "✓", "change": "↑", "unsure": "–"}
_WORDS = {"good": "good", "change": "to change", "unsure": "could be better"}
_LOOK = {"good": "met", "change": "not_met", "unsure": "undecided"}
_ADDRESS = "test"
_FROM = {"front": "from the front", "back": "from behind", "side": "from the side"}


def show(exercise: Exercise, view: str) -> None:
    """Take a test clip, follow the look at it, and say what to move."""
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
            path = uploads.save_upload(given)
            media_files.check_clip(path, given.name)
            hint: ViewHint = view  # type: ignore[assignment]  # front, back or side
            request = JobRequest(str(path), given.name, exercise.id, hint, kind="placement")
            st.query_params[_ADDRESS] = start_job(request)
    job = st.query_params.get(_ADDRESS)
    if job is not None and find_job(job) is not None:
        _follow(job)


@st.fragment(run_every=_POLL_S)
def _follow(job_id: str) -> None:
    job = follow_job(job_id)
    status = job.status if job else JobStatus("failed", problem="The test clip was lost.")
    if status.state == "done" and job is not None:
        st.html(render_verdict(background_tasks.read_verdict(job.result), find_purpose(job.request)))
        return
    if status.state == "failed":
        st.error(layout.escape_markdown(status.problem or "The test clip could not be looked at."))
        return
    st.progress(min(max(status.share, 0.0), 1.0), text=progress_text(status))


def find_purpose(request: JobRequest) -> str:
    """What the test clip was looked at for: the exercise and the place of the phone."""
    try:
        name = get_exercise(request.exercise).name
    except UsageError:
        name = request.exercise
    return f"{name}, {_FROM.get(request.view, '')}".rstrip(", ")


def render_verdict(advice: Sequence[WrittenHint], purpose: str = "") -> str:
    """The answer in one line and one card a topic, what is to be moved first.

    Parameters
    ----------
    purpose : what the clip was looked at for.
    """
    changes = sum(item.standing == "change" for item in advice)
    if not changes:
        head = "Good enough: film the set just like this."
    elif changes == 1:
        head = "Not yet: one thing to move first."
    else:
        head = f"Not yet: {changes} things to move first."
    order = ("change", "unsure", "good")
    cards = "".join(_render_card(item) for item in sorted(advice, key=lambda item: order.index(item.standing)))
    told = f'<p class="fc-others">For: {escape(purpose)}.</p>' if purpose else ""
    note = (
        "How high the phone stands and whether it is level cannot be told from the clip. "
        "The angle of the camera is an estimate."
    )
    return (
        f'<section class="fc-verdict" aria-label="Verdict on the test clip" role="status">'
        f'<p class="fc-verdict-head">{head}</p>{told}<ul>{cards}</ul><p class="fc-others">{note}</p></section>'
    )


def _render_card(item: WrittenHint) -> str:
    look = _LOOK[item.standing]
    mark = f'<span class="fc-mark fc-{look}" aria-hidden="true"><span>{_MARKS[item.standing]}</span></span>'
    topic = f"{item.topic[0].upper()}{item.topic[1:]}: {_WORDS[item.standing]}"
    return f'<li class="fc-soft-{look}">{mark}<div><b>{topic}</b><p>{escape(item.text)}</p></div></li>'
