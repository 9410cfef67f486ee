"""Buttons that send the time the clip stands at to the page."""

from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from formcheck.web.components.assets import declare_component

_mount = declare_component("clip_time_button", "clip_time.html", "../buttons.css", "clip_time.js")


def mount_time_buttons(
    clip: str, fields: Sequence[tuple[str, str]], key: str, take: Callable[[str, float], None]
) -> None:
    """Put the buttons into the page.

    Parameters
    ----------
    clip : key of the container that holds the clip.
    fields : (name, label) of each button; what stands behind a ``|`` in the label is not seen on a telephone.
    take : called with the button's name and the time of the clip in seconds, before the page is made again.
    """

    def read_time() -> None:
        sent: Any = st.session_state[key]
        time = sent.get("time") if hasattr(sent, "get") else None
        if isinstance(time, dict) and time.get("field") in dict(fields):
            take(str(time["field"]), float(time["at"]))

    _mount(key=key, data={"clip": clip, "fields": list(fields)}, on_time_change=read_time, height="content")
