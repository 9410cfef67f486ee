"""The examples: one on the start page, with what came out of its set; a line while they are being put in."""

from contextlib import suppress

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.demo.install import read_progress
from formcheck.report.cue_trend import CueTrend, make_cue_trend
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.trend_chart import describe_trend
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store, StoredReview, media_files
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.storage.media_files import ShippedClip
from formcheck.web import controls, layout
from formcheck.web.charts.trend import draw_trend
from formcheck.web.inbox.rows import make_rows
from formcheck.web.markup import render
from formcheck.web.review.chosen_clips import ReadyClip
from formcheck.web.session_state import page_state

CLIP = "lateral_raise_front_range_lost"
"""The shipped clip shown first."""
_STILLS, _LOOKED_AT = 3, 50
_POLL_S = 2.0


def show() -> None:
    """Show the reviewed example; where there is none yet, offer to review it."""
    with Store.open() as store:
        row = find_example(store)
        shown = make_rows(store, [row])[0] if row is not None else None
        has_stills = row is not None and bool(DataFolder(data_home()).artifacts(row.id).top_pictures())
        trend = None if row is None or has_stills else _make_trend(store, row)
    if shown is not None:
        stills = DataFolder(data_home()).artifacts(shown.stored.id).top_pictures()
        numbers = sorted(stills)
        chosen = sorted({numbers[0], numbers[len(numbers) // 2], numbers[-1]})[:_STILLS] if numbers else []
        st.html(render("inbox", "example", shown, [(number, stills[number]) for number in chosen]))
        if trend is not None:  # nothing is drawn from its clip yet
            layout.show_chart(draw_trend(trend, dark=layout.is_dark()), key="example_trend", alt=describe_trend(trend))
        controls.show_page_button("Open the example", "review_set", key="open_example", review=shown.stored.id)
    elif any(clip.path.stem == CLIP for clip in media_files.shipped_clips()):
        st.html(render("inbox", "no_example"))
        if st.button("Take the example", key="take_example"):
            page_state().example = CLIP
            st.rerun()


def _make_trend(store: Store, row: StoredReview) -> CueTrend | None:
    """What its cue is about, rep by rep; None where that cannot be read."""
    with suppress(FormcheckError):
        review = store.load_review(row.id)
        exercise = exercise_for(store, review.exercise.id, row.client_id)
        return make_cue_trend(review, exercise, choose_next_cue(review, exercise))
    return None


def find_example(store: Store) -> StoredReview | None:
    """The review of the example clip, or of another shipped one; None where none is reviewed."""
    shipped = {clip.path.name for clip in media_files.shipped_clips()}
    wanted = store.list_reviews(containing=f"{CLIP}.mp4", with_reps=True, limit=1)
    if wanted and wanted[0].clip_name in shipped:
        return wanted[0]
    rows = store.list_reviews(containing="raise_", with_reps=True, limit=_LOOKED_AT)
    return next((row for row in rows if row.clip_name in shipped), None)


def make_ready_clip(stem: str) -> ReadyClip:
    """The example as a clip to be reviewed."""
    clip = next((clip for clip in media_files.shipped_clips() if clip.path.stem == stem), None)
    clip = clip or ShippedClip(media_files.shipped_folder() / f"{stem}.mp4", None)
    return ReadyClip(clip.path.stem, clip.path, clip.path.name, exercise=clip.exercise)


def show_preparation(*, listed: int | None = None) -> None:
    """Say how far the examples are; nothing when they are not on their way.

    Parameters
    ----------
    listed : how many reviews are listed below: the page is made again when there are more.
    """
    if read_progress(data_home()) is not None:
        _follow(listed)


@st.fragment(run_every=_POLL_S)
def _follow(listed: int | None) -> None:
    now = read_progress(data_home())
    with Store.open() as store:
        if now is None or (listed is not None and store.count_reviews() > listed):
            st.rerun()
    sentence = (
        f"Preparing examples ({now.done} of {now.total}). Ready ones are under “Reviewed sets”; "
        "you can review your own clips meanwhile."
    )
    st.info(layout.escape_markdown(sentence), icon=":material/hourglass_top:")
