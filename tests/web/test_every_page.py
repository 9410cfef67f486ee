"""What holds for every page in a real browser: readable by everyone, on a telephone too, dark and light."""

from typing import Any

import pytest

from tests.web.browser_kit import WIDE, assert_page_passes

pytestmark = [pytest.mark.browser, pytest.mark.pose]

PAGES = {
    "start": ("/", "input[type=file]"),
    "review-side": ("/?review=1", ".js-plotly-plot"),
    "review-front": ("/?review=2", ".js-plotly-plot"),
    "reviewed-sets": ("/history", ".fc-sets"),
    "correct-by-hand": ("/correct?review=2", ".fc-rep-times"),
    "own-limits": ("/limits", "[data-testid=stExpander]"),
    "hand-over": ("/hand-over", "h1"),
    "cautions": ("/cautions", ".fc-cautions"),
    "filming": ("/filming", ".fc-drawing"),
    "film-here": ("/film", ".fc-drawing"),
}
"""Name → address in the demo folder, and what must be there once the page is whole. A new page adds its line."""


@pytest.mark.parametrize("name", PAGES)
def test_every_page_passes_the_accessibility_rules_and_fits(demo_address: str, browser: Any, name: str) -> None:
    place, whole = PAGES[name]
    page = browser.new_page(viewport=WIDE)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    try:
        page.goto(demo_address + place)
        page.wait_for_selector(whole, state="attached", timeout=60_000)
        assert_page_passes(page, name, leave=True)
        assert page.locator("h1").count() == 1
        assert page.title().endswith(" · formcheck")
        own = (demo_address, demo_address.replace("http", "ws"), "data:", "blob:")
        assert len(asked) > 10
        assert all(url.startswith(own) for url in asked)
    finally:
        page.close()
