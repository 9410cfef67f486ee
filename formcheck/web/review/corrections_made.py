"""On a review: what was corrected by hand, and the way to correct more."""

from html import escape

import streamlit as st

from formcheck.core.model import Review
from formcheck.web.pages import PAGES


def show(review_id: int, review: Review) -> None:
    """Say what a person changed, and lead to where more is changed."""
    if review.by_hand:
        told = "".join(f"<li>{escape(sentence)}</li>" for sentence in review.by_hand)
        st.html(
            '<section class="fc-corrected" aria-label="Corrected by hand"><span class="fc-by-hand">corrected by hand'
            f'</span><ul class="fc-plain">{told}</ul></section>'
        )
    st.page_link(
        PAGES / "correct_by_hand.py",
        label="Correct by hand",
        icon=":material/edit:",
        query_params={"review": str(review_id)},
    )
