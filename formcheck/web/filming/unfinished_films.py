"""Films of sets whose end never came, as when the tab was closed: what has arrived is reviewed or discarded."""

import time
from datetime import datetime
from pathlib import Path

import streamlit as st

from formcheck.core.vocabulary.numbers import format_day
from formcheck.storage import film_pieces
from formcheck.storage.data_folder import data_home
from formcheck.storage.film_pieces import FilmPieces
from formcheck.web import layout
from formcheck.web.arriving_films import FILMS
from formcheck.web.markup import render
from formcheck.web.pages import PAGES
from formcheck.web.review import chosen_clips


def show() -> None:
    """List them; nothing when there is none."""
    for film in film_pieces.list_unfinished_sets(data_home(), time.time()):
        with (
            st.container(border=True, horizontal=True, vertical_alignment="center", key=f"fc_film_{film.name}"),
            layout.show_errors(),
        ):
            _show_film(film)


def _show_film(film: FilmPieces) -> None:
    began = datetime.fromtimestamp(film.began_at)
    when = f"{format_day(began.date())}, {began:%H:%M}"
    st.html(render("filming", "unfinished", when, round(film.length_s)))
    if st.button("Review what arrived", key=f"review_{film.name}", help=f"Review the film of {when}"):
        review_film(*FILMS.join(film))
    if st.button("Discard", key=f"discard_{film.name}", help=f"Delete the film of {when}"):
        FILMS.discard(film)
        st.rerun()


def review_film(path: Path, name: str, exercise: str = "") -> None:
    """Put a stored film among the clips to be reviewed, and go there."""
    chosen_clips.add_clip(path, name, exercise)
    st.switch_page(PAGES / "review_set.py")
