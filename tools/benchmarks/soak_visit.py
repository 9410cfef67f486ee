"""A visitor of the page in a real browser: a clip in, its review out, a look through the other pages."""

from contextlib import suppress
from pathlib import Path
from typing import Any

from formcheck.exercises.registry import get_exercise
from tests.web.browser_kit import ARGUMENTS

EXERCISE = "lateral-raise"
PATIENCE_MS, LIST_MS = 1_800_000, 20_000
PAGES = ("Reviewed sets", "Clients", "Compare", "Own limits", "Export or delete", "How to film")


class BrokenPageError(Exception):
    """The page showed an error of the program."""


def visit(browser: Any, address: str, clip: Path) -> tuple[int, int]:
    """One visitor: a clip in, its review out, a look round; choices and clicks made again."""
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    try:
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.goto(address)
        page.wait_for_selector("input[type=file]", state="attached")
        page.wait_for_timeout(2000)
        while page.locator(".fc-clip").count():  # left behind by a visit that failed
            page.get_by_role("button", name="More", exact=True).first.click()
            page.get_by_role("button", name="Remove this clip").click()
            page.wait_for_timeout(3000)
        page.set_input_files("input[type=file]", str(clip))
        page.locator(".fc-clip").first.wait_for()
        start = page.get_by_role("button", name="Review the set", exact=True)
        start.wait_for()
        again = choose_exercise(page, start)
        clicks = started_review(page, start)
        page.wait_for_selector(".fc-rep")
        settled(page)
        for name in PAGES:
            link = page.get_by_role("link", name=name, exact=True)
            if link.count():
                link.first.click()
                page.wait_for_selector(".stMain")
                page.wait_for_timeout(1500)
                settled(page)
        return max(again - 1, 0), clicks
    finally:
        context.close()


def choose_exercise(page: Any, start: Any) -> int:
    """Choose the exercise until the button can be pressed, as anyone would; how often that was."""
    from playwright.sync_api import TimeoutError

    for again in range(20):
        if ready(page, start):
            return again
        page.get_by_role("combobox", name="Exercise").click()
        with suppress(TimeoutError):  # a list that the page's next answer closed is opened again
            page.get_by_role("option", name=get_exercise(EXERCISE).name, exact=True).click(timeout=LIST_MS)
        page.wait_for_timeout(2000)
    raise SystemExit("the exercise cannot be chosen")


def started_review(page: Any, start: Any) -> int:
    """Press the button until the work begins; how often it was pressed in vain, as when the page moves under a hand."""
    from playwright.sync_api import TimeoutError

    for pressed in range(10):
        start.click()
        with suppress(TimeoutError):
            begun = page.get_by_text("Analysing your set").or_(page.locator(".fc-rep, .fc-problem"))
            begun.first.wait_for(timeout=LIST_MS)
            return pressed
    raise SystemExit("the review cannot be started")


def settled(page: Any) -> None:
    """Wait until a page is whole; BrokenPageError when it ends in an error of the program."""
    page.wait_for_selector("[data-testid=stApp][data-test-script-state=notRunning]")
    wrong = page.get_by_test_id("stException")
    if wrong.count():
        raise BrokenPageError(" ".join(wrong.first.inner_text().split()))


def ready(page: Any, start: Any) -> bool:
    """Whether the review can be started, the cautions being read."""
    unread = page.get_by_text("I have read the cautions")
    if unread.count() and not page.get_by_role("checkbox", name="I have read the cautions").is_checked():
        unread.click()
        page.wait_for_timeout(1500)
    return bool(start.is_enabled())


def started(playwright: Any, path: str) -> Any:
    """A browser."""
    return playwright.chromium.launch(executable_path=path, args=[*ARGUMENTS, "--disable-dev-shm-usage"])
