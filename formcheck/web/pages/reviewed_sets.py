"""Page: the stored reviews, newest first."""

import streamlit as st

from formcheck.report import wording
from formcheck.report.problem_text import is_blocked, name_problems
from formcheck.storage import Store, StoredReview
from formcheck.web import controls, demo_note, layout
from formcheck.web.pages import PAGES

_LISTED = 100
_FILTERED_FROM = 12  # with more reviews than this there is a field to find one by a name


def _count_results(row: StoredReview) -> str:
    """Reps, load and points of a set in one line, or what made its review impossible."""
    problem = name_problems(row.problem_codes)
    if problem and is_blocked(row.problem_codes):
        return problem
    reps = wording.count(row.complete_reps, "complete rep")
    if row.partial_reps:
        reps += f" and {wording.count(row.partial_reps, 'partial rep')}"
    load = wording.format_load(row.load_kg)
    # Of a set that was seen in part nobody knows that there is nothing to change.
    change = "" if problem else "nothing to change"
    if row.not_met:
        change = f"{wording.format_probable(row.not_met, row.probably_not_met)} to change"
    well = f"{wording.format_probable(row.met, row.probably_met)} going well"
    close = f"{row.too_close} too close to call" if row.too_close else ""
    parts = [problem, reps, load, change, well, close]
    return " · ".join(part for part in parts if part)


def main() -> None:
    """Show the list."""
    layout.show_heading("Reviewed sets", "Everything kept on this machine, newest first.")
    layout.show_pending_message()
    with layout.show_errors():
        with Store.open() as store:
            total, sought = store.count_reviews(), ""
            if total > _FILTERED_FROM:
                sought = st.text_input(
                    "Find a set",
                    key="set_sought",
                    placeholder="A part of the client’s, the exercise’s or the clip’s name",
                    max_chars=120,
                )
            rows = store.list_reviews(containing=sought, limit=_LISTED)
        demo_note.show(listed=total if total < _LISTED else None)
        if not total:
            st.info("No set has been reviewed yet. Choose a clip under “Review a set”.")
        elif not rows:
            st.info("No client, exercise or clip of a reviewed set has this in its name.")
        for row in rows:
            day, who = f"{row.created_at.astimezone():%d %b %Y, %H:%M}", f"{row.client} · " if row.client else ""
            facts = (day, _count_results(row), "", f"{who}“{row.clip_name}”")
            if controls.show_row(row.exercise_name, *facts, key=f"open_{row.id}", name=f"review {row.id}"):
                st.switch_page(PAGES / "review_set.py", query_params={"review": str(row.id)})
        if len(rows) == _LISTED:
            st.caption(f"Only the newest {_LISTED} are listed; type a part of a name to find others.")
    layout.show_cautions()


main()
