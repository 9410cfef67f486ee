"""On a review: what was corrected by hand, and the way to correct more."""

import streamlit as st

from formcheck.core.model import Review
from formcheck.web.components import review_html
from formcheck.web.pages import PAGES


def show(review_id: int, review: Review) -> None:
    """Say what a person changed, and lead to where more is changed."""
    if review.by_hand:
        st.html(review_html.render_corrections(review.by_hand))
    st.page_link(
        PAGES / "correct_by_hand.py",
        label="Correct by hand",
        icon=":material/edit:",
        query_params={"review": str(review_id)},
    )
