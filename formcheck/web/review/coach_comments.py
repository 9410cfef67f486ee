"""Part of a review: what the coach says of the set, with what was drawn and said; a comment on the whole set."""

from datetime import UTC, datetime
from html import escape

import streamlit as st

from formcheck.coaching.comment import LONGEST_COMMENT, CoachComment, Stroke
from formcheck.core.errors import FormcheckError, UsageError
from formcheck.report import wording
from formcheck.report.comment_pictures import draw_comment_pictures
from formcheck.services.review_outputs import find_unchanged_clip
from formcheck.storage import Store
from formcheck.storage.rows import StoredComment
from formcheck.web import layout
from formcheck.web.stored_reviews import load_cached_recording


def show(review_id: int) -> None:
    """Every comment, and the field for one on the whole set."""
    with Store.open() as store:
        found = store.comments_of(review_id)
        sounds = {item.id: store.voice_of(item.id) for item in found if item.has_voice}
    if found:
        layout.show_section("The coach says")
    for item in found:
        _show_comment(item, sounds.get(item.id))
    with layout.show_errors(), st.expander("Comment on the set"), st.form(f"comment_set_{review_id}", border=False):
        text = st.text_area("What you say", key=f"comment_set_{review_id}_{len(found)}", max_chars=LONGEST_COMMENT)
        if st.form_submit_button("Keep the comment"):
            words = " ".join(text.split())
            if not words:
                raise UsageError("Type what you say first.")
            with Store.open() as store:
                store.add_comment(review_id, CoachComment(words), created_at=datetime.now(UTC))
            st.rerun()


def _show_comment(item: StoredComment, sound: bytes | None) -> None:
    said = item.comment
    with st.container(border=True, key=f"fc_comment_{item.id}"):
        where = ""
        if said.at_s is not None:
            moment = wording.format_moment(said.at_s)
            where = f'<button type="button" class="fc-moment" data-t="{said.at_s:.3f}">{moment}</button> '
        st.html(f'<p class="fc-comment">{where}{escape(said.text)}</p>')
        if said.strokes and said.at_s is not None:
            picture = _draw(item.review_id, said.at_s, said.strokes)
            if picture:
                st.html(f'<img class="fc-drawn" src="{picture}" alt="What the coach drew on the picture">')
        if sound is not None:
            st.audio(sound, format="audio/wav")
        if st.button("Delete", key=f"comment_delete_{item.id}", type="tertiary", help="Delete this comment for good"):
            with layout.show_errors(), Store.open() as store:
                store.delete_comment(item.id)
                st.rerun()


@st.cache_data(max_entries=64, show_spinner=False)
def _draw(review_id: int, at_s: float, strokes: tuple[Stroke, ...]) -> str:
    """The picture that was drawn on, as a data address; empty where it cannot be had."""
    with Store.open() as store:
        (row,) = store.list_reviews(review_id=review_id)
    clip = find_unchanged_clip(row.clip_path, row.clip_sha256)
    if clip is None:
        return ""
    try:
        drawn = draw_comment_pictures(clip, load_cached_recording(review_id), [CoachComment("-", at_s, strokes)])
    except FormcheckError:
        return ""
    return drawn[0].data_uri
