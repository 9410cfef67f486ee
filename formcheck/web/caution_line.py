"""The one sentence of care that other pages carry, with the way to the page of all cautions."""

from collections.abc import Sequence
from html import escape

import streamlit as st

from formcheck.report import wording
from formcheck.web.components import review_html
from formcheck.web.pages import PAGES


def show(own: Sequence[str] = ()) -> None:
    """Show the sentence and the link.

    Parameters
    ----------
    own : cautions that belong to the exercises at hand, in full.
    """
    if own:
        st.html(review_html.render_cautions(own, "For this exercise"))
    st.html(f'<p class="fc-caution-line">{escape(wording.short_caution("page “Cautions”"))}</p>')
    st.page_link(PAGES / "cautions.py", label="All cautions", icon=":material/health_and_safety:")
