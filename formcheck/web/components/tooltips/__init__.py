"""Explanations at the pointer: any element with ``data-tip`` shows its text at hover, focus or tap.

The same part of the page notices when it turns dark or light, and has it made again.
"""

import streamlit as st

from formcheck.web.components.assets import declare_component

_mount = declare_component("tooltips", "tooltips.js", isolate_styles=False)


def mount_tooltips() -> None:
    """Put the tooltips into the page, once a page. A change between light and dark runs the page's script again."""
    with st.container(key="fc_tips"):
        _mount(key="fc_tips_part", height="content", on_scheme_change=lambda: None)
