"""What every page shares: style sheets, headings, charts, the line of care, and sentences about expected errors."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from formcheck.core.errors import NOT_ENOUGH_MEMORY, FormcheckError, is_memory_shortage
from formcheck.report import wording
from formcheck.web.components.assets import declare_component
from formcheck.web.controls import show_link
from formcheck.web.markup import render
from formcheck.web.session_state import page_state

if TYPE_CHECKING:
    import plotly.graph_objects as go

_STATIC = Path(__file__).parent / "static"
_tooltips = declare_component("tooltips", "tooltips.js", isolate_styles=False)
_LOAD_CHARTS = """<script>(window.requestIdleCallback ?? setTimeout)(() => {
  const main = document.querySelector("script[type=module][src*='/js/index.']");
  if (main) import(new URL("NAME", main.src)).catch(() => {});
})</script>"""
ICON = str(_STATIC / "icon.svg")


def apply_styles() -> None:
    """Put the mark and the style sheets in (every ``.css`` file of ``static``, by name), and tooltips."""
    st.logo(ICON, size="large")
    sheets = [path.read_text(encoding="utf-8") for path in sorted(_STATIC.glob("*.css"))]
    st.html(f"<style>{''.join(sheets)}</style>")
    with st.container(key="fc_tips"):
        # It notices a change between light and dark, too, which runs the page's script again.
        _tooltips(key="fc_tips_part", height="content", on_scheme_change=lambda: None)


def show_heading(title: str, lead: str = "") -> None:
    """The page's title and a sentence on what it is for; fixed words only."""
    more = f"<p>{lead}</p>" if lead else ""
    st.html(f'<header class="fc-hero"><h1>{title}</h1>{more}</header>')


def show_section(title: str) -> None:
    """The heading of a part of the page; fixed words only."""
    st.html(f'<h2 class="fc-section">{title}</h2>')


def show_chart(figure: "go.Figure", *, key: str, alt: str) -> None:
    """A chart as it was drawn, without plotly's tool bar; `alt` is what it shows, in words."""
    st.plotly_chart(figure, theme=None, config={"displayModeBar": False}, key=key, alt=alt)


def load_chart_library() -> None:
    """Have the browser load what draws charts while it idles, where a page with a chart comes next.

    It is the largest part of Streamlit's own script, and is else loaded and compiled when the chart is due.
    """
    found = next((Path(st.__file__).parent / "static" / "static" / "js").glob("PlotlyChart.*.js"), None)
    if found is not None:
        st.html(_LOAD_CHARTS.replace("NAME", found.name), unsafe_allow_javascript=True)


def show_cautions(own: Sequence[str] = (), link: str = wording.ALL_CAUTIONS) -> None:
    """One sentence of care, and a link to all cautions; `own` are cautions of the exercises at hand, in full."""
    if own:
        st.html(render("review", "cautions", own, "For this exercise"))
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        st.html(f'<p class="fc-caution-line">{wording.CAUTION_IN_SHORT}</p>', width="content")
        show_link("cautions", link, "health_and_safety")


def is_dark() -> bool:
    """Whether the visitor's page is dark."""
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
    """Show the sentences another page, or this one before, left for this one, once."""
    state = page_state()
    words, state.pending_message = state.pending_message, None
    problems, state.pending_problems = state.pending_problems, []
    if words is not None:
        st.success(escape_markdown(words))
    for sentence in problems:
        st.warning(escape_markdown(sentence))


def escape_markdown(text: str) -> str:
    """Text that Markdown leaves as it is, for sentences that may hold a file name."""
    return "".join(f"\\{char}" if char in "\\`*_{}[]()<>#+-.!|~$:&^=" else char for char in " ".join(text.split()))
