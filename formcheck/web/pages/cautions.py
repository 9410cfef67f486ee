"""Page: every caution in full, those for everyone and those of each exercise."""

import streamlit as st

from formcheck.exercises.registry import list_general_cautions, list_own_cautions, load_exercises
from formcheck.web import layout
from formcheck.web.markup import render


def main() -> None:
    """Show the general cautions first, then what belongs to each lift."""
    layout.show_heading("Cautions", "Please read before you train.")
    st.html(render("review", "cautions", list_general_cautions(), "For everyone and every exercise"))
    layout.show_section("For each exercise")
    for exercise in load_exercises().values():
        if own := list_own_cautions(exercise):
            st.html(render("review", "curve_title", exercise.name, "") + render("pieces", "list", own))


main()
