"""The filming guide and the test clip: as functions, as a page, and in a real browser with a real clip."""

import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from streamlit.testing.v1 import AppTest

from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Exercise
from formcheck.jobs.queue import JobRequest, newest_jobs
from formcheck.report.placement_text import WrittenHint
from formcheck.web.charts import camera_positions as drawn
from formcheck.web.charts.camera_positions import make_frontal, make_profile
from formcheck.web.charts.palette import DARK, LIGHT
from formcheck.web.filming.placement_check import name_purpose, render_verdict
from tests.facts import says
from tests.web.browser_kit import NARROW, assert_accessible, save_screen, served, settled

EXERCISES = list(load_exercises().values())
PLACES = ["front", "back", "left"]


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda item: item.id)
@pytest.mark.parametrize("view", PLACES)
def test_every_exercise_has_drawings_that_stay_on_their_sheet(exercise: Exercise, view: str) -> None:
    near, far = exercise.filming.distance_m
    for draw in (drawn.draw_from_above, drawn.draw_from_side, drawn.draw_phone_screen):
        for palette in (LIGHT, DARK):
            sheet = ElementTree.fromstring(draw(exercise, view, palette))
            _, _, width, height = map(float, sheet.attrib["viewBox"].split())
            for shape in sheet.iter():
                for name, most in (("x", width), ("cx", width), ("y", height), ("cy", height)):
                    if name in shape.attrib:
                        assert 0 <= float(shape.attrib[name]) <= most
            words = " ".join(shape.text or "" for shape in sheet.iter())
            if draw is not drawn.draw_phone_screen:
                assert f"{near:g} to {far:g} m" in words
    assert exercise.filming.phone_height in drawn.draw_from_side(exercise, view, LIGHT)


@pytest.mark.parametrize("posture", ["standing", "seated", "bent-over", "prone"])
def test_figures_stand_on_the_floor_and_their_levels_are_in_order(posture: Any) -> None:
    for figure in (make_profile(posture), make_frontal(posture, "down"), make_frontal(posture, "up")):
        lowest = min(y for stroke in figure.strokes for _, y in stroke)
        assert 0.0 <= lowest < 0.06
        assert figure.level("hip") < figure.level("chest") < figure.level("shoulder") < figure.head[1] + 0.1


def test_the_picture_carries_its_words_for_those_who_do_not_see_it() -> None:
    image = drawn.embed_svg("<svg/>", 'a "phone" <here>')
    assert 'alt="a &#34;phone&#34; &lt;here&gt;"' in image


def read_page(page: AppTest) -> str:
    return "\n".join(str(item.body) for item in page.get("html"))


def open_filming(open_page: Callable[..., AppTest]) -> AppTest:
    return open_page().switch_page("formcheck/web/pages/how_to_film.py").run()


def test_the_guide_follows_the_exercise_and_the_place(open_page: Callable[..., AppTest]) -> None:
    page = open_filming(open_page)
    assert not page.exception
    for exercise in EXERCISES[::4]:
        page.selectbox(key="film_exercise").set_value(exercise.id).run()
        assert not page.exception
        text = read_page(page)
        near, far = exercise.filming.distance_m
        assert says(text, f"{near:g} to {far:g} m")
        assert f"height of your {exercise.filming.phone_height}" in text
        assert says(text, "window", "never behind you")
        assert text.count('<img class="fc-drawing"') == 3
        assert exercise.filming.advice in "\n".join(item.value for item in page.caption)


def test_the_verdict_says_what_to_move_first_and_escapes_its_texts() -> None:
    good, change = WrittenHint("light", "good", "Fine."), WrittenHint("distance", "change", "Nearer <b>now</b>.")
    purpose = name_purpose(JobRequest("x", "x.mp4", "lateral-raise", "side", kind="placement"))
    assert says(render_verdict([good], purpose), "good enough")
    text = render_verdict([good, change], purpose)
    assert says(text, "one thing")
    assert text.index("Nearer &lt;b&gt;now") < text.index("Fine.")
    assert says(render_verdict([change, change], purpose), "2 things")
    assert says(render_verdict([good], purpose), "Lateral raise to shoulder height", "side")


@pytest.mark.browser
@pytest.mark.pose
def test_a_test_clip_from_the_side_is_sent_to_the_front(
    formcheck_home: Path, browser: Any, demo_home: Path, demo_clips: Path
) -> None:
    # the landmarks of this clip are known from there, and how they are found is shown in test_browser.py
    shutil.copytree(demo_home / "recordings", formcheck_home / "recordings")
    with served(formcheck_home) as address:
        page = browser.new_page(viewport=NARROW)
        page.goto(f"{address}/filming")
        page.wait_for_selector(".fc-drawing")
        page.get_by_role("combobox", name="Exercise").click()
        page.get_by_role("option", name="Lateral raise to shoulder height", exact=True).click()
        page.get_by_text("In front (best)").wait_for()
        page.wait_for_selector("input[type=file]", state="attached")
        page.set_input_files("input[type=file]", str(demo_clips / "lateral_raise_side_swing.mp4"))
        page.wait_for_url("**/filming?test=*", timeout=60_000)
        page.reload()
        page.get_by_text("one thing to move first").wait_for(timeout=240_000)
        page.get_by_text("should stand in front of you").wait_for()
        settled(page)
        save_screen(page, "filming-verdict")
        assert_accessible(page)
        assert [job.request.kind for job in newest_jobs()] == ["placement"]
        page.close()
        until = time.monotonic() + 60
        while (clips := list((formcheck_home / "clips").iterdir())) and time.monotonic() < until:
            time.sleep(0.1)
        assert clips == []  # a test clip is deleted once its job is done
