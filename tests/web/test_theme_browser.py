"""A page that turns dark while it is open: charts and drawings turn with it, without a click."""

from typing import Any

import pytest

from tests.web.browser_kit import NARROW, settled

pytestmark = [pytest.mark.browser, pytest.mark.pose]
INK = """(() => {
  const text = document.querySelector('.st-key-trend_chart .js-plotly-plot .xtick text');
  return text && getComputedStyle(text).fill;  // none while the chart is drawn anew
})()"""


def test_charts_follow_the_page_into_the_dark_and_back(demo_address: str, browser: Any) -> None:
    page = browser.new_page(viewport=NARROW, color_scheme="light")
    try:
        page.goto(f"{demo_address}/?review=2")
        page.wait_for_selector(".st-key-trend_chart .js-plotly-plot .xtick text", state="attached", timeout=60_000)
        settled(page)
        light = page.evaluate(INK)
        for scheme, same in (("dark", False), ("light", True)):
            page.emulate_media(color_scheme=scheme)
            page.wait_for_function(
                f"([ink, same]) => {{ const now = {INK}; return now && (now === ink) === same; }}",
                arg=[light, same],
                timeout=60_000,
            )
    finally:
        page.close()
