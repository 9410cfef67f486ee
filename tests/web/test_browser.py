"""The whole way in a real browser: a clip goes in, the work runs beside the page, the result moves the clip."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from formcheck.jobs.queue import newest_jobs
from tests.excerpt import excerpt, smaller
from tests.web.browser_kit import CLIPS, at, choose_exercise, served, settled, wait_for_moment

pytestmark = [pytest.mark.browser, pytest.mark.pose]

WORK_MS = 240_000


@pytest.fixture
def address(formcheck_home: Path) -> Iterator[str]:
    """The page with an empty data folder."""
    with served(formcheck_home) as url:
        yield url


def demo_clip(folder: Path) -> tuple[Path, str, int]:
    """The first three reps of the smallest shipped clip in half their pictures, their exercise and number."""
    clip = min(CLIPS.glob("*.mp4"), key=lambda path: path.stat().st_size)
    truth: dict[str, Any] = json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))
    start = excerpt(clip, folder / f"start-{clip.name}", truth["reps"][2]["end"] + 0.3)
    return smaller(start, folder / clip.name, width=360, every=2), truth["exercise"], 3


def skip_film(page: Any) -> None:
    """WCAG 2.2, 2.4.1: with the keyboard one gets past the film's controls in one step, to what was found."""
    link = page.get_by_role("link", name="Skip the film’s controls")
    before = "(link) => link.compareDocumentPosition(document.querySelector('.st-key-fc_viewer')) & 4"
    assert link.evaluate(before) == 4  # DOM: DOCUMENT_POSITION_FOLLOWING
    address = page.url
    link.focus()
    box = link.bounding_box()
    assert box["x"] >= 0  # seen while it has the focus
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement?.id === 'fc-findings'")
    page.keyboard.press("Tab")
    page.wait_for_function("document.activeElement?.id !== 'fc-findings'")
    reached = "document.activeElement.closest('.stColumn')?.querySelector('#fc-findings') !== null"
    assert page.evaluate(reached)
    assert page.url.partition("#")[0] == address


def test_a_clip_goes_in_and_its_reps_come_out(address: str, browser: Any, formcheck_home: Path, tmp_path: Path) -> None:
    clip, exercise, reps = demo_clip(tmp_path)
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    page.set_default_timeout(60_000)  # the first page of a server that has just started
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    page.get_by_text("Stop at once on pain").wait_for()
    page.wait_for_selector("input[type=file]", state="attached")
    # Charts come next: what draws them is there before.
    page.wait_for_function("performance.getEntriesByType('resource').some(item => item.name.includes('PlotlyChart'))")
    page.set_input_files("input[type=file]", str(clip))
    page.locator(".fc-clip").wait_for(timeout=30_000)
    from formcheck.exercises.registry import get_exercise

    choose_exercise(page, get_exercise(exercise).name)
    page.get_by_text("I have read the cautions").click()
    page.get_by_role("button", name="Review the set", exact=True).click()

    page.wait_for_selector("[role=progressbar]", timeout=60_000)
    page.wait_for_url("**/?job=*", timeout=60_000)
    page.reload()
    page.wait_for_selector(".fc-rep", timeout=WORK_MS)
    page.wait_for_url("**/?review=1")
    # Reloading started nothing a second time.
    assert sorted(job.request.kind for job in newest_jobs()) == ["look", "review"]

    settled(page)
    skip_film(page)
    page.get_by_text("All numbers, rep by rep").click()
    page.wait_for_selector(".fc-table tbody tr", timeout=30_000)
    assert page.locator(".fc-rep").count() == reps
    page.locator(".fc-rep img").first.wait_for(timeout=WORK_MS)  # drawn after the findings are shown
    assert page.locator(".fc-rep img").count() == reps
    page.get_by_text("Stop at once on pain").wait_for()

    page.wait_for_function("document.querySelector('.st-key-fc_clip video')?.readyState >= 2", timeout=30_000)
    page.get_by_role("button", name="One picture forward").wait_for()
    card = page.locator(".fc-rep").last
    card.click()
    wait_for_moment(page, float(card.get_attribute("data-t")))
    page.wait_for_selector(f".fc-rep.fc-current[data-rep='{reps}']")
    button = page.locator(".fc-finding .fc-seek:visible").first
    button.click()
    wait_for_moment(page, float(button.get_attribute("data-t")))
    before = at(page)
    page.get_by_role("button", name="One picture forward").click()
    page.wait_for_function(f"document.querySelector('.st-key-fc_clip video').currentTime > {before}")

    page.get_by_text("The movement over time").click()
    plot = page.locator("[class*=st-key-curve_] .js-plotly-plot").first
    plot.wait_for(timeout=30_000)
    plot.scroll_into_view_if_needed()
    page.wait_for_function("document.querySelector('[class*=st-key-curve_] .fc-cursor') !== null")
    drawn = plot.evaluate("plot => plot._fullLayout.xaxis.range")
    box = plot.locator(".nsewdrag").first.bounding_box()
    x, y = box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.5
    page.mouse.click(x, y)
    # A pixel of the chart is worth less than a tenth of a second.
    wait_for_moment(page, (drawn[0] + drawn[1]) / 2, rate=10.0)

    page.get_by_text("Share: report, film, numbers").click()
    with page.expect_download() as download:
        page.get_by_role("button", name="Report (HTML)").click()
    report = Path(download.value.path()).read_text(encoding="utf-8")
    assert get_exercise(exercise).name in report

    page.get_by_role("link", name="Reviewed sets").click()
    page.locator("[data-open]").click()
    page.wait_for_selector(".fc-rep")
    assert len(asked) > 10
    assert all(url.startswith((address, "data:", "blob:", address.replace("http", "ws"))) for url in asked)
