"""Page: the stored reviews as a list to be worked through."""

from collections.abc import Sequence

import streamlit as st

from formcheck.storage import Store, StoredReview
from formcheck.web import controls, layout
from formcheck.web.components.assets import mount_actions
from formcheck.web.inbox import list_actions, rows
from formcheck.web.markup import render
from formcheck.web.review import example
from formcheck.web.session_state import page_state

_LOOKED_AT = 2000  # of more reviews only the newest are looked through; a part of a name finds others


def main() -> None:
    """Show the list."""
    view = page_state().inbox
    layout.show_heading("Reviewed sets")
    layout.show_pending_message()
    with layout.show_errors(), Store.open() as store:
        total = store.count_reviews()
        example.show_preparation(listed=total)
        if not total:
            st.info("No set has been reviewed yet. Choose a clip under “Review a set”.")
            return
        left, right = st.columns([3, 4], vertical_alignment="bottom")
        with right:
            view.shown = controls.choose_by_button(
                "Which sets", rows.SHOWN, key="set_shown", first=view.shown, labelled=False
            )
        view.sought = left.text_input(
            "Find a set",
            view.sought,
            key="set_sought",
            placeholder="Client, exercise or clip",
            max_chars=120,
            label_visibility="collapsed",
        )
        found = [
            row
            for row in store.list_reviews(containing=view.sought, limit=_LOOKED_AT)
            if rows.is_shown(row, view.shown)
        ]
        found = rows.sort_rows(found, view.sort, backwards=view.backwards)
        view.order = [row.id for row in found]
        list_actions.show_deletions(store)
        list_actions.show_export()
        _show_list(store, found)
    layout.show_cautions()


def _show_list(store: Store, found: Sequence[StoredReview]) -> None:
    view = page_state().inbox
    listed = found[: view.listed]
    if not found:
        sought = "No client, exercise or clip of these sets has this in its name."
        st.info(sought if view.sought else "There is no set of this kind.")
        return
    shown = rows.make_rows(store, listed)
    with st.container(key="fc_inbox"):
        st.html(render("inbox", "sets", shown, view.sort, view.backwards))
    if any(row.earlier for row in shown):
        st.caption(
            "“earlier”: an earlier version of formcheck made the review, and its numbers are never mixed with today’s. "
            "Choose such sets and press “Make anew”: the kept body points are read again, corrections included."
        )
    sent = mount_actions(list_actions.SET_LIST, "fc_set_list", "fc_inbox")
    if len(found) > len(listed) and st.button(f"Show more ({len(found) - len(listed)})", key="more_sets"):
        view.listed += rows.LISTED
        st.rerun()
    if sent is not None:
        list_actions.act(store, sent, view.order)


main()
