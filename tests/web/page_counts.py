"""How much a visitor has to read, scroll and press: words, pixels and screens of pages, clicks and keys of jobs.

Counts only, never times. Another page is another function that takes an open page and gives `Count`s, and a line in
`PAGES`.
"""

from collections.abc import Callable
from typing import Any, NamedTuple

from tests.web.browser_kit import NARROW, WIDE, settled

PATIENCE_MS = 240_000
"""Waited at most for what a page must hold: only a busy machine needs so long."""
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
    """One number of a page, with the most and the least it may be; None where nothing is asked."""

    what: str
    value: float
    most: float | None = None
    unit: str = ""
    least: float | None = None

    @property
    def keeps(self) -> bool:
        """Whether it is neither more nor less than it may be."""
        return (self.most is None or self.value <= self.most) and (self.least is None or self.value >= self.least)


def count_words(page: Any, within: str = ".stMain") -> int:
    """Words that are seen: neither what is collapsed nor the names that a font draws as icons count."""
    icons = page.locator(within).locator("[data-testid=stIconMaterial]:visible").all_inner_texts()
    return len(page.locator(within).inner_text().split()) - sum(len(name.split()) for name in icons)


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
        Count("trend chart ends at", round(find_bottom(page, ".st-key-trend_chart")), find_room(page), "px"),
    ]


def find_room(page: Any) -> float:
    """Pixels of the window that nothing lies over: on a telephone the controls stand at its lower edge."""
    fixed = page.evaluate(
        "() => { const box = document.querySelector('.st-key-fc_player'); "
        "return box && getComputedStyle(box).position === 'fixed' ? box.getBoundingClientRect().top : null; }"
    )
    return float(page.viewport_size["height"] if fixed is None else fixed)


def count_start_page(page: Any) -> list[Count]:
    """The start page, nothing scrolled; without the sets that were just reviewed, which may stand on it."""
    narrow = page.viewport_size["width"] == NARROW["width"]
    zone = Count("drop zone ends at", round(find_bottom(page, DROP_ZONE)), page.viewport_size["height"], "px")
    counts = count_page(page, screens=None if narrow else 1.0)
    listed = count_words(page, ".st-key-fc_queue") if page.locator(".st-key-fc_queue").count() else 0
    return [Count("words", counts[0].value - listed, 120), *counts[1:], zone]


DROP_ZONE = "[data-testid=stFileUploaderDropzone]"


def count_sheet(page: Any) -> list[Count]:
    """Ten clips whose exercises are clear: where the sheet ends, and clicks until they are in line, for one client."""
    clicks = 1
    page.get_by_role("combobox", name="Client").first.click()
    page.keyboard.type("Nora Invented")
    page.keyboard.press("Enter")
    settled(page)
    if page.get_by_role("checkbox", name="I have read the cautions").count():
        page.get_by_text("I have read the cautions").click()
        clicks += 1
        settled(page)
    start = page.get_by_role("button", name="Review 10 sets")
    start.click(trial=True)  # it can be pressed; the work itself is not asked for
    rows = page.locator("[class*=st-key-fc_clip_form_]").count()
    wide = page.viewport_size["width"] == WIDE["width"]
    end = Count("sheet ends at", round(find_bottom(page, ".st-key-fc_start")), WIDE["height"] if wide else None, "px")
    return [Count("clips on the sheet", rows, least=10), Count("clicks for ten clips", clicks + 1, 4), end]


ROWS = "[...document.querySelectorAll('[data-set]')].filter(row => row.getBoundingClientRect().bottom <= innerHeight)"


def count_list(page: Any) -> list[Count]:
    """The list of reviewed sets: rows seen whole, keys to open ten sets and mark them as done."""
    wide = page.viewport_size["width"] == WIDE["width"]
    counts = [Count("rows on the screen", page.evaluate(f"{ROWS}.length"), least=12 if wide else None)]
    return [*counts, Count("keys for ten sets", count_keys(page, 10), 20)] if wide else counts


def count_keys(page: Any, sets: int) -> int:
    """Keys pressed until so many sets were opened and marked as done, from the top of the list on."""
    for key in ("n", "Enter"):  # to the first row, and its page
        page.keyboard.press(key)
    for number in range(1, sets + 1):
        page.wait_for_function(
            f"document.querySelector('.fc-place')?.textContent.startsWith('{number} of')", timeout=PATIENCE_MS
        )
        page.wait_for_selector(".fc-next, .fc-problem", timeout=PATIENCE_MS)
        settled(page)
        page.keyboard.press("d")
    page.wait_for_function(
        f"document.querySelector('.fc-place').textContent.startsWith('{sets + 1} of')", timeout=PATIENCE_MS
    )
    return 2 + sets


PAGES: dict[str, tuple[str, str, Callable[[Any], list[Count]]]] = {
    "set": ("/?review=1", ".st-key-trend_chart .js-plotly-plot", count_set_page),
    "start": ("/", "input[type=file]", count_start_page),
    "list": ("/history", ".fc-sets", count_list),
    "sheet": ("/", ".st-key-fc_start", count_sheet),
}
"""Name → address, what must be there once the page is whole, and what is counted."""


def count_in_browser(browser: Any, address: str, name: str, size: str) -> list[Count]:
    """Open one page in a window of one size and count."""
    place, whole, count = PAGES[name]
    page = browser.new_page(viewport=SIZES[size])
    try:
        page.goto(address + place)
        page.wait_for_selector(whole, state="attached", timeout=PATIENCE_MS)
        settled(page)
        return count(page)
    finally:
        page.close()
