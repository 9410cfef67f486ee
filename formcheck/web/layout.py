"""What every page shares: its dress, explanations at the pointer, and how an expected error is told."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import streamlit as st

from formcheck.core.errors import NOT_ENOUGH_MEMORY, FormcheckError, is_memory_shortage
from formcheck.web.components.tooltips import mount_tooltips
from formcheck.web.session_state import page_state

_STATIC = Path(__file__).parent / "static"
ICON = str(_STATIC / "icon.svg")


def apply_styles() -> None:
    """Put the mark and the style sheets in (every ``.css`` file of ``static``, by name), and tooltips."""
    st.logo(ICON, size="large")
    sheets = [path.read_text(encoding="utf-8") for path in sorted(_STATIC.glob("*.css"))]
    st.html(f"<style>{''.join(sheets)}</style>")
    mount_tooltips()


def show_heading(title: str, lead: str = "") -> None:
    """The page's title and a sentence on what it is for; fixed words only."""
    more = f"<p>{lead}</p>" if lead else ""
    st.html(f'<header class="fc-hero"><h1>{title}</h1>{more}</header>')


def show_section(title: str) -> None:
    """The heading of a part of the page; fixed words only."""
    st.html(f'<h2 class="fc-section">{title}</h2>')


def is_dark() -> bool:
    """The visitor's page is dark."""
    return st.context.theme.type == "dark"


@contextmanager
def show_errors() -> Iterator[None]:
    """Turn an expected error into one sentence on the page."""
    try:
        yield
    except FormcheckError as error:
        st.error(escape_markdown(str(error)))
    except Exception as error:
        if is_memory_shortage(error):
            st.error(NOT_ENOUGH_MEMORY)
        elif isinstance(error, OSError):
            st.error(escape_markdown(f"A file could not be read or written: {error.strerror or error}."))
        else:
            raise


def show_pending_message() -> None:
    """Say once what the page before left to be said."""
    words, page_state().pending_message = page_state().pending_message, None
    if words is not None:
        st.success(escape_markdown(words))


def escape_markdown(text: str) -> str:
    """Text that Markdown leaves as it is, for sentences that may hold a file name."""
    return "".join(f"\\{char}" if char in "\\`*_{}[]()<>#+-.!|~$:&^=" else char for char in " ".join(text.split()))
