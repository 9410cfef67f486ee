"""All clients with their last session, and the form for a new one."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from html import escape

import streamlit as st

from formcheck.report import wording
from formcheck.storage import Client, Store
from formcheck.storage.clients import LONGEST_NAME
from formcheck.web import layout

_AT_A_GLANCE = 12
_SHOWN = 50


def show() -> None:
    """List the clients and add one."""
    layout.show_heading("Clients", "Whose sets you review: their sessions, their plans, what changed.")
    with Store.open() as store:
        clients, days = store.list_clients(), store.session_days()
        # Whoever trained last is looked for first.
        clients.sort(key=lambda client: str(days[client.id][0]) if client.id in days else "", reverse=True)
        found = _filter_clients(clients)
        shown = [(client, list(store.exercises_reviewed(client=client.id).values())) for client in found[:_SHOWN]]
    for client, exercises in shown:
        last, count = days.get(client.id, (None, 0))
        _row(client, last, count, exercises)
    if len(found) > _SHOWN:
        st.caption(f"Only the {_SHOWN} who trained last are listed; type a part of a name to find another one.")
    elif clients and not found:
        st.info("No client’s name has this in it.")
    if not clients:
        st.info(
            "No client yet. Add one here, or type a name when you review a set. "
            "An invented client to look around with comes with the command: formcheck demo"
        )
    layout.show_section("A new client")
    with st.form("new_client", clear_on_submit=True, border=False):
        name = st.text_input("Name", max_chars=LONGEST_NAME, key="new_client_name")
        notes = st.text_input("Notes", key="new_client_notes", help="Anything worth knowing, such as an old injury.")
        if st.form_submit_button("Add the client"):
            with layout.show_errors():
                with Store.open() as store:
                    made = store.add_client(name, created_at=datetime.now(UTC), notes=notes.strip() or None)
                st.query_params["client"] = str(made.id)
                st.rerun()


def _filter_clients(clients: Sequence[Client]) -> list[Client]:
    """Those whose name holds what was typed; there is a field for it where there are more than a glance takes in."""
    if len(clients) <= _AT_A_GLANCE:
        return list(clients)
    typed = st.text_input(
        "Find a client", key="client_sought", placeholder="A part of the name", max_chars=LONGEST_NAME
    )
    wanted = " ".join(typed.split()).casefold()
    return [client for client in clients if wanted in client.name.casefold()]


def _row(client: Client, last: date | None, days: int, exercises: Sequence[str]) -> None:
    with st.container(border=True, horizontal=True, vertical_alignment="center", key=f"fc_client_{client.id}"):
        st.html(render_client_line(client, last, days, exercises))
        if st.button("Open", key=f"client_{client.id}", help=f"Open {client.name}"):
            st.query_params["client"] = str(client.id)
            st.rerun()


def render_client_line(client: Client, last: date | None, days: int, exercises: Sequence[str]) -> str:
    """Name, last session, number of session days and newest exercises of a client as HTML."""
    when = f"last on {format_day(last)}" if last is not None else "no session yet"
    return (
        f'<div class="fc-set"><b>{escape(client.name)}</b><span>{when}</span>'
        f"<span>{wording.count(days, 'session day')}</span><span></span>"
        f"<span>{escape(', '.join(exercises[:3]))}</span></div>"
    )


def format_day(day: date) -> str:
    """A day as a person writes it."""
    return f"{day.day} {day:%b %Y}"
