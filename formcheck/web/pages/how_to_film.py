"""Page: how to film an exercise, and a short test clip before the set."""

import streamlit as st

from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.web import controls, layout
from formcheck.web.charts import camera_positions as drawn
from formcheck.web.charts.palette import get_palette
from formcheck.web.components import review_html
from formcheck.web.filming import placement_check
from formcheck.web.markup import render

_VIEWS = {
    "front": ("In front", "from the front", "Straight in front of you."),
    "back": ("Behind", "from behind", "Straight behind you."),
    "side": (
        "At the side",
        "from the side",
        "Straight at your side, left or right: the side with the better sight of the working arm.",
    ),
}  # where the phone stands: on the button, as a view, in the guide


def list_views(exercise: Exercise) -> list[str]:
    """Views an exercise can be filmed in, the best one first; both sides count as one."""
    seen = {_merge_sides(view) for check in exercise.checks for view in exercise.views_for(check)}
    best = _merge_sides(exercise.filming.best_view)
    return sorted((view for view in _VIEWS if view in seen), key=lambda view: view != best) or [*_VIEWS]


def list_visible_checks(exercise: Exercise, view: str) -> list[str]:
    """Titles of the points that can be judged in a view."""
    return [check.title for check in exercise.checks if view in map(_merge_sides, exercise.views_for(check))]


def _merge_sides(view: str) -> str:
    return "side" if view in ("left", "right") else view


def main() -> None:
    """Show the guide and the test clip."""
    layout.show_heading("How to film a set", "The better the phone stands, the surer the numbers.")
    exercises = load_exercises()
    with st.container(horizontal=True, vertical_alignment="bottom"):
        names = {exercise.id: exercise.name for exercise in exercises.values()}
        exercise = exercises[controls.choose_from_list("Exercise", names, key="film_exercise")]
        best, *others = list_views(exercise)
        labels = {best: _VIEWS[best][0] + (" (best)" if others else "")} | {view: _VIEWS[view][0] for view in others}
        view = controls.choose_by_button("Where the phone stands", labels, key=f"film_view_{exercise.id}")
    _show_pictures(exercise, view)
    left, right = st.columns([1, 1], gap="large")
    with left:
        layout.show_section("Before you press record")
        st.html(render("filming", "guide", exercise.filming, _VIEWS[view][2]))
    with right:
        layout.show_section("What can be judged from there")
        st.html(review_html.render_list(list_visible_checks(exercise, view)))
        st.caption(exercise.filming.advice)
    placement_check.show(exercise, view)
    layout.show_cautions()


def _show_pictures(exercise: Exercise, view: str) -> None:
    palette = get_palette(dark=layout.is_dark())
    near, far = exercise.filming.distance_m
    figures = (
        (
            "From above",
            drawn.draw_from_above,
            f"Drawing from above: the phone films the lifter {_VIEWS[view][1]}, {near:g} to {far:g} metres away.",
        ),
        (
            "From beside",
            drawn.draw_from_side,
            f"Drawing from beside: the phone stands at {exercise.filming.phone_height} height, level.",
        ),
        (
            "On the phone’s screen",
            drawn.draw_phone_screen,
            "Drawing of the phone's screen: the whole body inside, with room above.",
        ),
    )
    images = [
        (title, drawn.embed_svg(draw(exercise, "left" if view == "side" else view, palette), alt))
        for title, draw, alt in figures
    ]
    st.html(render("filming", "drawings", images))


main()
