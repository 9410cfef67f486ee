"""An export in the data folder: written with its progress shown, saved by the browser, removed."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import streamlit as st

from formcheck.core.model import ProgressReport
from formcheck.report import wording
from formcheck.services.export import Exported
from formcheck.web import layout

_SENT_MB = 1000.0  # the page would hold what it sends in memory


def write_export(file: Path, write: Callable[[ProgressReport], Exported]) -> tuple[str, ...]:
    """Write it in place of an earlier one, and give what could not be put in, one sentence each.

    write : writes the file, and reports how far it is.
    """
    bar = st.progress(0.0, text="Writing the export")

    def show_progress(done: float, total: float | None) -> None:
        bar.progress(min(done / total, 1.0) if total else 0.0, "Writing the export")

    file.parent.mkdir(exist_ok=True)
    file.unlink(missing_ok=True)
    made = write(show_progress)
    bar.empty()
    return made.missing


def show_export(file: Path, name: str, key: str) -> None:
    """A button to save it, under this name with its day, and one to remove it; nothing where there is none."""
    if not file.is_file():
        return
    size, day = file.stat().st_size / 1e6, datetime.fromtimestamp(file.stat().st_mtime)
    with st.container(horizontal=True, vertical_alignment="center", key=f"fc_export_{key}"):
        if size <= _SENT_MB:
            label = f"Save the export (ZIP, {size:.1f} MB)"
            shown = f"{name}-{day.date().isoformat()}.zip"
            st.download_button(label, file.read_bytes, shown, "application/zip", key=f"get_{key}", on_click="ignore")
        if st.button("Remove the export", key=f"drop_{key}"):
            file.unlink(missing_ok=True)
            st.rerun()
    if size > _SENT_MB:
        st.info(
            f"The export takes {size / 1000:.1f} GB, more than a browser should be sent at once: copy it from "
            f"{layout.escape_markdown(str(file))} on the machine formcheck runs on, or make it without the clips."
        )
    st.caption(
        f"Made {wording.format_time(day)}. It stays in formcheck’s folder until the next one, or until you remove it."
    )
