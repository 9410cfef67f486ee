"""Comparing and a client over time in a real browser, over two sessions of the invented client."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from formcheck.demo import story
from formcheck.storage import Store
from tests.facts import says
from tests.web.browser_kit import NARROW, WIDE, assert_accessible, assert_page_passes, save_screen, served, settled

pytestmark = pytest.mark.browser

DRAWN = "() => document.querySelector('.st-key-fc_phase_curves .js-plotly-plot .fc-cursor') !== null"
PAGES = {
    "clients": ("/clients", ".fc-set"),
    "client": ("/clients?client=1", ".js-plotly-plot"),
    "compare": ("/compare?after=6", ".js-plotly-plot"),
}


@pytest.fixture(scope="module")
def progress_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sessions three weeks apart, three sets each: whole range, and range lost under too much load."""
    home = tmp_path_factory.mktemp("progress-home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(story, "STORY", (story.STORY[0], story.STORY[4]))
        patch.setenv("FORMCHECK_HOME", str(home))
        with Store.open(home / "reviews.sqlite") as store:
            assert story.install_story(store, home / "recordings", today=date(2026, 11, 25)) == 6
    return home


@pytest.fixture(scope="module")
def progress_address(progress_home: Path) -> Iterator[str]:
    with served(progress_home) as url:
        yield url


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    opened = browser.new_page(viewport=WIDE)
    opened.set_default_timeout(60_000)
    yield opened
    opened.close()


@pytest.mark.parametrize("name", PAGES)
def test_the_pages_pass_the_accessibility_rules_and_fit(progress_address: str, page: Any, name: str) -> None:
    place, whole = PAGES[name]
    page.goto(progress_address + place)
    page.wait_for_selector(whole, state="attached", timeout=60_000)
    assert_page_passes(page, name, leave=True)
    assert page.locator("h1").count() == 1


def test_earlier_sessions_are_listed_when_asked_for(progress_address: str, page: Any) -> None:
    page.goto(progress_address + "/clients?client=1")
    done = page.locator("table caption", has_text="Plan:")
    page.get_by_text("The 1 session before").wait_for()
    settled(page)
    assert done.count() == 1
    page.get_by_text("The 1 session before").click()
    done.nth(1).wait_for()
    assert done.count() == 2


def wrist_heights(page: Any) -> list[float]:
    """How low the lines of each skeleton's raised hands end, in trunk lengths; smaller is higher."""
    ends = page.locator("svg line.one, svg line.two").evaluate_all(
        "lines => lines.map(line => [line.getAttribute('class'), +line.getAttribute('x2'), +line.getAttribute('y2')])"
    )
    # The hand farthest out is the wrist of a lateral raise at its top.
    return [min((abs(x), y) for look, x, y in ends if look == kind and abs(x) > 0.9)[1] for kind in ("one", "two")]


def test_two_sets_lie_over_each_other_at_the_phase_of_the_slider(progress_address: str, page: Any) -> None:
    page.goto(f"{progress_address}/compare?after=6")
    page.wait_for_selector("svg line.two", state="attached", timeout=60_000)
    page.wait_for_function(DRAWN, timeout=30_000)
    settled(page)
    first, second = wrist_heights(page)  # the slider begins at the end of the lifting
    assert second > first + 0.05  # range was lost: the later set's hands stay lower
    slider = page.get_by_role("slider", name="Phase of the rep")
    assert says(slider.get_attribute("aria-valuetext"), "100", "lifting")
    line = page.locator(".st-key-fc_phase_curves .fc-cursor").first
    before = line.evaluate("line => line.style.left")
    slider.focus()
    page.keyboard.press("Home")
    assert says(slider.get_attribute("aria-valuetext"), "0", "lifting")
    assert line.evaluate("line => line.style.left") != before
    page.get_by_role("button", name="Play slowly").click()
    page.wait_for_timeout(600)
    assert slider.get_attribute("aria-valuetext") != "0 % of the lifting"
    page.get_by_role("button", name="Play slowly").click()


def test_early_and_late_reps_of_one_set_and_two_of_its_reps(progress_address: str, page: Any) -> None:
    page.goto(f"{progress_address}/compare?after=6")
    page.wait_for_selector("svg line.two", state="attached", timeout=60_000)
    settled(page)
    page.get_by_text("Compare other sets or reps").click()
    page.get_by_role("button", name="Early and late reps of a set").or_(
        page.get_by_role("radio", name="Early and late reps of a set")
    ).first.click()
    page.get_by_text("The late reps").first.wait_for(timeout=30_000)
    settled(page)
    assert "yes" in page.locator("tr.fc-call-changed").first.inner_text()
    save_screen(page, "compare-early-late-wide-light")
    assert_accessible(page)
    page.get_by_role("button", name="Two reps").or_(page.get_by_role("radio", name="Two reps")).first.click()
    page.get_by_text("Rep 1", exact=True).first.wait_for(timeout=30_000)
    settled(page)
    save_screen(page, "compare-two-reps-wide-light")
    assert_accessible(page)


def test_pain_noted_by_the_lifter_turns_the_clients_advice_into_a_stop(
    progress_address: str, progress_home: Path, browser: Any
) -> None:
    page = browser.new_page(viewport=NARROW)
    try:
        page.goto(f"{progress_address}/clients")
        page.get_by_role("button", name="Open").first.click()
        page.get_by_text("For the next session: a little lighter").wait_for(timeout=60_000)
        page.get_by_role("button", name="Set 3:").first.click()
        page.get_by_text("How it felt").wait_for(timeout=60_000)
        settled(page)
        page.get_by_text("How it felt").click()
        page.get_by_role("radio", name="yes", exact=True).or_(
            page.get_by_role("button", name="yes", exact=True)
        ).first.click()
        page.get_by_label("Where does it hurt?").fill("right shoulder")
        page.keyboard.press("Tab")
        settled(page)
        save_screen(page, "note-narrow-light")
        assert_accessible(page)
        page.get_by_role("button", name="Keep the note").click()
        page.get_by_text("Pain was noted: stop this exercise").wait_for(timeout=30_000)
        page.get_by_role("button", name="The client over time").click()
        page.get_by_text("For the next session: stop and have it looked at").wait_for(timeout=60_000)
        settled(page)
        save_screen(page, "client-pain-narrow-light")
        assert_accessible(page)
        with Store.open(progress_home / "reviews.sqlite") as store:
            note = store.note_of(6)
        assert note is not None
        assert (note.pain, note.pain_where) == (True, "right shoulder")
        assert note.effort == 9.5  # what was noted before stays
    finally:
        page.close()
