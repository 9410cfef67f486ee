"""A store that was deleted or replaced while the page had it open: told, and nothing done until a person decides."""

import streamlit as st

from formcheck.storage.file_identity import accept_store, missing_store
from formcheck.web import layout


def stop_if_store_changed() -> None:
    """Stop the page at the question what to do, where the store is no longer the one it had."""
    gone = missing_store()
    if gone is None:
        return
    path, sentence = gone
    st.error(
        layout.escape_markdown(
            f"{sentence} Put it back under this name and load the page anew; or go on with what lies there now, "
            "an empty store if there is none."
        )
    )
    if st.button("Go on with what lies there now"):
        accept_store(path)
        st.cache_data.clear()
        st.cache_resource.clear()
        st.rerun()
    st.stop()
