"""Page: the stored reviews, newest first."""

from html import escape

import streamlit as st

from formcheck.report import wording
from formcheck.report.problem_text import is_blocked, list_text
from formcheck.storage import Store, StoredReview
from formcheck.web import caution_line, demo_note, layout
from formcheck.web.pages import PAGES

_SHOWN = 100
_AT_A_GLANCE = 12


def _counts(row: StoredReview) -> str:
    problem = list_text(row.problem_codes)
    if problem and is_blocked(row.problem_codes):
        return problem
    reps = wording.count(row.complete_reps, "complete rep")
    if row.partial_reps:
        reps += f" and {wording.count(row.partial_reps, 'partial rep')}"
    load = wording.load_text(row.load_kg)
    # Of a set that was seen in part nobody knows that there is nothing to change.
    change = f"{row.not_met} to change" if row.not_met else "" if problem else "nothing to change"
    parts = [problem, reps, load, change, f"{row.met} going well"]
    return " · ".join(part for part in parts if part)


def _row(row: StoredReview) -> None:
    with st.container(border=True, horizontal=True, vertical_alignment="center", key=f"fc_row_{row.id}"):
        day = row.created_at.astimezone().strftime("%d %b %Y, %H:%M")
        who = f"{escape(row.client)} · " if row.client else ""
        st.html(
            f'<div class="fc-set"><b>{escape(row.exercise_name)}</b><span>{day}</span>'
            f"<span>{escape(_counts(row))}</span><span></span><span>{who}“{escape(row.clip_name)}”</span></div>"
        )
        if st.button("Open", key=f"open_{row.id}", help=f"Open review {row.id}"):
            st.switch_page(PAGES / "review_set.py", query_params={"review": str(row.id)})


def _ask_filter() -> str:
    return st.text_input(
        "Find a set",
        key="set_sought",
        placeholder="A part of the client’s, the exercise’s or the clip’s name",
        max_chars=120,
    )


def main() -> None:
    """Show the list."""
    st.html(
        '<header class="fc-hero"><h1>Reviewed sets</h1><p>Everything kept on this machine, newest first.</p></header>'
    )
    layout.show_pending_message()
    with layout.show_errors():
        with Store.open() as store:
            kept = store.count_reviews()
            sought = _ask_filter() if kept > _AT_A_GLANCE else ""
            rows = store.list_reviews(containing=sought, limit=_SHOWN)
        demo_note.show(rows=kept if kept < _SHOWN else None)
        if not kept:
            st.info("No set has been reviewed yet. Choose a clip under “Review a set”.")
        elif not rows:
            st.info("No client, exercise or clip of a reviewed set has this in its name.")
        for row in rows:
            _row(row)
        if len(rows) == _SHOWN:
            st.caption(f"Only the newest {_SHOWN} are listed; type a part of a name to find others.")
    caution_line.show()


main()
