"""A coach's answers in a real browser: one press each at points and reps, wide and on a telephone."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from formcheck.demo import story
from formcheck.storage import Store
from tests.facts import says
from tests.web.browser_kit import NARROW, WIDE, assert_page_passes, save_screen, served, settled

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sessions of the invented client: sets 1 to 3 with the whole range, 4 to 6 with range lost."""
    home = tmp_path_factory.mktemp("answers-home")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(story, "STORY", (story.STORY[0], story.STORY[4]))
        patch.setenv("FORMCHECK_HOME", str(home))
        with Store.open(home / "reviews.sqlite") as store:
            assert story.install_story(store, home / "recordings", today=date(2026, 11, 25)) == 6
    return home


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    with served(home) as url:
        yield url


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    opened = browser.new_page(viewport=WIDE)
    opened.set_default_timeout(120_000)
    yield opened
    opened.close()


def open_set(page: Any, address: str, number: int) -> None:
    page.goto(f"{address}/?review={number}")
    page.locator(".fc-answer").first.wait_for(state="attached")
    settled(page)


def press(page: Any, name: str) -> None:
    """Press an answer, which is then given or taken back, however long that takes."""
    from playwright.sync_api import expect

    before = pressed(page, name) or ""
    page.get_by_role("button", name=name).first.click()
    expect(page.get_by_role("button", name=name).first).not_to_have_attribute("aria-pressed", before, timeout=60_000)
    settled(page)


def pressed(page: Any, name: str) -> str | None:
    answer: str | None = page.get_by_role("button", name=name).first.get_attribute("aria-pressed")
    return answer


def test_one_press_answers_and_the_same_again_takes_it_back(address: str, page: Any, home: Path) -> None:
    open_set(page, address, 1)
    press(page, "Agree: rep 2 is")
    assert pressed(page, "Agree: rep 2 is") == "true"
    press(page, "Disagree: rep 2 is")
    assert (pressed(page, "Agree: rep 2 is"), pressed(page, "Disagree: rep 2 is")) == ("false", "true")
    point = page.locator(".fc-points .fc-answer[data-answer=disagree]").first
    check = str(point.get_attribute("data-what")).partition(":")[2]
    point.evaluate("button => button.click()")  # it may lie in a folded group
    settled(page)
    with Store.open(home / "reviews.sqlite") as store:
        assert {(item.check, item.agrees) for item in store.ratings_of(1)} == {("rep", False), (check, False)}
    given = page.locator(".st-key-answers_given")
    given.get_by_text("You agreed with 0 of 2 answers").wait_for()
    given.locator("summary").click()
    why = given.get_by_role("textbox").first
    why.fill("she stopped half-way")
    why.press("Enter")
    settled(page)
    with Store.open(home / "reviews.sqlite") as store:
        assert "she stopped half-way" in {item.why for item in store.ratings_of(1)}
    press(page, "Disagree: rep 2 is")
    with Store.open(home / "reviews.sqlite") as store:
        assert [item.check for item in store.ratings_of(1)] == [check]


def test_a_press_at_a_rep_makes_it_the_reference_rep(address: str, page: Any, home: Path) -> None:
    open_set(page, address, 1)
    press(page, "Reference rep: rep 3")
    assert pressed(page, "Reference rep: rep 3") == "true"
    assert says(page.locator(".fc-reference").inner_text(), "Rep 3 is the reference rep")
    open_set(page, address, 4)
    said = page.locator(".fc-reference").inner_text()
    assert says(said, "Reference", "rep 3")
    assert says(said, "The camera stands", "away from where it stood")
    page.goto(f"{address}/clients?client=1")
    page.get_by_role("button", name="Reference rep from the front").wait_for()
    open_set(page, address, 1)
    press(page, "Reference rep: rep 3")
    assert page.locator(".fc-reference").count() == 0
    with Store.open(home / "reviews.sqlite") as store:
        assert store.list_reference_reps() == []


def test_on_a_telephone_every_answer_can_be_pressed(address: str, page: Any) -> None:
    page.set_viewport_size(NARROW)
    open_set(page, address, 2)
    boxes = page.locator(".fc-strip .fc-answer").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect()).map(box => [box.width, box.height])"
    )
    assert len(boxes) >= 9
    assert all(width >= 24 and height >= 24 for width, height in boxes)  # WCAG 2.2, 2.5.8
    press(page, "Reference rep: rep 1")
    assert pressed(page, "Reference rep: rep 1") == "true"
    save_screen(page, "answers-narrow")


def test_the_page_passes_the_accessibility_rules_and_fits(address: str, page: Any) -> None:
    open_set(page, address, 2)
    press(page, "Agree: rep 1 is")
    assert_page_passes(page, "answers", leave=True)


def test_the_clients_page_sums_the_answers_up_in_one_line(address: str, page: Any) -> None:
    page.goto(f"{address}/clients")
    page.get_by_text("You agreed with").wait_for()
