"""Explanations at the pointer: any element with ``data-tip`` tells at hover, focus or tap what it is.

The same part of the page notices when it turns dark or light, and has it made again.
"""

from html import escape
from pathlib import Path

import streamlit as st

_FOLDER = Path(__file__).parent
_mount = st.components.v2.component(
    "formcheck_tips", js=(_FOLDER / "tips.js").read_text(encoding="utf-8"), isolate_styles=False
)


def mount_tooltips() -> None:
    """Put it into the page; once a page is enough. A change between light and dark runs the page's script again."""
    with st.container(key="fc_tips"):
        _mount(key="fc_tips_part", height="content", on_scheme_change=lambda: None)


def tooltip_attribute(text: str) -> str:
    """The attribute that gives an HTML element its explanation; empty without text."""
    return f' data-tip="{escape(text)}"' if text else ""
