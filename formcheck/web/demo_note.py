"""While the examples are being put in beside the page: a line that says so."""

import streamlit as st

from formcheck.demo.install import InstallProgress, read_progress
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home
from formcheck.web import layout

_POLL_S = 2.0


def show(*, rows: int | None = None) -> None:
    """Say how far the examples are; nothing when they are not on their way.

    Parameters
    ----------
    rows : how many reviews are listed below: the page is made again when there are more.
    """
    if read_progress(data_home()) is not None:
        _follow(rows)


@st.fragment(run_every=_POLL_S)
def _follow(rows: int | None) -> None:
    now = read_progress(data_home())
    if now is None or (rows is not None and _stored(rows + 1) > rows):
        st.rerun()
    assert now is not None
    st.info(layout.escape_markdown(describe_progress(now)), icon=":material/hourglass_top:")


def _stored(most: int) -> int:
    with Store.open() as store:
        return len(store.list_reviews(limit=most))


def describe_progress(now: InstallProgress) -> str:
    """How far it is, in a sentence."""
    return (
        f"The examples are on their way: {now.done} of {now.total} clips reviewed. What is there can be read under "
        "“Reviewed sets”; your own clips can be reviewed meanwhile."
    )
