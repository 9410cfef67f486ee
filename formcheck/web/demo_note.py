"""While the examples are being put in beside the page: a line that says so."""

import streamlit as st

from formcheck.demo.install import read_progress
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home
from formcheck.web import layout

_POLL_S = 2.0


def show(*, listed: int | None = None) -> None:
    """Say how far the examples are; nothing when they are not on their way.

    Parameters
    ----------
    listed : how many reviews are listed below: the page is made again when there are more.
    """
    if read_progress(data_home()) is not None:
        _follow(listed)


@st.fragment(run_every=_POLL_S)
def _follow(listed: int | None) -> None:
    now = read_progress(data_home())
    with Store.open() as store:
        if now is None or (listed is not None and store.count_reviews() > listed):
            st.rerun()
    sentence = (
        f"Preparing examples ({now.done} of {now.total}). Ready ones are under “Reviewed sets”; "
        "you can review your own clips meanwhile."
    )
    st.info(layout.escape_markdown(sentence), icon=":material/hourglass_top:")
