"""Part of a review: whose set it was, what was planned for it, and the ways to the client and to a comparison."""

from datetime import UTC, datetime
from html import escape

import streamlit as st

from formcheck.coaching.plan_adherence import compare_with_plan
from formcheck.report import wording
from formcheck.storage import Store, StoredReview
from formcheck.storage.data_folder import default_store
from formcheck.web import layout
from formcheck.web.components import training_html
from formcheck.web.pages import PAGES

_MOST_SETS = 1000


def show(review_id: int) -> None:
    """Show client, day and set number with the plan of the set; all can be changed."""
    with Store.open(default_store()) as store:
        row = store.list_reviews(review_id=review_id)[0]
        review = store.load_review(review_id)
        plan = None
        if row.client_id is not None:
            plan = store.plan_of(row.client_id, row.exercise_id, on=row.session_on)
        names = [client.name for client in store.list_clients()]
    layout.show_section("Whose set")
    who = row.client or wording.capital(wording.NO_CLIENT)
    st.html(f'<p class="fc-lead-small">{escape(who)}, {row.session_on:%d.%m.%Y}, set {row.set_number}</p>')
    held = plan.plan if plan is not None else None
    if held is not None or row.target_reps is not None:
        done = compare_with_plan(held, [review] * row.set_number)[row.set_number - 1]
        st.caption(layout.escape_markdown(f"Planned: {held or wording.count(row.target_reps or 0, 'rep')}."))
        st.html(training_html.render_done_list(done))
    with st.container(horizontal=True):
        if row.client_id is not None and st.button("The client over time", key="to_client"):
            st.switch_page(PAGES / "clients.py", query_params={"client": str(row.client_id)})
        if st.button("Compare this set", key="to_compare"):
            st.switch_page(PAGES / "compare.py", query_params={"after": str(review_id)})
    with st.expander("Change whose set it was"):
        _form(row, names)


def _form(row: StoredReview, names: list[str]) -> None:
    left, middle, right = st.columns([3, 2, 1])
    client = left.selectbox(
        "Client",
        names,
        index=names.index(row.client) if row.client in names else None,
        accept_new_options=True,
        placeholder="Choose, or type a new name",
        key=f"assign_client_{row.id}",
    )
    day = middle.date_input("Day of the session", row.session_on, format="DD.MM.YYYY", key=f"assign_day_{row.id}")
    most = max(_MOST_SETS, row.set_number)  # numbers given on the way in know no end
    number = right.number_input("Set", 1, most, row.set_number, step=1, key=f"assign_set_{row.id}")
    if st.button("Keep this", key=f"assign_keep_{row.id}"):
        with layout.show_errors():
            with Store.open(default_store()) as store:
                store.change_review(
                    row.id,
                    client=client,
                    session_on=day,
                    set_number=int(number),
                    changed_at=datetime.now(UTC),
                )
            st.rerun()
