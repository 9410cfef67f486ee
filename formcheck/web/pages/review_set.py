"""Page: review a set - choose a clip, follow the work, read the result."""

import streamlit as st

from formcheck.report import problem_text, wording
from formcheck.storage import Store
from formcheck.web import layout
from formcheck.web.inbox import next_set
from formcheck.web.review import progress, result, start, work_list
from formcheck.web.session_state import open_in_page, page_state, read_address


def _name_tab(review_id: int) -> None:
    """Name the browser's tab after the set: exercise, client, day."""
    with Store.open() as store:
        (row,) = store.list_reviews(review_id=review_id)
    exercise = problem_text.get_exercise_name(row.exercise_id)
    parts = [exercise, row.client, f"{wording.format_day(row.session_on)}, set {row.set_number}", "formcheck"]
    st.set_page_config(page_title=" · ".join(part for part in parts if part))


def main() -> None:
    """Show the step the visitor is at."""
    read_address()
    state = page_state()
    # The page's own link in the navigation leaves the address as it is, and with it the review on screen.
    if state.review_id is not None:
        with layout.show_errors(), st.container(horizontal=True, vertical_alignment="center", key="fc_next_set"):
            if st.button("Review another set", key="again", icon=":material/add:", type="tertiary"):
                open_in_page()
                st.rerun()
            next_set.show(state.review_id)
    with layout.show_errors():
        if state.review_id is not None:
            work_list.show_line()
            result.show(state.review_id)
            _name_tab(state.review_id)
        elif state.job_id is not None:
            progress.show(state.job_id)
        else:
            start.show()


main()
