"""How much a visitor has to read, scroll and press: words, pixels and screens of pages, clicks and keys of jobs.

``python tools/benchmarks/usability.py [--home FOLDER]`` serves the page over a data folder, or over one with a shipped
clip just reviewed, looks at it in a real browser at 1440 x 900 and 390 x 844 and prints a table. Counts only: how fast
the page is, `page_speed.py` says. `tests/web/test_usability.py` holds them.

Another page is another function that takes an open page and gives `Count`s, and a line in `PAGES`.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from page_speed import review  # noqa: E402
from tests.web.browser_kit import NARROW, WIDE, opened_browser, served, settled  # noqa: E402

CLIP, EXERCISE = ROOT / "clips_demo" / "lateral_raise_front_range_lost.mp4", "lateral-raise"
SIZES = {"wide": WIDE, "narrow": NARROW}
BOX = """name => {
  const box = document.querySelector(name)?.getBoundingClientRect();
  return box ? [box.top, box.bottom] : null;
}"""
HEIGHT = """() => {
  const main = document.querySelector('.stMain'); const block = document.querySelector('.stMainBlockContainer');
  const rest = parseFloat(getComputedStyle(block).paddingBottom);
  return block.getBoundingClientRect().bottom + main.scrollTop - rest;
}"""
"""Pixels from the window's top to the end of what the page holds, without the empty room below it."""


class Count(NamedTuple):
    """One number of a page, with the most it may be; None where nothing is asked."""

    what: str
    value: float
    most: float | None = None
    unit: str = ""

    @property
    def keeps(self) -> bool:
        """Whether it is no more than it may be."""
        return self.most is None or self.value <= self.most


def count_words(page: Any, within: str = ".stMain") -> int:
    """Words that are seen: what is collapsed does not count."""
    return len(page.locator(within).inner_text().split())


def count_page(page: Any, *, words: float | None = None, screens: float | None = None) -> list[Count]:
    """Words, height and screens of the page as it stands."""
    height = float(page.evaluate(HEIGHT))
    return [
        Count("words", count_words(page), words),
        Count("height", round(height), None, "px"),
        Count("screens", round(height / page.viewport_size["height"], 2), screens),
    ]


def find_bottom(page: Any, selector: str) -> float:
    """Pixels from the window's top to the lower edge of an element; infinite where there is none."""
    box = page.evaluate(BOX, selector)
    return float("inf") if box is None else float(box[1])


def count_set_page(page: Any) -> list[Count]:
    """A set's page, everything collapsed and nothing scrolled."""
    window = page.viewport_size["height"]
    film = page.evaluate(BOX, ".st-key-fc_clip") or (0.0, float("inf"))
    narrow = page.viewport_size["width"] == NARROW["width"]
    return [
        *count_page(page, words=350, screens=2.5),
        Count("film, of the window", round((film[1] - film[0]) / window, 2), 0.4 if narrow else None),
        Count("film ends at", round(film[1]), window, "px"),
        Count("next cue ends at", round(find_bottom(page, ".fc-next")), 500 if narrow else window, "px"),
        Count("trend chart ends at", round(find_bottom(page, ".st-key-trend_chart")), window, "px"),
    ]


def count_start_page(page: Any) -> list[Count]:
    """The start page."""
    return count_page(page)


PAGES: dict[str, tuple[str, str, Callable[[Any], list[Count]]]] = {
    "set": ("/?review=1", ".fc-next", count_set_page),
    "start": ("/", "input[type=file]", count_start_page),
}
"""Name → address, what must be there once the page is whole, and what is counted."""


def count_in_browser(browser: Any, address: str, name: str, size: str) -> list[Count]:
    """Open one page in a window of one size and count."""
    place, whole, count = PAGES[name]
    page = browser.new_page(viewport=SIZES[size])
    try:
        page.goto(address + place)
        page.wait_for_selector(whole, state="attached", timeout=60_000)
        settled(page)
        return count(page)
    finally:
        page.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--home", type=Path, help="a data folder with a reviewed set 1")
    given = parser.parse_args().home
    with tempfile.TemporaryDirectory() as made:
        home = given or Path(made)
        if given is None:
            review(home, CLIP, EXERCISE)
        with served(home) as address, opened_browser() as browser:
            print("page      window  what                     is      at most")
            for name in PAGES:
                for size in SIZES:
                    for item in count_in_browser(browser, address, name, size):
                        most = "" if item.most is None else f"{item.most:g}{'' if item.keeps else '  too much'}"
                        print(f"{name:<9} {size:<7} {item.what:<22} {item.value:>8g} {item.unit:<3} {most}")


if __name__ == "__main__":
    main()
