"""Parts of the pages about filming: which exercise from where, drawings of it, what can be judged from there."""

import streamlit as st

from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.web import controls, layout
from formcheck.web.charts import camera_positions as drawn
from formcheck.web.charts.palette import get_palette
from formcheck.web.markup import render

VIEWS = {
    "front": ("In front", "from the front", "Straight in front of you."),
    "back": ("Behind", "from behind", "Straight behind you."),
    "side": (
        "At the side",
        "from the side",
        "Straight at your side, left or right: the side with the better sight of the working arm.",
    ),
}
"""Where the camera stands: on the button, as a view, in the guide."""


def choose_exercise_and_view(device: str, key: str) -> tuple[Exercise, str]:
    """The exercise, and where the phone or camera that films stands, the best place first."""
    exercises = load_exercises()
    with st.container(horizontal=True, vertical_alignment="bottom"):
        names = {exercise.id: exercise.name for exercise in exercises.values()}
        exercise = exercises[controls.choose_from_list("Exercise", names, key=f"{key}_exercise")]
        best, *others = list_views(exercise)
        labels = {best: VIEWS[best][0] + (" (best)" if others else "")} | {view: VIEWS[view][0] for view in others}
        view = controls.choose_by_button(f"Where the {device} stands", labels, key=f"{key}_view_{exercise.id}")
    return exercise, view


def list_views(exercise: Exercise) -> list[str]:
    """Views an exercise can be filmed in, the best one first; both sides count as one."""
    seen = {_merge_sides(view) for check in exercise.checks for view in exercise.views_for(check)}
    best = _merge_sides(exercise.filming.best_view)
    return sorted((view for view in VIEWS if view in seen), key=lambda view: view != best) or [*VIEWS]


def list_visible_checks(exercise: Exercise, view: str) -> list[str]:
    """Titles of the points that can be judged in a view."""
    return [check.title for check in exercise.checks if view in map(_merge_sides, exercise.views_for(check))]


def _merge_sides(view: str) -> str:
    return "side" if view in ("left", "right") else view


def show_guide(exercise: Exercise, view: str, device: str) -> None:
    """What to see to before filming, a line each."""
    layout.show_section("Before you start filming")
    st.html(render("filming", "guide", exercise.filming, VIEWS[view][2], device))


def show_drawings(exercise: Exercise, view: str, device: str) -> None:
    """Where the phone or camera stands, seen from above and from beside; of a phone also what its screen shows."""
    palette = get_palette(dark=layout.is_dark())
    near, far = exercise.filming.distance_m
    figures = [
        (
            "From above",
            drawn.draw_from_above,
            f"Drawing from above: the {device} films the lifter {VIEWS[view][1]}, {near:g} to {far:g} metres away.",
        ),
        (
            "From beside",
            drawn.draw_from_side,
            f"Drawing from beside: the {device} stands at {exercise.filming.phone_height} height, level.",
        ),
        (
            "On the phone’s screen",
            drawn.draw_phone_screen,
            "Drawing of the phone's screen: the whole body inside, with room above.",
        ),
    ]
    images = [
        (title, drawn.embed_svg(draw(exercise, "left" if view == "side" else view, palette), alt))
        for title, draw, alt in figures[: 3 if device == "phone" else 2]
    ]
    st.html(render("filming", "drawings", images))
