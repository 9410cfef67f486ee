"""What is counted of the pages, in a real browser: words, pixels and screens, never times."""

from collections.abc import Iterator
from typing import Any

import pytest

from tests.web import page_counts
from tests.web.browser_kit import NARROW, served
from tests.web.many_sets import fill_store, lay_clips

pytestmark = [pytest.mark.browser, pytest.mark.pose]


@pytest.mark.parametrize("size", ["wide", "narrow"])
@pytest.mark.parametrize("name", ["set", "start"])
def test_a_page_keeps_its_counts(demo_address: str, browser: Any, name: str, size: str) -> None:
    counts = page_counts.count_in_browser(browser, demo_address, name, size)
    assert {item.what for item in counts} >= {"words", "height", "screens"}
    assert [item for item in counts if not item.keeps] == []


@pytest.fixture(scope="module")
def many_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The page over a store of many sets."""
    home = tmp_path_factory.mktemp("many")
    fill_store(home, 18)
    lay_clips(home, 10)
    with served(home) as url:
        yield url


@pytest.mark.parametrize("size", ["narrow", "wide"])
def test_the_list_keeps_its_counts(many_address: str, browser: Any, size: str) -> None:
    counts = {item.what: item for item in page_counts.count_in_browser(browser, many_address, "list", size)}
    assert counts["rows on the screen"].value > 3
    assert ("keys for ten sets" in counts) == (size == "wide")
    assert [item for item in counts.values() if not item.keeps] == []


@pytest.mark.parametrize("size", ["narrow", "wide"])
def test_the_sheet_keeps_its_counts(many_address: str, browser: Any, size: str) -> None:
    counts = page_counts.count_in_browser(browser, many_address, "sheet", size)
    assert {item.what for item in counts} == {"clips on the sheet", "clicks for ten clips", "sheet ends at"}
    assert [item for item in counts if not item.keeps] == []


def test_names_drawn_as_icons_are_not_counted(browser: Any) -> None:
    page = browser.new_page(viewport=NARROW)
    page.set_content(
        "<main class=stMain><p><span data-testid=stIconMaterial>chevron_left</span> one two</p><details>"
        "<summary>three</summary><span data-testid=stIconMaterial>edit</span></details></main>"
    )
    assert page_counts.count_words(page) == 3
    page.close()


def test_only_what_is_seen_is_counted(browser: Any) -> None:
    page = browser.new_page(viewport=NARROW)
    page.set_content(
        "<main class=stMain style='height:844px'><div class=stMainBlockContainer style='padding:0 0 90px'>"
        "<p style='margin:0;height:1688px'>one two three</p><details><summary>four</summary>five six</details></div>"
        "</main>"
    )
    page.add_style_tag(content="body { margin: 0 } details { position: absolute; top: 0 }")
    words, height, screens = page_counts.count_page(page, words=3, screens=2.0)
    assert (words.value, height.value, screens.value) == (4, 1688, 2.0)
    assert page_counts.Count("rows", 11, least=12).keeps is False
    assert [item.keeps for item in (words, height, screens)] == [False, True, True]
    assert page_counts.find_bottom(page, ".nothing") == float("inf")
    page.close()
