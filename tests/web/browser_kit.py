"""A real browser, the page served to it, and what every page must pass in it."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.error import URLError

import pytest

ROOT = Path(__file__).resolve().parents[2]
CLIPS = ROOT / "clips_demo"
SCREENS = Path(__file__).parent / "screens"
"""Pictures of the pages for a person to look at, taken when asked for; not in version control."""
LOOK = "FORMCHECK_SCREENS"
"""Set to anything, the environment variable that asks for them."""
BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
"""The first found drives the tests; without windows, tabs and menus it takes the least time."""
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDE, NARROW = {"width": 1440, "height": 900}, {"width": 390, "height": 844}


def chromium() -> str:
    """Path of the machine's browser; skips the test where there is none."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        message = "no Chromium on this machine (Debian package: chromium)"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    return found


@contextmanager
def opened_browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        yield opened
        opened.close()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


def wait_until_up(port: int, server: "subprocess.Popen[bytes]", log: Path) -> None:
    """Wait until a page answers; fails with its log when it ends or stays silent."""
    for _ in range(480):
        assert server.poll() is None, log.read_text()
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=2):
                return
        except (URLError, OSError):
            time.sleep(0.25)
    pytest.fail("the page did not come up")


@contextmanager
def served(home: Path) -> Iterator[str]:
    """The page on a free port of this machine with its data in a folder; its address."""
    port = free_port()
    command = [sys.executable, "-m", "formcheck.web.launcher"]
    command += ["--server.port", str(port), "--server.headless", "true"]
    log = home / "server.log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            command, cwd=ROOT, stdout=out, stderr=out, env={**os.environ, "FORMCHECK_HOME": str(home)}
        )
    try:
        wait_until_up(port, server, log)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(20)


def settled(page: Any) -> None:
    """Wait until the script has run and nothing is being loaded."""
    page.wait_for_selector(".stMain", timeout=60_000)
    page.wait_for_function(
        "!document.querySelector('[data-testid=stStatusWidget], [data-testid=stSkeleton], [data-testid=stAppSkeleton]')"
        " && !document.querySelector('.stApp[data-test-script-state=running]')",
        timeout=60_000,
    )
    page.wait_for_timeout(300)


def choose_exercise(page: Any, name: str) -> None:
    """Choose the exercise of a clip that was given; a menu opened in the very moment in which it becomes known what the
    clip shows closes, and is opened again."""
    from playwright.sync_api import TimeoutError as NotThere

    for tries_left in reversed(range(4)):
        settled(page)
        page.get_by_role("combobox", name="Exercise").click()
        try:
            page.get_by_role("option", name=name, exact=True).click(timeout=15_000)
            return
        except NotThere:
            if not tries_left:
                raise


def assert_accessible(page: Any) -> None:
    """No serious or critical violation of the rules of WCAG 2.2 A and AA that a program can check."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    violations = [
        f"{item['impact']} {item['id']}: {item['nodes'][0]['html'][:300]} {item['nodes'][0]['failureSummary'][:300]}"
        for item in found
        if item["impact"] in ("serious", "critical")
    ]
    assert not violations, "\n".join(violations)


def assert_no_sideways_scrolling(page: Any) -> None:
    width = page.viewport_size["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate("document.querySelector('.stMain').scrollWidth") <= width


def save_screen(page: Any, name: str) -> None:
    """Save a picture of the whole page, as tall as it is, where somebody asked for pictures."""
    if not os.environ.get(LOOK):
        return
    SCREENS.mkdir(exist_ok=True)
    size = page.viewport_size
    height = page.evaluate("document.querySelector('.stMain').scrollHeight")
    page.set_viewport_size({"width": size["width"], "height": min(int(height) + 10, 8000)})
    page.wait_for_timeout(250)
    page.screenshot(path=str(SCREENS / f"{name}.png"))
    page.set_viewport_size(size)


def assert_page_passes(page: Any, name: str, *, leave: bool = False) -> None:
    """Wide and light, narrow and dark: the rules, and nothing beyond the edge.

    What the rules say of a width does not depend on the colours, nor the other way round: the other two combinations
    are shown only for the pictures, where somebody asked for them. The page is left wide and light, unless it is to be
    left at once.
    """
    all_pictures = bool(os.environ.get(LOOK))
    for scheme in ("light", "dark"):
        in_colours(page, scheme)
        for width, size in (("wide", WIDE), ("narrow", NARROW)):
            checked = (scheme == "light") == (width == "wide")
            if not (checked or all_pictures):
                continue
            page.set_viewport_size(size)
            settled(page)
            save_screen(page, f"{name}-{width}-{scheme}")
            assert_no_sideways_scrolling(page)
            if checked:
                assert_accessible(page)
    if not leave:
        in_colours(page, "light")
        page.set_viewport_size(WIDE)
        settled(page)


def in_colours(page: Any, scheme: str) -> None:
    """Light or dark, as the machine of whoever looks asks for."""
    shown = "dark => (getComputedStyle(document.querySelector('.stApp')).colorScheme === 'dark') === dark"
    as_it_is = page.evaluate(shown, scheme == "dark")
    page.emulate_media(color_scheme=scheme)
    if not as_it_is:
        page.wait_for_function(shown, arg=scheme == "dark", timeout=30_000)
        page.wait_for_timeout(700)  # the page notices, and makes charts and drawings anew


def at(page: Any) -> float:
    """Where the clip stands, in seconds."""
    return float(page.evaluate("document.querySelector('.st-key-fc_clip video').currentTime"))


def wait_for_moment(page: Any, seconds: float, rate: float = 25.0) -> None:
    page.wait_for_function(
        "([t, spare]) => Math.abs(document.querySelector('.st-key-fc_clip video').currentTime - t) <= spare",
        arg=[seconds, 1 / rate],
        timeout=10_000,
    )
