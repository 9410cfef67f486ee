"""Page: how to film an exercise, and a short test clip before the set."""

import streamlit as st

from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.report import wording
from formcheck.web import layout
from formcheck.web.charts import camera_positions as drawn
from formcheck.web.charts.palette import get_palette
from formcheck.web.components import review_html
from formcheck.web.filming import placement_check

_PLACE = {
    "front": "In front",
    "back": "Behind",
    "side": "At the side",
    "oblique": "Between front and side",
}
_LEVEL = {
    "hip": "the height of your hips",
    "elbow": "the height of your elbows",
    "chest": "the height of your chest",
    "shoulder": "the height of your shoulders",
}


def list_views(exercise: Exercise) -> list[str]:
    """Where the phone can stand for an exercise, the best place first; both sides count as one."""
    seen = {view for check in exercise.checks for view in exercise.views_for(check)}
    places: list[str] = [place for place in ("front", "back") if place in seen]
    places += ["side"] if seen & {"left", "right"} else []
    best = "side" if exercise.filming.best_view in ("left", "right") else exercise.filming.best_view
    return sorted(places, key=lambda place: place != best)


def list_visible_checks(exercise: Exercise, view: str) -> list[str]:
    """Titles of the points that can be judged from there."""
    names = {"left", "right"} if view == "side" else {view}
    return [check.title for check in exercise.checks if names & set(exercise.views_for(check))]


def make_guide(exercise: Exercise, view: str) -> list[tuple[str, str]]:
    """What to do, by topic, in plain sentences."""
    near, far = exercise.filming.distance_m
    room = " Leave room above the head: the hands go there." if exercise.filming.room_above else ""
    where = {
        "front": "Straight in front of you.",
        "back": "Straight behind you.",
        "side": "Straight at your side, left or right: the side with the better sight of the working arm.",
    }[view]
    return [
        ("Place", f"{where} {near:g} to {far:g} m away, which is about {round(near)} to {round(far)} long steps."),
        (
            "Height",
            f"At {_LEVEL[exercise.filming.phone_height]} in the posture of the exercise, upright and level, leaning "
            "against something that does not move.",
        ),
        ("Picture", f"Your whole body, from above the head to the feet, at every moment of a rep.{room}"),
        ("Light", "Lamp or window behind the phone, shining on you; never behind you."),
        (
            "Clothes",
            "Clothes that follow the body and differ from the wall behind; sleeves that leave the elbows to be seen.",
        ),
        ("Phone", "The rear camera, 30 or 60 pictures a second, no zoom, nobody else in the picture."),
    ]


def main() -> None:
    """Show the guide and the test clip."""
    layout.show_heading("How to film a set", "The better the phone stands, the surer the numbers.")
    exercises = list(load_exercises().values())
    with st.container(horizontal=True, vertical_alignment="bottom"):
        exercise = st.selectbox("Exercise", exercises, format_func=lambda item: item.name, key="film_exercise")
        places = list_views(exercise)
        view = st.segmented_control(
            "Where the phone stands",
            places,
            default=places[0],
            required=True,
            format_func=lambda place: _PLACE[place] + (" (best)" if place == places[0] and len(places) > 1 else ""),
            key=f"film_view_{exercise.id}",
        )
    _show_pictures(exercise, view)
    left, right = st.columns([1, 1], gap="large")
    with left:
        layout.show_section("Before you press record")
        st.html(review_html.render_definitions(make_guide(exercise, view)))
    with right:
        layout.show_section("What can be judged from there")
        st.html(review_html.render_list(list_visible_checks(exercise, view)))
        st.caption(exercise.filming.advice)
    placement_check.show(exercise, view)
    layout.show_cautions()


def _show_pictures(exercise: Exercise, view: str) -> None:
    palette = get_palette(dark=layout.is_dark())
    near, far = exercise.filming.distance_m
    place = "left" if view == "side" else view
    where = wording.VIEW_WORDS[place] if view != "side" else "from the side"  # type: ignore[index]  # front or back
    figures = (
        (
            "From above",
            drawn.embed_svg(
                drawn.draw_from_above(exercise, place, palette),
                f"Drawing from above: the phone films the lifter {where}, {near:g} to {far:g} metres away.",
            ),
        ),
        (
            "From beside",
            drawn.embed_svg(
                drawn.draw_from_side(exercise, place, palette),
                f"Drawing from beside: the phone stands at {exercise.filming.phone_height} height, level.",
            ),
        ),
        (
            "On the phone’s screen",
            drawn.embed_svg(
                drawn.draw_phone_screen(exercise, place, palette),
                "Drawing of the phone's screen: the whole body inside, with room above.",
            ),
        ),
    )
    items = "".join(f"<figure>{image}<figcaption>{title}</figcaption></figure>" for title, image in figures)
    st.html(f'<div class="fc-drawings">{items}</div>')


main()
