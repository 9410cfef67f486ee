"""First step of a review: a place to drop clips and an example; then the clips as a sheet, a row each."""

from collections.abc import Sequence
from datetime import date

import streamlit as st

from formcheck.exercises.registry import list_own_cautions, list_own_exercise_problems, load_exercises
from formcheck.jobs.queue import JobRequest, next_in_line, start_job
from formcheck.report import wording
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import controls, layout
from formcheck.web.components.menu_watch import await_closed_menus
from formcheck.web.filming import unfinished_films
from formcheck.web.review import chosen_clips, example, set_form, work_list
from formcheck.web.review.chosen_clips import ReadyClip
from formcheck.web.review.set_form import SessionDraft
from formcheck.web.session_state import open_in_page, page_state

_POLL_S = 1.0
_MOST_CLIPS = 40
"""So many are filled in at a time."""
_SCROLL = "<script>document.querySelector('.stMain')?.scrollTo(0, 0)</script>"


def show() -> None:
    """Let the visitor choose and start."""
    layout.show_heading(
        "How did the set go?",
        "Every rep is measured, each number with its margin, on this machine; nothing leaves it.",
    )
    example.show_preparation()
    work_list.show_at_work()
    _scroll_to_queue()
    left, right = st.columns([7, 5], gap="large")
    with left:
        chosen_clips.ask_clips()
        unfinished_films.show()
        controls.show_link("film_here", "Film with this computer’s camera", "videocam")
    clips = _list_clips()
    if not clips:
        with right:
            example.show()
        layout.load_chart_library()
        work_list.show_over()
        layout.show_cautions()
        return
    with right:
        day = st.date_input("Day of the session", "today", format="YYYY-MM-DD", key="session_day")
    _offer_start(clips, _ask_sets(clips, day))
    work_list.show_over()


def _scroll_to_queue() -> None:
    """Bring the work into view once after it was started: the button stands below where it is listed."""
    if page_state().just_started:
        page_state().just_started = False
        st.html(_SCROLL, unsafe_allow_javascript=True)


def _list_clips() -> list[ReadyClip]:
    chosen = page_state().example
    ready = [*([example.make_ready_clip(chosen)] if chosen else []), *chosen_clips.list_ready_clips()]
    if len(ready) > _MOST_CLIPS:
        rest = wording.count(len(ready) - _MOST_CLIPS, "clip")
        st.caption(f"The {_MOST_CLIPS} newest clips are listed. Still to come: {rest}.")
    return ready[-_MOST_CLIPS:]


def _ask_sets(clips: Sequence[ReadyClip], day: date) -> list[JobRequest | None]:
    """A row each; what is left open in one holds no other up."""
    for problem in list_own_exercise_problems():
        st.warning(layout.escape_markdown(problem))
    session = SessionDraft.begin(page_state().client_wanted, day)
    with st.container(key="fc_sheet", gap=None):
        set_form.show_heads()
        requests = [set_form.ask_set(clip, session) for clip in clips]
    over = _count_over(clips)
    if over < sum(clip.job is not None for clip in clips):
        _await_suggestion(over)
    return requests


def _count_over(clips: Sequence[ReadyClip]) -> int:
    return sum(clip.job is not None and clip.job.status.over for clip in clips)


@st.fragment(run_every=_POLL_S)
def _await_suggestion(over_before: int) -> None:
    """Run the page again when of another clip it is known what it shows, and nobody has a menu open."""
    next_in_line()
    over = _count_over(chosen_clips.list_ready_clips())
    if over != over_before and await_closed_menus("fc_menus", over):
        st.rerun()


def _offer_start(clips: Sequence[ReadyClip], requests: Sequence[JobRequest | None]) -> None:
    filled = [(clip, request) for clip, request in zip(clips, requests, strict=True) if request is not None]
    mark = DataFolder(data_home()).cautions_read
    with st.container(horizontal=True, vertical_alignment="center", key="fc_start"):
        agreed = mark.exists() or st.checkbox("I have read the cautions", key="cautions_read")
        words = "Review the set" if len(clips) == 1 else f"Review {wording.count(len(filled or clips), 'set')}"
        if st.button(words, type="primary", disabled=not (filled and agreed), key="start"):
            mark.touch()
            _start(filled)
        if waiting := len(clips) - len(filled):
            others = " The others need not wait." if waiting < len(clips) else ""
            st.caption(f"{wording.count(waiting, 'clip')} without an exercise: choose one.{others}")
        elif not agreed:
            st.caption("Please confirm that you have read the cautions.")
    exercises = (load_exercises()[request.exercise.partition("/")[0]] for _, request in filled)
    layout.show_cautions(list_own_cautions(*exercises))


def _start(filled: Sequence[tuple[ReadyClip, JobRequest]]) -> None:
    """Put the sets in line; what is left open stays on the sheet."""
    state = page_state()
    jobs = [start_job(request) for _, request in filled]
    chosen_clips.put_away([clip for clip, _ in filled])
    state.upload_round += 1
    if any(clip.job is None for clip, _ in filled):
        state.example = None
    state.just_started = True
    if len(jobs) == 1:
        open_in_page(job_id=jobs[0])
    st.rerun()
