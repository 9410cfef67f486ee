"""Page: everything stored of a client, exported whole or deleted whole."""

from datetime import UTC, datetime
from functools import partial

import streamlit as st

from formcheck.privacy.head_cover import PROMISE
from formcheck.report import wording
from formcheck.services.delete import delete_client_data, plan_deletion
from formcheck.services.export import export_client
from formcheck.storage import Client, Store
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import export_file, layout
from formcheck.web.markup import render
from formcheck.web.session_state import page_state, read_number

_NAMED = 12


def main() -> None:
    """Choose a client, then take everything along or delete everything."""
    layout.show_heading(
        "Export or delete",
        "Everything formcheck keeps of a client: given to them as one file, or deleted for good. "
        "A single report or clip is under “Share” on its review, and a single review is deleted there.",
    )
    layout.show_pending_message()
    with layout.show_errors(), Store.open() as store:
        client = _choose_client(store.list_clients())
        if client is not None:
            left, right = st.columns(2, gap="large")
            with left:
                _show_export(store, client)
            with right:
                _show_deletion(store, client)
    layout.show_cautions()


def _choose_client(clients: list[Client]) -> Client | None:
    if not clients:
        st.info("There is no client yet. A review without a client is exported and deleted on its own page.")
        return None
    ids = [client.id for client in clients]
    wanted = read_number("client")
    return st.selectbox(
        "Client",
        clients,
        index=ids.index(wanted) if wanted in ids else None,
        format_func=lambda item: item.name,
        placeholder="Choose a client",
        key="client_chosen",
    )


def _show_export(store: Store, client: Client) -> None:
    layout.show_section("Give it to the client")
    st.html(render("export_or_delete", "exported"))
    file = DataFolder(data_home()).client_export(client.id)
    clips = st.checkbox("With the clips", value=True, key="export_clips")
    blur = st.checkbox("Blur faces in every picture and clip", key="export_blur")
    if blur:
        st.caption(f"{PROMISE} This takes a few times as long as the clips.")
    if st.button("Make the export", type="primary", key="make_export"):
        write = partial(export_client, store, client.id, file, data_home(), clips=clips, blur_faces=blur)
        page_state().not_exported[client.id] = export_file.write_export(
            file, lambda report: write(exported_at=datetime.now(UTC), on_progress=report)
        )
    export_file.show_export(file, f"formcheck-client-{client.id}", "export")
    if file.is_file() and (missing := page_state().not_exported.get(client.id)):
        st.html(f"<p>Not in it:</p>{render('pieces', 'list', missing)}")


def _show_deletion(store: Store, client: Client) -> None:
    layout.show_section("Delete it")
    plan = plan_deletion(store, client.id, data_home())
    st.html(render("export_or_delete", "deleted", plan, _NAMED))
    typed = st.text_input(
        f"Type the client’s name, {layout.escape_markdown(client.name)}, to delete everything for good",
        key=f"confirm_{client.id}",
    )
    same = " ".join(typed.split()) == " ".join(client.name.split())
    if typed and not same:
        st.caption("That is not the name yet.")
    if st.button("Delete everything for good", disabled=not same, key="delete_client") and same:
        done = delete_client_data(store, client.id, data_home())
        page_state().review_id = None
        gone = f"{wording.count(done.reviews, 'review')} and {wording.count(done.files, 'file')}"
        page_state().pending_message = f"{done.client} is deleted: {gone}."
        st.query_params.clear()
        st.rerun()


main()
