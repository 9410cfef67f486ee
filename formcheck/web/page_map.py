"""The page's map: which pages there are, under which addresses."""

import streamlit as st

from formcheck.core.process_memory import freeze_modules, release_memory_periodically
from formcheck.web import access, launcher, layout
from formcheck.web.pages import PAGES
from formcheck.web.review import work_list


def show() -> None:
    """Run the page a visitor asked for, below the bar that leads to all of them."""
    launcher.prepare()
    freeze_modules()
    release_memory_periodically()
    page = st.navigation(
        [
            st.Page(PAGES / "review_set.py", title="Review a set", url_path="review", default=True),
            st.Page(PAGES / "reviewed_sets.py", title="Reviewed sets", url_path="history"),
            st.Page(PAGES / "clients.py", title="Clients", url_path="clients"),
            st.Page(PAGES / "compare.py", title="Compare", url_path="compare"),
            st.Page(PAGES / "own_limits.py", title="Own limits", url_path="limits"),
            st.Page(PAGES / "export_or_delete.py", title="Export or delete", url_path="hand-over"),
            st.Page(PAGES / "correct_by_hand.py", title="Correct by hand", url_path="correct", visibility="hidden"),
            st.Page(PAGES / "film_here.py", title="Film here", url_path="film", visibility="hidden"),
            st.Page(PAGES / "cautions.py", title="Cautions", url_path="cautions"),
            st.Page(PAGES / "how_to_film.py", title="How to film", url_path="filming"),
        ],
        position="top",
    )
    title = f"{page.title} · formcheck"
    st.set_page_config(page_title=title, page_icon=layout.ICON, layout="wide", initial_sidebar_state="collapsed")
    layout.apply_styles()
    access.admit_visitor()
    access.stop_if_store_changed()
    if page.url_path:  # the start page lists the work itself
        work_list.show_line()
    with layout.show_errors():
        page.run()
