"""Over a set's page: its place in the list, the ways to the next and the one before, and done."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.storage import Store, StoredReview
from formcheck.web.inbox.rows import is_shown, sort_rows
from formcheck.web.pages import PAGES
from formcheck.web.session_state import open_in_page, page_state


def show(review_id: int) -> None:
    """Show the parts of the bar, and note that the set was seen."""
    with Store.open() as store:
        row = next(iter(store.list_reviews(review_id=review_id)), None)
        if row is None:
            return
        if row.seen_at is None and store.writable:
            store.mark_reviews([review_id], seen_at=datetime.now(UTC))
        order = _find_order(store, row)
    place = order.index(review_id)
    before, after = order[place - 1] if place else None, order[place + 1] if place + 1 < len(order) else None
    done = row.done_at is not None
    if st.button("All sets", key="to_list", icon=":material/list:", type="tertiary"):
        st.switch_page(PAGES / "reviewed_sets.py")
    st.html(f'<p class="fc-place">{place + 1} of {len(order)}</p>')
    if st.button(
        "Previous", key="set_before", icon=":material/chevron_left:", disabled=before is None, shortcut="Shift+P"
    ):
        _go_to(before)
    if st.button("Next", key="set_after", icon=":material/chevron_right:", disabled=after is None, shortcut="Shift+N"):
        _go_to(after)
    words = "Not done" if done else "Done, next set"
    if st.button(words, key="set_done", type="secondary" if done else "primary", shortcut="D"):
        with Store.open() as store:
            store.mark_reviews([review_id], done_at=None if done else datetime.now(UTC))
        if done:
            st.rerun()
        _go_to(after, finished=True)


def _find_order(store: Store, row: StoredReview) -> list[int]:
    """The sets as listed last; where this one is not among them, those still to do, with it."""
    listed = page_state().inbox.order
    if row.id not in listed:
        rows = [item for item in store.list_reviews() if item.id == row.id or is_shown(item, "open")]
        listed = page_state().inbox.order = [item.id for item in sort_rows(rows, "day", backwards=True)]
    return listed


def _go_to(review_id: int | None, *, finished: bool = False) -> None:
    """Another set; the list where there is none left."""
    if review_id is not None:
        open_in_page(review_id=review_id)
        st.rerun()
    if finished:
        page_state().pending_message = "That was the last set of the list."
    st.switch_page(PAGES / "reviewed_sets.py")
