"""Buttons that hand the moment the clip stands at to the page."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import streamlit as st

_FOLDER = Path(__file__).parent
_mount = st.components.v2.component(
    "formcheck_clip_moment",
    html='<div class="row" role="group" aria-label="Take the moment the clip shows now"></div>',
    css=(_FOLDER / "clip_moment.css").read_text(encoding="utf-8"),
    js=(_FOLDER / "clip_moment.js").read_text(encoding="utf-8"),
)


def mount_time_buttons(
    clip: str, fields: Sequence[tuple[str, str]], key: str, take: Callable[[str, float], None]
) -> None:
    """Put the buttons in.

    Parameters
    ----------
    clip : key of the container that holds the clip.
    fields : (name, label) of each button.
    take : called with the button's name and where the clip stands, in seconds, before the page is made again.
    """

    def taken() -> None:
        told: Any = st.session_state[key]
        moment = told.get("moment") if hasattr(told, "get") else None
        if isinstance(moment, dict) and moment.get("field") in dict(fields):
            take(str(moment["field"]), float(moment["at"]))

    _mount(key=key, data={"clip": clip, "fields": list(fields)}, on_moment_change=taken, height="content")
