"""Page: everything kept of a client, exported whole or deleted whole."""

from datetime import UTC, datetime
from pathlib import Path

import streamlit as st

from formcheck.privacy.head_cover import PROMISE
from formcheck.report import wording
from formcheck.services.delete import delete_client_data, plan_deletion
from formcheck.services.export import export_client
from formcheck.storage import Client, Store
from formcheck.storage.data_folder import DataFolder, data_home
from formcheck.web import layout
from formcheck.web.components import review_html
from formcheck.web.session_state import page_state

_SENT_MB = 1000.0  # the page would hold what it sends in memory
_NAMED = 12


def main() -> None:
    """Choose a client, then take everything along or delete everything."""
    layout.show_heading(
        "Hand over",
        "Everything formcheck keeps of a client: given to them as one file, or deleted for good. "
        "A single report or clip is under “To take along” on its review, and a single review is deleted there.",
    )
    layout.show_pending_message()
    with layout.show_errors():
        client = _choose_client()
        if client is not None:
            left, right = st.columns(2, gap="large")
            with left:
                _export(client)
            with right:
                _delete(client)
    layout.show_cautions()


def _choose_client() -> Client | None:
    with Store.open() as store:
        clients = store.list_clients()
    if not clients:
        st.info("There is no client yet. A review without a client is handed over and deleted on its own page.")
        return None
    wanted = st.query_params.get("client", "")
    return st.selectbox(
        "Client",
        clients,
        index=next((spot for spot, item in enumerate(clients) if str(item.id) == wanted), None),
        format_func=lambda item: item.name,
        placeholder="Choose a client",
        key="hand_over",
    )


def _export(client: Client) -> None:
    layout.show_section("Give it to the client")
    st.html(
        review_html.render_list(
            [
                "every review as a report for the browser and for paper (PDF), as JSON and as a CSV table",
                "the body points the numbers were read from",
                "plans, notes, own limits and corrections made by hand",
            ]
        )
    )
    target = DataFolder(data_home()).client_export(client.id)
    clips = st.checkbox("With the clips", value=True, key="export_clips")
    blur = st.checkbox("Blur faces in every picture and clip", key="export_blur")
    if blur:
        st.caption(f"{PROMISE} This takes a few times as long as the clips.")
    if st.button("Make the export", type="primary", key="make_export"):
        _make_export(client, target, clips=clips, blur=blur)
    if not target.is_file():
        return
    size, day = target.stat().st_size / 1e6, datetime.fromtimestamp(target.stat().st_mtime)
    if size <= _SENT_MB:
        st.download_button(
            f"Save the export (ZIP, {size:.1f} MB)",
            target.read_bytes,
            f"formcheck-client-{client.id}-{day.date().isoformat()}.zip",
            "application/zip",
            key="get_export",
            on_click="ignore",
        )
    else:
        where = layout.escape_markdown(str(target))
        st.info(
            f"The export takes {size / 1000:.1f} GB, more than a browser should be sent at once: copy it from {where} "
            "on the machine formcheck runs on, or make it without the clips."
        )
    st.caption(
        f"Made {day:%d %b %Y, %H:%M}. It stays in formcheck’s folder until the next one, or until you remove it."
    )
    if st.button("Remove the export from this machine", key="drop_export"):
        target.unlink(missing_ok=True)
        st.rerun()
    if missing := page_state().not_exported.get(client.id):
        st.html(f"<p>Not in it:</p>{review_html.render_list(missing)}")


def _make_export(client: Client, target: Path, *, clips: bool, blur: bool) -> None:
    bar = st.progress(0.0, text="Writing the export")

    def tell(done: float, total: float | None) -> None:
        bar.progress(min(done / total, 1.0) if total else 0.0, "Writing the export")

    target.parent.mkdir(exist_ok=True)
    target.unlink(missing_ok=True)
    now = datetime.now(UTC)
    with Store.open() as store:
        done = export_client(
            store, client.id, target, data_home(), exported_at=now, clips=clips, blur_faces=blur, on_progress=tell
        )
    bar.empty()
    page_state().not_exported[client.id] = done.missing


def _delete(client: Client) -> None:
    layout.show_section("Delete it")
    with Store.open() as store:
        plan = plan_deletion(store, client.id, data_home())
    st.html(
        review_html.render_list(
            [
                f"{wording.count(plan.reviews, 'review')} with all numbers, corrections and notes",
                f"{wording.count(plan.files, 'file')} of formcheck’s: body points found, uploaded clips, drawn results",
                "the client with all plans and own limits",
            ]
        )
    )
    if plan.left_alone:
        named = [str(path) for path in plan.left_alone[:_NAMED]]
        more = len(plan.left_alone) - len(named)
        st.html(
            "<p>Your own clips stay where they are:</p>"
            + review_html.render_list([*named, *([f"and {wording.count(more, 'other')}"] if more else [])])
        )
    typed = st.text_input(
        f"Type the client’s name, {layout.escape_markdown(client.name)}, to delete everything for good",
        key=f"confirm_{client.id}",
    )
    same = " ".join(typed.split()) == " ".join(client.name.split())
    if typed and not same:
        st.caption("That is not the name yet.")
    if st.button("Delete everything for good", disabled=not same, key="delete_client") and same:
        with Store.open() as store:
            done = delete_client_data(store, client.id, data_home())
        page_state().review_id = None
        gone = f"{wording.count(done.reviews, 'review')} and {wording.count(done.files, 'file')}"
        page_state().pending_message = f"{done.client} is deleted: {gone}."
        st.query_params.clear()
        st.rerun()


main()
