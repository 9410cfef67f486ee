"""Page: correct a stored review by hand, one correction at a time; its effect is shown before it is stored."""

from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.core.model import Review
from formcheck.report import wording
from formcheck.storage import Store
from formcheck.web import controls, layout
from formcheck.web.components import correction_html
from formcheck.web.components.player import make_player_data, mount_player, pack_landmark_track
from formcheck.web.correction import forms
from formcheck.web.correction.save import redraw_changed, save_correction
from formcheck.web.markup import render
from formcheck.web.review import result
from formcheck.web.session_state import page_state, read_address
from formcheck.web.stored_reviews import analyse_correction, load_cached_recording


def main() -> None:
    """Show the clip, the correction in the making, what it does, and those made before."""
    read_address()
    number = page_state().review_id
    if number is None:
        layout.show_heading("Correct a review", "Open a reviewed set first, and choose “Correct by hand” there.")
        controls.show_link("reviewed_sets", "Reviewed sets")
        return
    with layout.show_errors(), Store.open() as store:
        _correct(store, number)
    layout.show_cautions()


def _correct(store: Store, number: int) -> None:
    opened = result.open_review(number)
    review = opened.review
    layout.show_heading(
        "Correct by hand", "What the machine found stays kept; what you change is shown as made by hand."
    )
    st.html(render("correction", "review_line", review))
    controls.show_link("review_set", "Back to the review", "arrow_back", review=number)
    edits, revisions = store.edits_of(number), store.revisions_of(number)
    stamp = f"{number}_{len(revisions)}_{sum(item.undone_at is not None for item in revisions)}"
    step = 1 / review.clip.frame_rate if review.clip.frame_rate else 0.04
    fields = forms.TimeFields(review.clip.duration_s, step, result.CLIP, stamp)
    with st.container(key=result.SCOPE):
        left, right = st.columns([5, 6], gap="large")
    with right:
        layout.show_section("One correction")
        kind = st.pills(
            "What is to be corrected",
            list(forms.KINDS),
            format_func=forms.KINDS.__getitem__,
            default="move",
            key="correct_kind",
        )
        wanted, made = None, None
        with layout.show_errors():
            wanted = forms.ask_correction(kind or "move", edits, review, fields)
            if wanted is not None and wanted != edits:
                with st.spinner("Reading the body points again"):
                    made = analyse_correction(number, wanted).review
        if made is not None:
            st.html(correction_html.render_effect(review, made, opened.exercise))
        with st.container(horizontal=True):
            asked = st.button("Keep this correction", type="primary", disabled=made is None, key="keep_correction")
            if asked and wanted is not None:
                save_correction(number, wanted)
        if made is None:
            st.caption("Change something above and its effect is shown here before anything is kept.")
        with st.container(key="fc_reps_now"):
            st.html(render("correction", "rep_times", (made or review).reps))
        _show_earlier(store, number)
    with left:
        _show_clip(opened, review if made is None else replace(review, reps=made.reps))


def _show_earlier(store: Store, number: int) -> None:
    revisions = store.revisions_of(number)
    if not revisions:
        return
    original = store.load_original(number)
    layout.show_section("Corrections made by hand")
    st.html(render("correction", "corrections", store.load_review(number).by_hand, revisions))
    in_force = any(item.undone_at is None for item in revisions)
    if in_force and st.button("Undo the newest correction", key="undo_correction"):
        with layout.show_errors():
            store.undo_revision(number, undone_at=datetime.now(UTC))
            redraw_changed(number)
    with st.expander("What the machine found"):
        st.html(f"<p>{wording.summarise(original)}</p>{render('correction', 'rep_times', original.reps)}")


def _show_clip(opened: result.OpenedReview, review: Review) -> None:
    """The clip with its player; `review` has the reps of the correction in the making."""
    playable = opened.drawn.playable(opened.clip_path)
    if playable is None:
        st.info("The clip is not where it was, so only the moments can be typed in.")
        return
    track = None
    if playable != opened.drawn.overlay:
        with suppress(FormcheckError):
            track = pack_landmark_track(load_cached_recording(opened.number))
    data = make_player_data(
        review, opened.first, scope=result.SCOPE, viewer=result.VIEWER, clip=result.CLIP, track=track
    )
    with st.container(key=result.VIEWER, gap="small"):
        with st.container(key=result.CLIP):
            st.video(str(playable), format="video/mp4", muted=True, alt="The clip of the set")
        # Anew for every state of the reps: a player given other data leaves the canvas as it was.
        state = hash(tuple((rep.start_s, rep.top_s, rep.end_s) for rep in review.reps))
        mount_player(data=data, key=f"fc_player_{state}")


main()
