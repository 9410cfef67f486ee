"""Page: review a set - choose a clip, follow the work, read the result."""

import streamlit as st

from formcheck.page import frame, progress, result, start
from formcheck.page.state import page_state, show_start, take_address


def main() -> None:
    """Show the step the visitor is at."""
    take_address()
    state = page_state()
    # The page's own link in the navigation keeps the address, and with it the review on screen.
    if state.review_id is not None and st.button(
        "Review another set", key="again", icon=":material/add:", type="tertiary"
    ):
        show_start()
        st.rerun()
    with frame.told():
        if state.review_id is not None:
            result.show(state.review_id)
        elif state.job_id is not None:
            progress.show(state.job_id)
        else:
            start.show()


main()
