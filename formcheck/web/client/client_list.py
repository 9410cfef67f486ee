"""All clients with their last session, and the form for a new one."""

from collections.abc import Sequence
from datetime import UTC, datetime
from html import escape

import streamlit as st

from formcheck.coaching.rating import count_agreement
from formcheck.report import wording
from formcheck.report.rating_text import describe_agreement
from formcheck.storage import Client, Store
from formcheck.storage.clients import LONGEST_NAME
from formcheck.web import layout

_FILTERED_FROM = 12
"""With more clients than this there is a field to find one by name."""
_LISTED = 50


def show() -> None:
    """List the clients and add one."""
    layout.show_heading("Clients", "Whose sets you review: their sessions, their plans, what changed.")
    with Store.open() as store:
        clients, days = store.list_clients(), store.session_days()
        # Whoever trained last is looked for first.
        clients.sort(key=lambda client: str(days[client.id][0]) if client.id in days else "", reverse=True)
        found = _filter_clients(clients)
        agreed = describe_agreement(count_agreement((item.exercise_id, item.rating) for item in store.list_ratings()))
        exercises = [store.exercises_reviewed(client=client.id).values() for client in found[:_LISTED]]
    for client, names in zip(found, exercises, strict=False):
        last, count = days.get(client.id, (None, 0))
        when = f"last on {wording.format_day(last)}" if last is not None else "no session yet"
        _show_row(client, when, wording.count(count, "session day"), "", ", ".join([*names][:3]))
    if len(found) > _LISTED:
        st.caption(f"Only the {_LISTED} who trained last are listed; type a part of a name to find another one.")
    elif clients and not found:
        st.info("No client’s name has this in it.")
    if not clients:
        st.info(
            "No client yet. Add one here, or type a name when you review a set. "
            "An invented client to look around with comes with the command: formcheck demo"
        )
    if agreed:
        st.caption(layout.escape_markdown(agreed))
    layout.show_section("A new client")
    with st.form("new_client", clear_on_submit=True, border=False):
        name = st.text_input("Name", max_chars=LONGEST_NAME, key="new_client_name")
        notes = st.text_input("Notes", key="new_client_notes", help="Anything worth knowing, such as an old injury.")
        if st.form_submit_button("Add the client"):
            with layout.show_errors(), Store.open() as store:
                _open_client(store.add_client(name, created_at=datetime.now(UTC), notes=notes.strip() or None))


def _show_row(client: Client, *facts: str) -> None:
    """One client: the name, what else is known, and a button to the client's page."""
    with st.container(border=True, horizontal=True, vertical_alignment="center", key=f"fc_client_{client.id}"):
        spans = "".join(f"<span>{escape(fact)}</span>" for fact in facts)
        st.html(f'<div class="fc-set"><b>{escape(client.name)}</b>{spans}</div>')
        if st.button("Open", key=f"client_{client.id}", help=f"Open {client.name}"):
            _open_client(client)


def _filter_clients(clients: Sequence[Client]) -> Sequence[Client]:
    """The clients whose name holds what was typed; all where there are few."""
    if len(clients) <= _FILTERED_FROM:
        return clients
    typed = st.text_input(
        "Find a client", key="client_sought", placeholder="A part of the name", max_chars=LONGEST_NAME
    )
    wanted = " ".join(typed.split()).casefold()
    return [client for client in clients if wanted in client.name.casefold()]


def _open_client(client: Client) -> None:
    st.query_params["client"] = str(client.id)
    st.rerun()
