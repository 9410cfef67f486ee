"""Part of a review: whose set it was and what was planned for it, with buttons to the client and to a comparison."""

from datetime import UTC, datetime

import streamlit as st

from formcheck.coaching.plan_adherence import compare_with_plan
from formcheck.core.model import Review
from formcheck.report import wording
from formcheck.storage import Store, StoredPlan, StoredReview
from formcheck.web import controls, layout
from formcheck.web.components import training_html

_MOST_SETS = 1000


def show(review_id: int) -> None:
    """Show client, day and set number with the plan of the set; all can be changed."""
    with Store.open() as store:
        row = store.list_reviews(review_id=review_id)[0]
        review = store.load_review(review_id)
        stored = store.plan_of(row.client_id, row.exercise_id, on=row.session_on) if row.client_id is not None else None
        names = [client.name for client in store.list_clients()]
    who = row.client or wording.capitalise(wording.NO_CLIENT)
    title = layout.escape_markdown(f"{who}, {wording.format_day(row.session_on)}, set {row.set_number}")
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        if row.client_id is not None:
            controls.show_page_button("The client over time", "clients", key="to_client", client=row.client_id)
        controls.show_link("correct_by_hand", "Correct by hand", "edit", review=review_id)
    with st.expander(f"Client: {title}"):
        _show_client(row, review, stored, names)


def _show_client(row: StoredReview, review: Review, stored: StoredPlan | None, names: list[str]) -> None:
    plan = stored.plan if stored is not None else None
    if plan is not None or row.target_reps is not None:
        done = compare_with_plan(plan, [review] * row.set_number)[row.set_number - 1]
        st.caption(layout.escape_markdown(f"Planned: {plan or wording.describe_target(review.set_info)}."))
        st.html(training_html.render_done_list(done))
    _ask_client(row, names)


def _ask_client(row: StoredReview, names: list[str]) -> None:
    left, middle, right = st.columns([3, 2, 1])
    client = left.selectbox(
        "Client",
        names,
        index=names.index(row.client) if row.client in names else None,
        accept_new_options=True,
        placeholder="Choose, or type a new name",
        key=f"assign_client_{row.id}",
    )
    day = middle.date_input("Day of the session", row.session_on, format="YYYY-MM-DD", key=f"assign_day_{row.id}")
    most = max(_MOST_SETS, row.set_number)  # set numbers given on the command line have no limit
    number = int(right.number_input("Set", 1, most, row.set_number, step=1, key=f"assign_set_{row.id}"))
    if st.button("Keep this", key=f"assign_keep_{row.id}"):
        with layout.show_errors():
            with Store.open() as store:
                now = datetime.now(UTC)
                store.change_review(row.id, client=client, session_on=day, set_number=number, changed_at=now)
            st.rerun()
