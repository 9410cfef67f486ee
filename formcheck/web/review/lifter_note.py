"""Part of a review: the lifter's note on the set; where pain was noted, a sentence to stop comes first."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.coaching.note import LONGEST_TEXT, SetNote
from formcheck.coaching.pain_history import mentions_pain
from formcheck.report.wording import format_note
from formcheck.storage import Store
from formcheck.web import layout

STOP = (
    "Pain was noted: stop this exercise and have it looked at by a physiotherapist or a doctor before it is loaded "
    "again. A camera cannot see pain."
)
REMARK = "The remark on this set speaks of pain. If it was none, answer below that nothing hurt. Until then it counts:"
_PAIN = {"not asked": None, "no": False, "yes": True}
_NUMBERS = {
    "effort": ("Effort, 0 to 10", 10.0, "0: rest, 10: all there was."),
    "reps_in_reserve": (
        "Reps left in reserve",
        20.0,
        "How many more reps could have been done with good form (reps in reserve).",
    ),
    "sleep_h": ("Sleep, hours", 24.0, None),
}
"""Field of a note → its words, its largest value, an explanation."""


def warn(review_id: int) -> None:
    """Show that the exercise is to be stopped when the lifter noted pain, or wrote of it."""
    with Store.open() as store:
        note = store.note_of(review_id)
    if note is not None and mentions_pain(note):
        st.error(STOP if note.pain else f"{REMARK} {STOP}", icon=":material/front_hand:")


def show(review_id: int) -> None:
    """Show the note and the form to write it."""
    with Store.open() as store:
        note = store.note_of(review_id)
    with st.expander("How it felt" if note is None else f"How it felt: {layout.escape_markdown(format_note(note))}"):
        st.caption(layout.escape_markdown(format_note(note)) or "Nothing was noted yet. Everything here is optional.")
        _ask_note(review_id, note or SetNote())


def _ask_note(review_id: int, note: SetNote) -> None:
    words = [word for word, value in _PAIN.items() if value == note.pain]
    pain = st.segmented_control(
        "Did anything hurt?", list(_PAIN), default=words[0], required=True, key=f"note_pain_{review_id}"
    )
    where = _ask_text("Where does it hurt?", note.pain_where, f"note_where_{review_id}") if _PAIN[pain] else None
    numbers = {
        name: column.number_input(
            label, 0.0, most, getattr(note, name), 0.5, key=f"note_{name}_{review_id}", help=help_text
        )
        for column, (name, (label, most, help_text)) in zip(st.columns(3), _NUMBERS.items(), strict=True)
    }
    remark = _ask_text("Anything else", note.remark, f"note_remark_{review_id}")
    if st.button("Keep the note", key=f"note_keep_{review_id}"):
        written = SetNote(pain=_PAIN[pain], pain_where=where, remark=remark, **numbers)
        with Store.open() as store:
            store.save_note(review_id, written, written_at=datetime.now(UTC))
        st.rerun()


def _ask_text(label: str, given: str | None, key: str) -> str | None:
    return " ".join(st.text_input(label, given or "", max_chars=LONGEST_TEXT, key=key).split()) or None
