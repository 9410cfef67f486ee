"""Ten visitors at once on a fresh page, against one alone: times, errors, memory of the page's process.

Usage: ``python tools/benchmarks/ten_visitors.py [--visitors 10] [--rounds 3]``. Each visitor has a browser context (own
cookies, cache and connection) in one headless Chromium; they open every page together, first on a server that nobody
visited yet. The exit code is 1 when a page or the server's log shows an error, or memory grows beyond what is allowed.
"""

import argparse
import asyncio
import json
import os
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from formcheck.pose.recording import save_recording
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from process_watch import resident_mb
from tests.web.browser_kit import ARGUMENTS, WIDE, chromium, served
from tests.web.synthetic import synthetic_analysis, synthetic_recording

PLACES = {"start": "/", "sets": "/history", "clients": "/clients", "compare": "/compare", "review": "/?review=1"}
WHOLE = """(place) => document.querySelector('h1') && (place !== 'review' || document.querySelector('.js-plotly-plot'))
    && !document.querySelector('.stApp[data-test-script-state=running]')"""
ERRORS = "[data-testid=stException], [data-testid=stAlertContentError]"
MOST_MB = 1024.0
"""What the page's process may hold after all rounds with ten visitors."""
MOST_S = 180.0


@dataclass(frozen=True, slots=True)
class Visit:
    """One page opened by one visitor."""

    place: str
    seconds: float
    errors: tuple[str, ...]


def fill(home: Path) -> None:
    """A store with a drawn set, its files, and an invented client."""
    analysis = synthetic_analysis()
    with Store.open(home / "reviews.sqlite") as store:
        for day in range(1, 9):
            made = datetime(2026, 3, day, 18, tzinfo=UTC)
            store.save_review(analysis.review, created_at=made, client="Ada Example")
    drawn = DataFolder(home).artifacts(1)
    drawn.folder.mkdir(parents=True)
    drawn.report.write_text("<!DOCTYPE html>", encoding="utf-8")
    drawn.pictures_file.write_text(json.dumps({1: "data:image/jpeg;base64,AAAA"}), encoding="utf-8")
    save_recording(synthetic_recording(analysis), drawn.recording)


async def visit(browser: Any, address: str) -> list[Visit]:
    """Every page once, in a context of its own."""
    context = await browser.new_context(viewport=WIDE)
    page = await context.new_page()
    found = []
    try:
        for place, path in PLACES.items():
            begun = time.perf_counter()
            errors: list[str] = []
            try:
                await page.goto(address + path, timeout=MOST_S * 1000)
                await page.wait_for_function(WHOLE, arg=place, timeout=MOST_S * 1000)
            except Exception as error:
                errors.append(str(error).splitlines()[0])
            taken = time.perf_counter() - begun
            errors += await page.locator(ERRORS).all_inner_texts()
            found.append(Visit(place, taken, tuple(errors)))
    finally:
        await context.close()
    return found


async def rounds(address: str, pid: int, visitors: int, count: int) -> tuple[dict[str, list[Visit]], dict[str, float]]:
    """Visits by kind of round, and memory in MB after each kind."""
    from playwright.async_api import async_playwright

    visits: dict[str, list[Visit]] = {"fresh, together": [], "alone": [], "together": []}
    memory = {"before": resident_mb(pid)}
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        for kind, times, at_once in (
            ("fresh, together", 1, visitors),
            ("alone", count, 1),
            ("together", count, visitors),
        ):
            for _ in range(times):
                made = await asyncio.gather(*(visit(browser, address) for _ in range(at_once)))
                visits[kind] += [one for each in made for one in each]
            memory[kind] = resident_mb(pid)
        await browser.close()
    return visits, memory


def server_of(address: str) -> int:
    """The process that serves an address of this machine: the one whose command line names its port."""
    port = address.rpartition(":")[2].encode()
    for place in Path("/proc").iterdir():
        if place.name.isdigit():
            words = (place / "cmdline").read_bytes().split(b"\0")
            if b"formcheck.web.launcher" in words and port in words:
                return int(place.name)
    raise SystemExit("the page's process was not found")


def main() -> int:
    """Serve, visit, print; 1 when something was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--visitors", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        home = Path(name) / "home"
        home.mkdir()
        os.environ["FORMCHECK_HOME"] = str(home)
        fill(home)
        with served(home) as address:
            visits, memory = asyncio.run(rounds(address, server_of(address), asked.visitors, asked.rounds))
        log = (home / "server.log").read_text(errors="replace")
    print(f"median seconds to a whole page, {asked.visitors} visitors, {os.cpu_count()} cores")
    print(f"{'page':10}" + "".join(f"{kind:>18}" for kind in visits) + f"{'ratio':>8}")
    for place in PLACES:
        medians = [
            statistics.median(one.seconds for one in made if one.place == place) if made else float("nan")
            for made in visits.values()
        ]
        print(f"{place:10}" + "".join(f"{value:18.2f}" for value in medians) + f"{medians[2] / medians[1]:8.1f}")
    print("memory of the page, MB: " + ", ".join(f"{kind} {value:.0f}" for kind, value in memory.items()))
    errors = [f"{one.place}: {error}" for made in visits.values() for one in made for error in one.errors]
    errors += [line for line in log.splitlines() if "Traceback" in line or "partially initialized" in line]
    print(f"{sum(map(len, visits.values()))} pages opened, {len(errors)} errors")
    for error in errors[:10]:
        print(error)
    return 1 if errors or max(memory.values()) > MOST_MB else 0


if __name__ == "__main__":
    sys.exit(main())
