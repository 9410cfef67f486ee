"""Page: how to film an exercise, and a short test clip before the set."""

import streamlit as st

from formcheck.web import controls, layout
from formcheck.web.filming import guide, placement_check
from formcheck.web.markup import render


def main() -> None:
    """Show the guide and the test clip."""
    layout.show_heading("How to film a set", "The better the phone stands, the surer the numbers.")
    exercise, view = guide.choose_exercise_and_view("phone", "film")
    guide.show_drawings(exercise, view, "phone")
    left, right = st.columns([1, 1], gap="large")
    with left:
        guide.show_guide(exercise, view, "phone")
    with right:
        layout.show_section("What can be judged from there")
        st.html(render("pieces", "list", guide.list_visible_checks(exercise, view)))
        st.caption(exercise.filming.advice)
    placement_check.ask_test_clip(exercise, view)
    controls.show_link("film_here", "Film with this computer’s camera instead", "videocam")
    layout.show_cautions()


main()
