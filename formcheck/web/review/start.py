"""First step of a review: whose sets, the clips, what is known of each, the cautions."""

from collections.abc import Sequence
from datetime import date

import streamlit as st

from formcheck.exercises.registry import list_own_cautions, load_exercises
from formcheck.jobs.queue import JobRequest, next_in_line, start_job
from formcheck.report import wording
from formcheck.storage import media_files
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import demo_note, layout
from formcheck.web.review import chosen_clips, set_form, work_list
from formcheck.web.review.chosen_clips import ReadyClip
from formcheck.web.review.set_form import NOBODY, SessionDraft, clean_name, list_client_names
from formcheck.web.session_state import open_in_page, page_state

UPLOAD, SHIPPED = "My own clips", "A shipped example"
_POLL_S = 1.0
_MOST_CLIPS = 40
"""So many are filled in at a time."""


def show() -> None:
    """Let the visitor choose and start."""
    layout.show_heading(
        "How did the set go?",
        "Choose the clip of a set, or of several. Every rep is measured, each number with its margin, on this machine; "
        "nothing leaves it.",
    )
    demo_note.show()
    work_list.show()
    left, right = st.columns([4, 5], gap="large")
    with left:
        layout.show_section("Whose sets")
        name, day = _ask_client()
        layout.show_section("The clips")
        clips = _choose_clips()
    with right:
        layout.show_section("The set" if len(clips) < 2 else f"The {len(clips)} sets")
        requests = _ask_sets(clips, name, day)
    _offer_start(clips, requests)


def _ask_client() -> tuple[str | None, date]:
    wanted = page_state().client_wanted
    options = [NOBODY, *list_client_names()]
    who, when = st.columns([3, 2])
    name = who.selectbox(
        "Client",
        options,
        index=options.index(wanted) if wanted in options else 0,
        accept_new_options=True,
        key="client",
        help="Choose one, or type a new name: a client of this name is added when the review starts.",
    )
    day = when.date_input("Day of the session", "today", format="DD.MM.YYYY", key="session_day")
    return clean_name(name), day


def _choose_clips() -> list[ReadyClip]:
    shipped = media_files.shipped_clips()
    source = UPLOAD
    if shipped:
        source = st.segmented_control(
            "Where are the clips?", [UPLOAD, SHIPPED], default=UPLOAD, required=True, key="clip_source"
        )
    if source == SHIPPED:
        clip = st.selectbox("Example", shipped, format_func=lambda item: item.title, key="shipped_clip")
        st.caption("The lifters in the examples are invented and rendered; nobody was filmed.")
        with st.container(key="fc_example"):
            st.video(str(clip.path), muted=True, alt=f"The example clip {clip.title}")
        return [ReadyClip(clip.path.stem, clip.path, clip.path.name, exercise=clip.exercise)]
    chosen_clips.ask_clips()
    ready = chosen_clips.list_ready_clips()
    if len(ready) > _MOST_CLIPS:
        rest = wording.count(len(ready) - _MOST_CLIPS, "clip")
        st.caption(f"Listed are the {_MOST_CLIPS} clips handed in last. Still to come: {rest}.")
    if not ready:
        st.caption("Phone upright and level, chest height, 3 to 4 metres away, both hands in the picture at the top.")
    return ready[-_MOST_CLIPS:]


def _ask_sets(clips: Sequence[ReadyClip], name: str | None, day: date) -> list[JobRequest | None]:
    if not clips:
        st.caption("Each clip you choose is listed here, with the exercise it seems to show.")
        return []
    session = SessionDraft.begin(name, day, len(clips))
    requests = []
    for clip in clips:
        with st.container(border=True, key=f"fc_clip_form_{clip.key}"):
            if clip.job is not None:
                with st.container(horizontal=True, vertical_alignment="center"):
                    st.success(f"{layout.escape_markdown(clip.name)} is ready.", icon=":material/check:")
                    st.button(
                        "Remove",
                        key=f"remove_{clip.key}",
                        help=f"Do not review {clip.name[:80]}, and do not keep it",
                        on_click=chosen_clips.remove,
                        args=(clip,),
                    )
            requests.append(set_form.ask_set(clip, session))
    over = _count_over(clips)
    if over < sum(clip.job is not None for clip in clips):
        _await_suggestion(over)
    return requests


def _count_over(clips: Sequence[ReadyClip]) -> int:
    return sum(clip.job is not None and clip.job.status.over for clip in clips)


@st.fragment(run_every=_POLL_S)
def _await_suggestion(over_before: int) -> None:
    """Run the page again when of another clip it is known what it shows."""
    next_in_line()
    if _count_over(chosen_clips.list_ready_clips()) != over_before:
        st.rerun()


def _offer_start(clips: Sequence[ReadyClip], requests: Sequence[JobRequest | None]) -> None:
    filled = [request for request in requests if request is not None]
    layout.show_cautions(
        list_own_cautions(*(load_exercises()[request.exercise.partition("/")[0]] for request in filled))
    )
    mark = DataFolder(data_home()).cautions_read
    agreed = mark.exists() or st.checkbox("I have read the cautions", key="cautions_read")
    complete = len(filled) == len(clips)
    words = "Review the set" if len(clips) < 2 else f"Review {wording.count(len(clips), 'set')}"
    ready = bool(clips) and complete and agreed
    if st.button(words, type="primary", disabled=not ready, key="start", width="stretch"):
        mark.touch()
        jobs = [start_job(request) for request in filled]
        chosen_clips.put_away(clips)
        page_state().upload_round += 1
        if len(jobs) == 1:
            open_in_page(job_id=jobs[0])
        st.rerun()
    if not clips:
        st.caption("Choose a clip first.")
    elif not complete:
        st.caption("Please choose the exercise of each clip.")
    elif not agreed:
        st.caption("Please confirm that you have read the cautions.")
