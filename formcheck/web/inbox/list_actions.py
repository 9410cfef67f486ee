"""What is asked for in the list of reviewed sets.

Deletions that can still be undone, an export to be saved, reviews of an earlier formcheck made anew.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from functools import partial

import streamlit as st

from formcheck.core.errors import FormcheckError
from formcheck.report import wording
from formcheck.services.delete import UNDO_S, delete_marked
from formcheck.services.export import export_reviews
from formcheck.services.stored_analysis import renew
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import export_file, layout
from formcheck.web.components.assets import declare_component
from formcheck.web.correction.save import redraw
from formcheck.web.inbox.rows import SORTS
from formcheck.web.pages import PAGES
from formcheck.web.review.renewal import is_earlier
from formcheck.web.session_state import page_state

SET_LIST = declare_component("set_list", "set_list.js", isolate_styles=False)
"""Keys, boxes and buttons of the list, which is a table of the page itself."""
_POLL_S = 1.0


def act(store: Store, sent: object, listed: Sequence[int]) -> None:
    """Do what was asked for in the list: the browser sends what, and which of the sets listed."""
    what = sent.get("do") if isinstance(sent, dict) else None
    given = sent.get("sets") if isinstance(sent, dict) else None
    chosen = [number for number in given if number in listed] if isinstance(given, list) else []
    view = page_state().inbox
    by = str(sent.get("by")) if isinstance(sent, dict) else ""
    if what == "sort" and by in SORTS:
        view.backwards = not view.backwards if by == view.sort else by == "day"
        view.sort = by
    elif what == "open" and chosen:
        st.switch_page(PAGES / "review_set.py", query_params={"review": str(chosen[0])})
    elif what == "done" and chosen:
        there = {row.id: row.done_at for row in store.list_reviews()}
        open_ones = [number for number in chosen if there.get(number) is None]
        # Once all of them are done, the same takes the mark back.
        store.mark_reviews(open_ones or chosen, done_at=datetime.now(UTC) if open_ones else None)
    elif what == "delete" and chosen:
        store.mark_reviews(chosen, deletion_at=datetime.now(UTC))
    elif what == "export" and chosen:
        make_export(store, chosen)
    elif what == "renew" and chosen:
        renew_chosen(store, chosen)
    else:
        return
    st.rerun()


def show_deletions(store: Store) -> None:
    """How long a deletion can still be undone, with the button for it; nothing where none waits."""
    if store.list_reviews(marked="deletion_at"):
        with st.container(key="fc_undo"):
            _follow_deletions()


@st.fragment(run_every=_POLL_S)
def _follow_deletions() -> None:
    now = datetime.now(UTC)
    with layout.show_errors(), Store.open() as store:
        gone = delete_marked(store, data_home(), now=now)
        moments = [row.deletion_at for row in store.list_reviews(marked="deletion_at") if row.deletion_at is not None]
        if not moments:
            page_state().pending_message = f"{wording.count(len(gone), 'set')} deleted." if gone else "Deleted."
            st.rerun()
        left = max(1, round(UNDO_S - (now - max(moments)).total_seconds()))
        with st.container(horizontal=True, vertical_alignment="center"):
            st.html(
                f'<p role="status">{wording.count(len(moments), "set")} will be deleted for good in {left} s.</p>',
                width="content",
            )
            if st.button("Undo", key="undo_deletion", type="primary", shortcut="U"):
                store.mark_reviews([row.id for row in store.list_reviews(marked="deletion_at")], deletion_at=None)
                st.rerun()


def make_export(store: Store, review_ids: Sequence[int]) -> None:
    """Write chosen reviews to a file, to be saved or removed."""
    file = DataFolder(data_home()).chosen_export
    write = partial(export_reviews, store, set(review_ids), file, data_home(), exported_at=datetime.now(UTC))
    missing = export_file.write_export(file, lambda report: write(on_progress=report))
    page_state().pending_problems = [f"Not in the export: {sentence}" for sentence in missing]


def renew_chosen(store: Store, review_ids: Sequence[int]) -> None:
    """Make those of the chosen reviews anew that an earlier formcheck made; one that cannot be stays as it is."""
    bar, made, problems = st.progress(0.0, text="Making reviews anew"), 0, []
    for place, number in enumerate(review_ids):
        bar.progress(place / len(review_ids), "Making reviews anew")
        try:
            if not is_earlier(store.load_review(number)):
                continue
            renew(store, number, data_home(), created_at=datetime.now(UTC))
            redraw(number)
        except FormcheckError as error:
            problems.append(f"Review {number} stays as it is: {error}")
        else:
            made += 1
    bar.empty()
    state = page_state()
    state.pending_problems = problems
    if made:
        told = wording.count(made, "review")
        state.pending_message = f"{told} made anew. The first ones stay retrievable: undo it under “Correct by hand”."
    elif not problems:
        state.pending_message = "Today’s formcheck made all of these: nothing to make anew."


def show_export() -> None:
    """The export made last, until it is removed."""
    export_file.show_export(DataFolder(data_home()).chosen_export, "formcheck-sets", "chosen")
