"""Page: film a set with this computer's camera, and review it like any clip."""

import streamlit as st

from formcheck.exercises.schema import Exercise
from formcheck.web import layout
from formcheck.web.arriving_films import FILMS
from formcheck.web.components.camera import FilmTaken, mount_camera
from formcheck.web.filming import guide, placement_check, unfinished_films
from formcheck.web.markup import render


def main() -> None:
    """Show the camera, beside it where it should stand, and take the film."""
    layout.show_heading("Film a set here", "With this computer’s camera; then it is reviewed like any clip.")
    exercise, view = guide.choose_exercise_and_view("camera", "here")
    left, right = st.columns([7, 5], gap="large")
    with left:
        taken = mount_camera("fc_camera")
        st.html(render("filming", "consent"))
        if taken is not None:
            with layout.show_errors():
                _take(taken, exercise, view)
        unfinished_films.show()
    with right, st.container(key="fc_beside_camera"):
        placement_check.follow_test()
        guide.show_drawings(exercise, view, "camera")
        guide.show_guide(exercise, view, "camera")
    layout.show_cautions()


def _take(film: FilmTaken, exercise: Exercise, view: str) -> None:
    path, name = FILMS.finish(film.session, film.name, film.pieces)
    if film.is_test:
        placement_check.start_test(path, name, exercise, view)
    else:
        unfinished_films.review_film(path, name, exercise.id)


main()
