"""All clients with their last session, and the form for a new one."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from html import escape

import streamlit as st

from formcheck.page import frame
from formcheck.report import wording
from formcheck.store import Client, Session, Store
from formcheck.store.clients import LONGEST_NAME
from formcheck.store.home import default_store


def show() -> None:
    """List the clients and add one."""
    frame.heading("Clients", "Whose sets you review: their sessions, their plans, what changed.")
    with Store.open(default_store()) as store:
        clients = [(client, store.sessions(client=client.id)) for client in store.list_clients()]
    # Whoever trained last is looked for first.
    clients.sort(key=lambda item: str(item[1][-1].day) if item[1] else "", reverse=True)
    for client, sessions in clients:
        _row(client, sessions)
    if not clients:
        st.info(
            "No client yet. Add one here, or type a name when you review a set. "
            "An invented client to look around with comes with the command: formcheck demo"
        )
    frame.section("A new client")
    with st.form("new_client", clear_on_submit=True, border=False):
        name = st.text_input("Name", max_chars=LONGEST_NAME, key="new_client_name")
        notes = st.text_input("Notes", key="new_client_notes", help="Anything worth knowing, such as an old injury.")
        if st.form_submit_button("Add the client"):
            with frame.told():
                with Store.open(default_store()) as store:
                    made = store.add_client(name, created_at=datetime.now(UTC), notes=notes.strip() or None)
                st.query_params["client"] = str(made.id)
                st.rerun()


def _row(client: Client, sessions: Sequence[Session]) -> None:
    with st.container(border=True, horizontal=True, vertical_alignment="center", key=f"fc_client_{client.id}"):
        st.html(client_line(client, sessions))
        if st.button("Open", key=f"client_{client.id}", help=f"Open {client.name}"):
            st.query_params["client"] = str(client.id)
            st.rerun()


def client_line(client: Client, sessions: Sequence[Session]) -> str:
    """Name, last session and exercises of a client as HTML."""
    days = sorted({session.day for session in sessions})
    last = f"last on {day_words(days[-1])}" if days else "no session yet"
    names = dict.fromkeys(session.sets[0].exercise_name for session in reversed(sessions))
    exercises = ", ".join(list(names)[:3])
    return (
        f'<div class="fc-set"><b>{escape(client.name)}</b><span>{last}</span>'
        f"<span>{wording.count(len(days), 'session day')}</span><span></span><span>{escape(exercises)}</span></div>"
    )


def day_words(day: date) -> str:
    """A day as a person writes it."""
    return f"{day.day} {day:%b %Y}"
