"""Declares a component of the page from its HTML, CSS and JavaScript files."""

from pathlib import Path
from typing import Any

import streamlit as st
from streamlit.components.v2.types import ComponentRenderer


def declare_component(folder: str, *files: str, isolate_styles: bool = True) -> ComponentRenderer:
    """A function that puts the component into the page.

    Parameters
    ----------
    folder : beside this module; it also names the component.
    files : in that folder; scripts are joined in their order, and the last one exports the component.
    """
    paths = [Path(__file__).parent / folder / file for file in files]
    parts = {
        kind: "\n".join(path.read_text(encoding="utf-8") for path in paths if path.suffix == f".{kind}") or None
        for kind in ("html", "css", "js")
    }
    return st.components.v2.component(f"formcheck_{folder}", **parts, isolate_styles=isolate_styles)


def mount_actions(component: ComponentRenderer, key: str, scope: str) -> object | None:
    """Put a component into the page that sends what is asked for; that of the last run, None where nothing was.

    Parameters
    ----------
    scope : key of the container that holds the buttons, which are a part of the page's own text.
    """
    sent: Any = component(key=key, data={"scope": scope}, height="content", on_act_change=lambda: None)
    return getattr(sent, "act", None)
