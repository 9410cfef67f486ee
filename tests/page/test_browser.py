"""The whole way in a real browser: a clip goes in, the work runs beside the page, the result moves the clip."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.error import URLError

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.pose]

ROOT = Path(__file__).resolve().parents[2]
CLIPS = ROOT / "clips_demo"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WORK_MS = 240_000


def chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if found is None:
        message = "no Chromium on this machine (Debian package: chromium)"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    return found


@pytest.fixture
def address(formcheck_home: Path) -> Iterator[str]:
    """The page, served on a free port of this machine with an empty data folder."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable,
        "-m",
        "streamlit",
        "run",
        "app.py",
        "--server.port",
        str(port),
        "--server.headless",
        "true",
    ]
    log = (formcheck_home / "server.log").open("wb")
    server = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log, env=os.environ)
    try:
        for _ in range(240):
            assert server.poll() is None, (formcheck_home / "server.log").read_text()
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
                    break
            except (URLError, OSError):
                time.sleep(0.25)
        else:
            pytest.fail("the page did not come up")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(20)
        log.close()


@pytest.fixture
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        yield opened
        opened.close()


def demo_clip() -> tuple[Path, dict[str, Any]]:
    """The smallest shipped clip with its truth."""
    clip = min(CLIPS.glob("*.mp4"), key=lambda path: path.stat().st_size)
    truth: dict[str, Any] = json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))
    return clip, truth


def at(page: Any) -> float:
    """Where the clip stands, in seconds."""
    return float(page.evaluate("document.querySelector('.st-key-fc_clip video').currentTime"))


def wait_for_moment(page: Any, seconds: float, rate: float = 25.0) -> None:
    page.wait_for_function(
        "([t, spare]) => Math.abs(document.querySelector('.st-key-fc_clip video').currentTime - t) <= spare",
        arg=[seconds, 1 / rate],
        timeout=10_000,
    )


def test_a_clip_goes_in_and_its_reps_come_out(address: str, browser: Any, formcheck_home: Path) -> None:
    clip, truth = demo_clip()
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    page.get_by_text("Stop at once on pain").wait_for()
    page.wait_for_selector("input[type=file]", state="attached")
    page.set_input_files("input[type=file]", str(clip))
    page.get_by_text("is ready").wait_for(timeout=30_000)
    from formcheck.exercises.registry import get_exercise

    page.get_by_role("combobox", name="Exercise").click()
    page.get_by_role("option", name=get_exercise(truth["exercise"]).name, exact=True).click()
    page.get_by_text("I have read this").click()
    page.get_by_role("button", name="Review the set", exact=True).click()

    page.wait_for_selector("[role=progressbar]", timeout=30_000)
    page.wait_for_url("**/?job=*")
    page.reload()
    page.wait_for_selector(".fc-table", timeout=WORK_MS)
    page.wait_for_url("**/?review=1")
    # Reloading started nothing a second time.
    assert len(list((formcheck_home / "jobs").iterdir())) == 1

    assert page.locator(".fc-table tbody tr").count() == len(truth["reps"])
    assert page.locator(".fc-rep img").count() == len(truth["reps"])
    page.get_by_text("Stop at once on pain").wait_for()

    page.wait_for_function("document.querySelector('.st-key-fc_clip video')?.readyState >= 2", timeout=30_000)
    page.get_by_role("button", name="One picture forward").wait_for()
    card = page.locator(".fc-rep").last
    card.click()
    wait_for_moment(page, float(card.get_attribute("data-t")))
    page.wait_for_selector(f".fc-rep.fc-current[data-rep='{len(truth['reps'])}']")
    button = page.locator(".fc-seek:visible").first
    button.click()
    wait_for_moment(page, float(button.get_attribute("data-t")))
    before = at(page)
    page.get_by_role("button", name="One picture forward").click()
    page.wait_for_function(f"document.querySelector('.st-key-fc_clip video').currentTime > {before}")

    plot = page.locator("[class*=st-key-curve_] .js-plotly-plot").first
    plot.scroll_into_view_if_needed()
    page.wait_for_function("document.querySelector('[class*=st-key-curve_] .fc-cursor') !== null")
    drawn = plot.evaluate("plot => plot._fullLayout.xaxis.range")
    box = plot.locator(".nsewdrag").first.bounding_box()
    x, y = box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.5
    page.mouse.click(x, y)
    # A pixel of the chart is worth less than a tenth of a second.
    wait_for_moment(page, (drawn[0] + drawn[1]) / 2, rate=10.0)

    with page.expect_download() as download:
        page.get_by_role("button", name="Report (HTML)").click()
    report = Path(download.value.path()).read_text(encoding="utf-8")
    assert get_exercise(truth["exercise"]).name in report

    page.get_by_role("link", name="History").click()
    page.get_by_role("button", name="Open").click()
    page.wait_for_selector(".fc-table")
    assert all(url.startswith((address, "data:", "blob:", address.replace("http", "ws"))) for url in asked)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_needs_sideways_scrolling_on_a_telephone(address: str, browser: Any, scheme: str) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    for place in ("/", "/history"):
        page.goto(address + place)
        page.wait_for_selector(".fc-hero")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert page.evaluate("document.querySelector('.stMain').scrollWidth") <= 390
