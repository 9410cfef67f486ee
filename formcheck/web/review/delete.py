"""Part of a review: deleting it for good, with what was drawn for it and what only it needs."""

import streamlit as st

from formcheck.services.delete import delete_review_data
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home, default_store
from formcheck.web import layout
from formcheck.web.pages import PAGES
from formcheck.web.session_state import open_in_page, page_state


def show(review_id: int) -> None:
    """Offer it, behind a box to be ticked."""
    with st.expander("Delete this review"):
        st.html(
            "<p>Numbers, corrections, note, drawn results, body points and formcheck’s copy of the clip go for good. "
            "A clip of your own stays where it is, and so does what another review needs.</p>"
        )
        sure = st.checkbox("Yes, for good", key=f"sure_{review_id}")
        if st.button("Delete this review", disabled=not sure, key="delete_review") and sure:
            with layout.show_errors():
                with Store.open(default_store()) as store:
                    delete_review_data(store, review_id, data_home())
                open_in_page()
                page_state().pending_message = "The review is deleted."
                st.switch_page(PAGES / "reviewed_sets.py")
