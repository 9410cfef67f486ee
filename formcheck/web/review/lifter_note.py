"""Part of a review: what the lifter says about the set; pain turns everything into one sentence."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.coaching.note import LONGEST_TEXT, SetNote
from formcheck.coaching.pain_history import mentions_pain
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.web import layout
from formcheck.web.components.training_html import format_note

STOP = (
    "Pain was noted: stop this exercise and have it looked at by a physiotherapist or a doctor before it is loaded "
    "again. A camera cannot see pain."
)
REMARK = "The remark on this set speaks of pain. If it was none, answer below that nothing hurt. Until then it counts:"
_PAIN = {"not asked": None, "no": False, "yes": True}


def warn(review_id: int) -> None:
    """Say to stop when the lifter noted pain, or wrote of it."""
    with Store.open(default_store()) as store:
        note = store.note_of(review_id)
    if note is not None and mentions_pain(note):
        st.error(STOP if note.pain else f"{REMARK} {STOP}", icon=":material/front_hand:")


def show(review_id: int) -> None:
    """Show the note and the form to write it."""
    with Store.open(default_store()) as store:
        note = store.note_of(review_id)
    layout.show_section("How it felt")
    st.caption(layout.escape_markdown(format_note(note)) or "Nothing was noted yet. Everything here is optional.")
    with st.expander("Note how the set felt" if note is None else "Change the note"):
        _form(review_id, note or SetNote())


def _form(review_id: int, note: SetNote) -> None:
    pain = st.segmented_control(
        "Did anything hurt?",
        list(_PAIN),
        default=next(word for word, value in _PAIN.items() if value == note.pain),
        required=True,
        key=f"note_pain_{review_id}",
    )
    where = ""
    if _PAIN[pain]:
        where = st.text_input(
            "Where does it hurt?", note.pain_where or "", max_chars=LONGEST_TEXT, key=f"note_where_{review_id}"
        )
    left, middle, right = st.columns(3)
    effort = left.number_input(
        "Effort, 0 to 10",
        0.0,
        10.0,
        note.effort,
        0.5,
        key=f"note_effort_{review_id}",
        help="0: rest, 10: all there was.",
    )
    reserve = middle.number_input(
        "More reps possible",
        0.0,
        20.0,
        note.reps_in_reserve,
        0.5,
        key=f"note_reserve_{review_id}",
        help="How many more reps could have been done with good form (reps in reserve).",
    )
    sleep = right.number_input("Sleep, hours", 0.0, 24.0, note.sleep_h, 0.5, key=f"note_sleep_{review_id}")
    remark = st.text_input("Anything else", note.remark or "", max_chars=LONGEST_TEXT, key=f"note_remark_{review_id}")
    if st.button("Keep the note", key=f"note_keep_{review_id}"):
        written = SetNote(
            reserve, effort, _PAIN[pain], " ".join(where.split()) or None, sleep, " ".join(remark.split()) or None
        )
        with Store.open(default_store()) as store:
            store.save_note(review_id, written, written_at=datetime.now(UTC))
        st.rerun()
