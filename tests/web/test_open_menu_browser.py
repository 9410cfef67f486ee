"""A menu that a person has open stays open while it is found out what the clip shows; the choice made in it holds."""

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from formcheck.exercises.registry import get_exercise
from formcheck.jobs import queue
from formcheck.jobs.background_tasks import ClipSuggestion
from formcheck.jobs.queue import JobRequest, JobStatus, newest_jobs, start_job
from tests.jobs.rows import set_status
from tests.web.browser_kit import WIDE, served, settled

SEEN = ClipSuggestion((("lateral-raise", 0.94), ("front-raise", 0.03)), True, "front", ())


@pytest.fixture
def address(formcheck_home: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The page with one clip that is being looked at."""
    clip = formcheck_home / "clips" / ("a" * 64)
    clip.parent.mkdir(exist_ok=True)
    clip.write_bytes(b"an invented clip")
    monkeypatch.setattr(queue, "_launch", lambda store, job: None)
    look = start_job(JobRequest(str(clip), "set.mp4", "", "auto", kind="look"))
    set_status(look, JobStatus("working", "Finding the lifter in every picture", 0.4))
    with served(formcheck_home) as url:
        yield url


def test_an_open_menu_stays_open_and_its_choice_holds(address: str, browser: Any) -> None:
    page = browser.new_page(viewport=WIDE)
    page.set_default_timeout(60_000)
    heard: list[object] = []
    page.on("websocket", lambda socket: socket.on("framereceived", lambda frame: heard.append(frame)))
    page.goto(address)
    page.locator(".fc-clip").wait_for()
    settled(page)
    menu = page.get_by_role("combobox", name="Exercise")
    menu.click()
    squat = page.get_by_role("option", name=get_exercise("squat").name, exact=True)
    squat.wait_for()
    (look,) = newest_jobs()
    set_status(look.name, JobStatus("done", "Done", 1.0), result=json.dumps(asdict(SEEN)))
    page.locator(".st-key-fc_menus").wait_for(state="attached")  # the page has noticed
    until = len(heard) + 12  # and has asked again and again
    while len(heard) < until:
        page.wait_for_timeout(50)
    assert menu.get_attribute("aria-expanded") == "true"
    squat.click()
    likely = page.get_by_role("button", name=get_exercise("lateral-raise").name)
    likely.wait_for()  # shown now that the menu is closed
    settled(page)
    assert menu.input_value() == get_exercise("squat").name
    page.close()


def test_without_an_open_menu_it_is_shown_and_filled_in(address: str, browser: Any) -> None:
    page = browser.new_page(viewport=WIDE)
    page.set_default_timeout(60_000)
    page.goto(address)
    page.locator(".fc-clip").wait_for()
    settled(page)
    (look,) = newest_jobs()
    set_status(look.name, JobStatus("done", "Done", 1.0), result=json.dumps(asdict(SEEN)))
    page.get_by_role("button", name=get_exercise("lateral-raise").name).wait_for()
    settled(page)
    assert page.get_by_role("combobox", name="Exercise").input_value().startswith("Lateral raise")
    page.close()
