"""While the examples are being put in beside the page: a line that says so."""

import streamlit as st

from formcheck.demo.arriving import Arriving, arriving
from formcheck.page import frame
from formcheck.store.home import data_home

_POLL_S = 2.0


def show(*, fresh_rows: bool = False) -> None:
    """Say how far the examples are; nothing when they are not on their way.

    Parameters
    ----------
    fresh_rows : draw the page again whenever one more is there.
    """
    before = arriving(data_home())
    if before is not None:
        _follow(before, fresh_rows)


@st.fragment(run_every=_POLL_S)
def _follow(before: Arriving, fresh_rows: bool) -> None:
    now = arriving(data_home())
    if now is None or (fresh_rows and now != before):
        st.rerun()
    assert now is not None
    st.info(frame.plain(words(now)), icon=":material/hourglass_top:")


def words(now: Arriving) -> str:
    """How far it is, in a sentence."""
    return (
        f"The examples are on their way: {now.done} of {now.total} clips reviewed. What is there can be read under "
        "“Reviewed sets”; your own clips can be reviewed meanwhile."
    )
