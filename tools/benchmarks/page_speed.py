"""How fast the page is in a real browser: opening a review and the example, findings of a new one, seeks, the cursor.

``python tools/benchmarks/page_speed.py [CLIP EXERCISE]`` reviews one clip into a folder of its own, serves the page,
reviews the clip there some times more, each time as a file it has not seen, and prints a table of medians. Beside some
times stands the time of the same browser for an empty page of the same server, or for one picture of the clip, so
that a busy machine can be told from a slow page; `--only` leaves parts out.
"""

import argparse
import hashlib
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, NamedTuple

from formcheck.exercises.registry import get_exercise
from formcheck.storage.recording_cache import recording_files
from formcheck.web.review.example import CLIP as EXAMPLE
from tests.web.browser_kit import WIDE, choose_exercise, opened_browser, served, settled

ROOT = Path(__file__).resolve().parents[2]

VIDEO = "document.querySelector('.st-key-fc_clip video')"
CURVE = "[class*=st-key-curve_] .js-plotly-plot"
TREND = ".st-key-trend_chart .js-plotly-plot"
READY = (
    f"{VIDEO}?.readyState >= 2 && document.querySelector('.fc-rep') && document.querySelector('{TREND}')?._fullLayout"
)
SEEK = f"""async (element) => {{
  const clip = {VIDEO}; const wanted = parseFloat(element.dataset.t);
  const begun = performance.now();
  const shown = new Promise((done) => {{ clip.requestVideoFrameCallback((now, picture) => done(picture.mediaTime)); }});
  element.click();
  const moment = await shown;
  return [performance.now() - begun, Math.abs(moment - wanted)];
}}"""
SEEK_ALL = f"""async () => {{
  const one = {SEEK}; const all = [];
  for (const element of document.querySelectorAll('.fc-rep, .fc-finding .fc-seek')) {{
    if (!element.getClientRects().length) continue;
    const clip = {VIDEO}; clip.currentTime = 0;
    await new Promise((done) => setTimeout(done, 500));
    all.push(await one(element));
  }}
  return all;
}}"""
LAG = f"""async (seconds) => {{
  const clip = {VIDEO}; const plot = document.querySelector('[class*=st-key-curve_] .js-plotly-plot');
  const size = plot._fullLayout._size; const axis = plot._fullLayout.xaxis; const off = [];
  clip.currentTime = 1; await new Promise((done) => clip.addEventListener('seeked', done, {{ once: true }}));
  const until = performance.now() + seconds * 1000;
  await clip.play();
  await new Promise((done) => {{
    const look = (now, picture) => {{
      const line = plot.querySelector('.fc-cursor');
      setTimeout(() => off.push(Math.abs(axis.p2l(parseFloat(line.style.left) - size.l) - picture.mediaTime)), 0);
      if (performance.now() < until) clip.requestVideoFrameCallback(look); else done();
    }};
    clip.requestVideoFrameCallback(look);
  }});
  clip.pause();
  return off;
}}"""


def review(home: Path, clip: Path, exercise: str) -> None:
    """Let the page's own worker review the clip into the folder."""
    script = (
        "import sys; from pathlib import Path; from formcheck.jobs import queue, worker;"
        "queue._launch = lambda store, job: None;"
        "job = queue.start_job(queue.JobRequest(sys.argv[1], Path(sys.argv[1]).name, sys.argv[2], 'auto'));"
        "sys.exit(worker.main([job]))"
    )
    subprocess.run(
        [sys.executable, "-c", script, str(clip), exercise],
        cwd=ROOT,
        env={**os.environ, "FORMCHECK_HOME": str(home)},
        check=True,
        stderr=subprocess.DEVNULL,
    )


def opening(page: Any, address: str, runs: int) -> tuple[list[float], list[float]]:
    """Seconds from the click on a stored review to a page one can read and play; seconds of a page without content."""
    opened, empty = [], []
    for _ in range(runs):
        page.goto(f"{address}/history")
        page.locator("[data-open]").wait_for()
        settled(page)
        begun = time.perf_counter()
        page.locator("[data-open]").click()
        page.wait_for_function(READY, timeout=60_000)
        opened.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        page.get_by_role("link", name="Reviewed sets").click()
        page.locator("[data-open]").wait_for()
        empty.append(time.perf_counter() - begun)
    return opened, empty


def install_example(home: Path) -> None:
    """Put the example of the start page into a folder, by the command that sets formcheck up."""
    shown = home / "shown"
    shown.mkdir(parents=True)
    for shipped in (ROOT / "clips_demo").glob(f"{EXAMPLE}.*"):
        shutil.copy(shipped, shown)
    subprocess.run(
        [sys.executable, "-m", "formcheck", "demo", "--clips", str(shown)],
        cwd=ROOT,
        env={**os.environ, "FORMCHECK_HOME": str(home)},
        check=True,
        stdout=subprocess.DEVNULL,
    )


def opening_example(browser: Any, home: Path, runs: int, after_s: float) -> list[float]:
    """Seconds from the click on the example to a page one can read and play, each by a server and browser just
    started; `after_s` seconds after the start page was shown."""
    opened = []
    for _ in range(runs):
        with served(home) as address, browser.new_context(viewport=WIDE) as fresh:
            page = fresh.new_page()
            page.goto(address)
            settled(page)
            page.wait_for_timeout(1000 * after_s)
            button = page.get_by_role("button", name="Open the example")
            button.wait_for()
            begun = time.perf_counter()
            button.click()
            page.wait_for_function(READY, timeout=60_000)
            opened.append(time.perf_counter() - begun)
    return opened


class Reviewed(NamedTuple):
    """One review made on the page."""

    after_start_s: float
    """From the press of the start button until findings are seen."""
    after_landmarks_s: float
    """From the moment on at which the landmarks lie on the disk."""


def reviewing(page: Any, address: str, home: Path, clip: Path, exercise: str, runs: int) -> list[Reviewed]:
    """The clip given to the page and started at once, each time under another checksum."""
    times = []
    for number in range(runs):
        film = home / f"set-{number}{clip.suffix}"
        film.write_bytes(clip.read_bytes() + b"\0\0\0\x10free" + number.to_bytes(8, "big"))
        page.goto(address)
        page.wait_for_selector("input[type=file]", state="attached")
        page.set_input_files("input[type=file]", str(film))
        page.locator(".fc-clip").wait_for(timeout=60_000)
        choose_exercise(page, get_exercise(exercise).name)
        if page.get_by_role("checkbox", name="I have read the cautions").count():
            page.get_by_text("I have read the cautions").click()
        settled(page)
        begun = time.time()
        page.get_by_role("button", name="Review the set", exact=True).click()
        page.locator(".fc-rep").first.wait_for(timeout=900_000)
        seen = time.time()
        checksum = hashlib.sha256(film.read_bytes()).hexdigest()
        landmarks = max(path.stat().st_mtime for path in recording_files(checksum, home / "recordings"))
        times.append(Reviewed(seen - begun, seen - landmarks))
        page.wait_for_function(READY, timeout=300_000)
    return times


READ_S = 3.0
"""So long a person looks at the start page at least."""
PARTS = ("opening", "example", "reviewing", "seeking")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", nargs="?", type=Path, default=ROOT / "clips_demo" / "lateral_raise_front_clean.mp4")
    parser.add_argument("exercise", nargs="?", default="lateral-raise")
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS))
    asked = parser.parse_args()
    rows: list[tuple[str, float, float | None]] = []
    notes = []
    with tempfile.TemporaryDirectory() as folder, opened_browser() as browser:
        home = Path(folder)
        review(home, asked.clip.resolve(), asked.exercise)
        rate, length_s = read_clip(home)
        if "example" in asked.only:
            set_up = home / "set-up"
            install_example(set_up)
            read_s, at_once_s = (
                statistics.median(opening_example(browser, set_up, asked.runs, after_s)) for after_s in (READ_S, 0.0)
            )
            rows += [
                (f"example opens the first time, {READ_S:g} s after the start page", read_s, 1.0),
                ("  clicked at once, while the page still fetches its charts", at_once_s, None),
            ]
        with served(home) as address:
            page = browser.new_page(viewport=WIDE)
            page.set_default_timeout(60_000)
            if "opening" in asked.only:
                opened, empty = opening(page, address, asked.runs + 1)
                rows += [
                    ("stored review opens, from the click in the list", statistics.median(opened[1:]), 0.6),
                    ("  the first time, with the browser's cache empty", opened[0], None),
                    ("  for comparison: the list itself, from a click", statistics.median(empty[1:]), None),
                ]
            if "seeking" in asked.only:
                more, told = seeking(page, address, 1 / rate)
                rows += more
                notes.append(told)
            if "reviewing" in asked.only:
                made = reviewing(page, address, home, asked.clip.resolve(), asked.exercise, asked.runs)
                after_landmarks = statistics.median(item.after_landmarks_s for item in made)
                after_start = statistics.median(item.after_start_s for item in made)
                rows += [
                    ("findings seen once the landmarks are there", after_landmarks, 2.0),
                    ("findings seen after the start button", after_start, 0.6 * length_s),
                ]
                notes.append(f"that is {after_start / length_s:.2f} of the clip's {length_s:.1f} s")
    print(f"\n{asked.clip.name}, {rate:.0f} pictures a second; machine load {os.getloadavg()[0]:.1f}\n")
    for words, value, bound in rows:
        told = "" if bound is None else f"  at most {bound:.3f} s: {'yes' if value <= bound else 'NO'}"
        print(f"{words:58} {value:7.3f} s{told}")
    for note in notes:
        print(note)


def seeking(page: Any, address: str, picture: float) -> tuple[list[tuple[str, float, float | None]], str]:
    """Seeks from clicks and the cursor while the clip plays; `picture` is how long one picture lasts, seconds."""
    page.goto(f"{address}/?review=1")
    page.wait_for_function(READY, timeout=60_000)
    settled(page)
    seeks = page.evaluate(SEEK_ALL)
    page.get_by_text("The movement over time").click()
    page.wait_for_function(f"document.querySelector('{CURVE}')?._fullLayout", timeout=60_000)
    settled(page)
    lags = page.evaluate(LAG, 6)
    return [
        ("seek from a click until the picture is shown", statistics.median(item[0] for item in seeks) / 1000, 0.2),
        ("  slowest", max(item[0] for item in seeks) / 1000, None),
        ("picture shown against the moment asked for", max(item[1] for item in seeks), picture),
        ("cursor against the picture while playing, 95 %", sorted(lags)[int(0.95 * (len(lags) - 1))], picture),
    ], f"cursor read {len(lags)} times"


def read_clip(home: Path) -> tuple[float, float]:
    """Pictures a second and seconds of the clip that was reviewed."""
    from formcheck.storage import Store

    with Store.open(home / "reviews.sqlite") as store:
        clip = store.load_review(1).clip
    return clip.frame_rate, clip.duration_s


if __name__ == "__main__":
    main()
