"""Page: correcting a stored review by hand, one correction at a time, each seen before it is kept."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.core.model import Analysis, Rep
from formcheck.report import wording
from formcheck.reps.edits import Edits
from formcheck.storage import Store
from formcheck.web import layout
from formcheck.web.components import correction_html as shown
from formcheck.web.components.player import make_player_data, mount_player, pack_landmark_track
from formcheck.web.correction import forms as forms
from formcheck.web.correction.save import redraw_changed, save_correction
from formcheck.web.pages import PAGES
from formcheck.web.review import result
from formcheck.web.session_state import page_state, read_address

_KINDS = {
    "move": "Move a rep",
    "add": "Add a rep",
    "delete": "Delete a rep",
    "leave_out": "Leave a part out",
    "exercise": "Another exercise",
}


def main() -> None:
    """Show the clip, the correction in the making, what it does, and those made before."""
    read_address()
    number = page_state().review_id
    if number is None:
        layout.show_heading("Correct a review", "Open a reviewed set first, and choose “Correct by hand” there.")
        st.page_link(PAGES / "reviewed_sets.py", label="Reviewed sets")
        return
    with layout.show_errors():
        _correct(number)
    layout.show_cautions()


def _correct(number: int) -> None:
    opened = result.open_review(number)
    review = opened.review
    layout.show_heading(
        "Correct by hand", "What the machine found stays kept; what you change is shown as made by hand."
    )
    st.html(shown.render_review_line(review))
    st.page_link(
        PAGES / "review_set.py",
        label="Back to the review",
        icon=":material/arrow_back:",
        query_params={"review": str(number)},
    )
    with Store.open() as store:
        edits, kept = store.edits_of(number), store.revisions_of(number)
    state = f"{number}_{len(kept)}_{sum(item.undone_at is not None for item in kept)}"
    with st.container(key=result.SCOPE):
        left, right = st.columns([5, 6], gap="large")
    with right:
        layout.show_section("One correction")
        kind = st.pills(
            "What is to be corrected", list(_KINDS), format_func=_KINDS.__getitem__, default="move", key="correct_kind"
        )
        wanted = _form(kind or "move", edits, opened, state)
        made = _try(number, wanted) if wanted is not None and wanted != edits else None
        if made is not None:
            st.html(shown.render_effect(review, made.review, opened.exercise))
        with st.container(horizontal=True):
            if st.button("Keep this correction", type="primary", disabled=made is None, key="keep_correction"):
                assert wanted is not None
                save_correction(number, wanted)
        if made is None:
            st.caption("Change something above and its effect is shown here before anything is kept.")
        with st.container(key="fc_reps_now"):
            st.html(shown.render_rep_times((made or opened).review.reps))
        _show_earlier(number)
    with left:
        _show_clip(opened, None if made is None else made.review.reps)


def _form(kind: str, edits: Edits, opened: result.OpenedReview, state: str) -> Edits | None:
    """The corrections as they would be; None while nothing is asked for."""
    clip, reps = opened.review.clip, opened.review.reps
    step = 1 / clip.frame_rate if clip.frame_rate else 0.04
    place = forms.TimeFields(clip.duration_s, step, result.CLIP, state)
    try:
        if kind == "move":
            return forms.ask_moved_rep(edits, reps, place)
        if kind == "add":
            return forms.ask_added_rep(edits, reps, place)
        if kind == "delete":
            return forms.ask_deleted_rep(edits, reps, place)
        if kind == "leave_out":
            return forms.ask_left_out_part(edits, place)
        return forms.ask_exercise(edits, opened.review.exercise.id)
    except FormcheckError as error:
        st.error(layout.escape_markdown(str(error)))
        return None


def _try(number: int, wanted: Edits) -> Analysis | None:
    try:
        with st.spinner("Reading the body points again"):
            return forms.analyse_correction(number, wanted)
    except FormcheckError as error:
        st.error(layout.escape_markdown(str(error)))
        return None


def _show_earlier(number: int) -> None:
    with Store.open() as store:
        kept = store.revisions_of(number)
        told = store.load_review(number).by_hand
        original = store.load_original(number)
    if not kept:
        return
    layout.show_section("Corrections made by hand")
    st.html(shown.render_corrections(told, kept))
    if any(item.undone_at is None for item in kept) and st.button("Undo the newest correction", key="undo_correction"):
        with layout.show_errors(), Store.open() as store:
            store.undo_revision(number, undone_at=datetime.now(UTC))
            redraw_changed(number)
    with st.expander("What the machine found"):
        st.html(f"<p>{wording.in_short(original)}</p>{shown.render_rep_times(original.reps)}")


def _show_clip(opened: result.OpenedReview, reps: tuple[Rep, ...] | None) -> None:
    """The clip with its player; the reps are those of the correction in the making."""
    playable = opened.drawn.playable(opened.clip_path)
    if playable is None:
        st.info("The clip is not where it was, so only the moments can be typed in.")
        return
    with st.container(key=result.CLIP):
        st.video(str(playable), format="video/mp4", muted=True, alt="The clip of the set")
    recording = forms.load_landmarks(opened.number)
    track = pack_landmark_track(recording) if recording is not None and playable != opened.drawn.overlay else None
    review = opened.review if reps is None else forms.replace_reps(opened.review, reps)
    data = make_player_data(review, opened.first, scope=result.SCOPE, clip=result.CLIP, track=track)
    # Anew for every state of the reps: a player given other data keeps the canvas of the one before.
    mount_player(data, key=f"fc_player_{hash(tuple((rep.start_s, rep.top_s, rep.end_s) for rep in review.reps))}")


main()
