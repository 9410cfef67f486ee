"""Part of a review: what is done with the moment the clip shows: a link to it, a comment, a clip to be sent."""

from datetime import UTC, datetime
from pathlib import Path

import streamlit as st

from formcheck.coaching.comment import LONGEST_COMMENT, MOST_BYTES, CoachComment
from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.jobs import queue
from formcheck.jobs.background_tasks import read_excerpt_wish, request_excerpt
from formcheck.jobs.queue import Job, newest_jobs, start_job
from formcheck.privacy.head_cover import PROMISE
from formcheck.report import wording
from formcheck.services.excerpt import SPEEDS, ExcerptWish, name_excerpt
from formcheck.services.file_names import name_file
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import controls, layout
from formcheck.web.components.clip_time_button import mount_time_buttons
from formcheck.web.components.moment_link import mount_moment_link
from formcheck.web.components.pen import mount_pen
from formcheck.web.review.progress import describe_progress, show_bar
from formcheck.web.session_state import page_state, read_moment
from formcheck.web.uploads import read_upload

_POLL_S = 0.6
_SHOWN = 4
_BUTTONS = (("comment", "Comment| on this moment"), ("clip", "Cut out| a clip"))
_SPEED_WORDS = {speed: f"{name} speed" for speed, name in zip(SPEEDS, ("Quarter", "Half", "Full"), strict=True)}


def show(review_id: int, review: Review, clip: str, clip_path: str | None) -> None:
    """The buttons under the clip.

    clip : key of the container that holds it.
    clip_path : where the file lies; None where that is not known.
    """
    mount_time_buttons(clip, _BUTTONS, f"moment_{review_id}", _take)
    mount_moment_link(review_id, clip, read_moment(), f"link_{review_id}")
    if review.reps:
        with st.container(horizontal=True):
            controls.show_link("compare", "Early against late", "compare", after=review_id, kind="halves")
            controls.show_link("compare", "Against another set", "compare_arrows", after=review_id)
    with layout.show_errors():
        _show_excerpts(review_id)
    asked, page_state().moment_asked = page_state().moment_asked, None
    if asked is None:
        return
    kind, at_s = asked
    if kind == "comment":
        _ask_comment(review_id, review, clip, at_s)
    else:
        _offer_clip(review_id, review, at_s, clip_path)


def _take(kind: str, at_s: float) -> None:
    page_state().moment_asked = (kind, at_s)


@st.dialog("Comment on this moment", width="medium")
def _ask_comment(review_id: int, review: Review, clip: str, at_s: float) -> None:
    stamp = f"{review_id}_{at_s:.3f}"
    st.caption(f"{wording.format_moment(at_s)} in the clip")
    strokes = mount_pen(review.clip, clip, f"comment_pen_{stamp}")
    spoken = st.audio_input("Say it, if you like", key=f"comment_voice_{stamp}")
    # Words and button reach the page in one message: a press right after the last word keeps that word.
    with layout.show_errors(), st.form(f"comment_form_{stamp}", border=False):
        text = st.text_area("What you say, for those who read", max_chars=LONGEST_COMMENT, height=110)
        if st.form_submit_button("Keep the comment", type="primary"):
            words = " ".join(text.split())
            if not words:
                raise UsageError("Type what you say, too: not everyone can hear a voice note or see a drawing.")
            with Store.open() as store:
                store.add_comment(
                    review_id,
                    CoachComment(words, at_s, strokes),
                    voice=None if spoken is None else read_upload(spoken, MOST_BYTES),
                    created_at=datetime.now(UTC),
                )
            st.rerun()


@st.dialog("Cut out a clip")
def _offer_clip(review_id: int, review: Review, at_s: float, clip_path: str | None) -> None:
    if clip_path is None or not Path(clip_path).is_file():
        st.info("The clip of this review is no longer where it was, so nothing can be cut out of it.")
        return
    rep = next((item.number for item in review.reps if item.start_s <= at_s <= item.end_s), None)
    parts = {f"Rep {rep}": rep, "This moment": None} if rep is not None else {"This moment": None}
    part = controls.choose_by_button("What", {name: name for name in parts}, key="clip_part")
    speed = controls.choose_by_button("Speed", _SPEED_WORDS, key="clip_speed", first=0.5)
    skeleton = st.checkbox("Draw the skeleton in", value=True, key="clip_skeleton")
    blur = st.checkbox("Blur faces", key="clip_blur", help=PROMISE)
    sound = st.checkbox("With sound", key="clip_sound", disabled=speed != 1.0, help="Only at full speed.")
    described = st.checkbox("Write exercise, rep and day into the file", key="clip_described")
    chosen = parts[part]
    wish = ExcerptWish(
        rep=chosen,
        at_s=None if chosen is not None else at_s,
        speed=speed,
        skeleton=skeleton,
        blur_faces=blur,
        sound=sound and speed == 1.0,
        described=described,
    )
    if st.button("Make the clip (MP4)", key="clip_make", type="primary"):
        with layout.show_errors():
            start_job(request_excerpt(review_id, review, clip_path, wish))
            st.rerun()
    st.caption("It is made in the background; save it under the film once it is ready.")


def _show_excerpts(review_id: int) -> None:
    """The clips cut out of this one, until they are put away; nothing where there is none."""
    jobs = _list_excerpts(review_id)
    if not jobs:
        return
    with st.container(key="fc_excerpts"):
        if all(job.status.over for job in jobs):
            _show_excerpt_jobs(review_id, jobs)
        else:
            _follow_excerpts(review_id)


def _list_excerpts(review_id: int) -> list[Job]:
    """The newest first; what is ready is there as long as its file is."""
    mine = [job for job in newest_jobs(limit=None) if job.request.kind == "excerpt"]
    mine = [job for job in mine if job.request.review_id == review_id and not job.put_away]
    return [job for job in mine if job.status.state != "done" or _find_excerpt(job).is_file()][:_SHOWN]


def _find_excerpt(job: Job) -> Path:
    return DataFolder(data_home()).excerpt(job.name)


@st.fragment(run_every=_POLL_S)
def _follow_excerpts(review_id: int) -> None:
    jobs = _list_excerpts(review_id)
    for job in jobs:
        queue.follow_job(job.name)
    if all(job.status.over for job in jobs):
        st.rerun()
    _show_excerpt_jobs(review_id, jobs)


def _show_excerpt_jobs(review_id: int, jobs: list[Job]) -> None:
    with Store.open() as store:
        base = name_file(store.list_reviews(review_id=review_id)[0])
    for job in jobs:
        _show_excerpt(job, base)


def _show_excerpt(job: Job, base: str) -> None:
    status, wish = job.status, read_excerpt_wish(job.request)
    what = f"rep {wish.rep}" if wish.rep is not None else wording.format_moment(wish.at_s or 0.0)
    if not status.over:
        show_bar(status, f"Cutting out {what}. {describe_progress(status)}")
        return
    with st.container(horizontal=True, vertical_alignment="center"):
        if status.state == "done":
            st.download_button(
                f"Save the clip of {what} (MP4)",
                _find_excerpt(job).read_bytes,
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
            _find_excerpt(job).unlink(missing_ok=True)
            st.rerun()
