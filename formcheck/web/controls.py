"""Controls of several pages: what one thing is chosen with, and what leads to another page."""

from collections.abc import Hashable, Mapping
from typing import TypeVar

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from formcheck.web.pages import PAGES

T = TypeVar("T", bound=Hashable)


def choose_from_list(
    label: str, names: Mapping[T, str], *, key: str, wanted: object = None, column: DeltaGenerator | None = None
) -> T:
    """The id chosen from a list of names.

    Parameters
    ----------
    names : id → name, at least one. The server keeps both for every visitor, so ids are numbers or short texts.
    wanted : the id chosen at first, where it is listed; else it is the first.
    column : where the list stands; else below what is there.
    """
    ids = list(names)
    index = ids.index(wanted) if wanted in ids else 0
    return (column or st).selectbox(label, ids, index=index, format_func=names.__getitem__, key=key)


def choose_by_button(
    label: str, names: Mapping[T, str], *, key: str, first: T | None = None, labelled: bool = True
) -> T:
    """The id chosen from a row of buttons, at first `first` or the first one."""
    return st.segmented_control(
        label,
        list(names),
        default=next(iter(names)) if first is None else first,
        required=True,
        format_func=names.__getitem__,
        key=key,
        label_visibility="visible" if labelled else "collapsed",
    )


def show_link(page: str, label: str, icon: str | None = None, **query: object) -> None:
    """A link to another page, named by its file in `pages`; `query` is what its address says."""
    icon = f":material/{icon}:" if icon else None
    st.page_link(PAGES / f"{page}.py", label=label, icon=icon, query_params=_as_text(query))


def show_page_button(label: str, page: str, *, key: str, help: str | None = None, **query: object) -> None:
    """A button that leads to another page, as `show_link`."""
    if st.button(label, key=key, help=help):
        st.switch_page(PAGES / f"{page}.py", query_params=_as_text(query))


def _as_text(query: Mapping[str, object]) -> dict[str, str]:
    return {name: str(value) for name, value in query.items()}
