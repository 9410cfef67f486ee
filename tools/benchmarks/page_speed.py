"""How fast the page is in a real browser: opening a stored review, seeking from a click, the cursor against the clip.

``python tools/benchmarks/page_speed.py [CLIP EXERCISE]`` reviews one clip into a folder of its own, serves the page and
prints a table. Beside each time stands the time of the same browser for an empty page of the same server, or for
one picture of the clip, so that a busy machine can be told from a slow page.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.web.browser_kit import WIDE, opened_browser, served, settled  # noqa: E402

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


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", nargs="?", type=Path, default=ROOT / "clips_demo" / "lateral_raise_front_clean.mp4")
    parser.add_argument("exercise", nargs="?", default="lateral-raise")
    parser.add_argument("--runs", type=int, default=5)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, opened_browser() as browser:
        home = Path(folder)
        review(home, asked.clip.resolve(), asked.exercise)
        with served(home) as address:
            page = browser.new_page(viewport=WIDE)
            opened, empty = opening(page, address, asked.runs + 1)
            page.goto(f"{address}/?review=1")
            page.wait_for_function(READY, timeout=60_000)
            settled(page)
            rate = _rate(home)
            seeks = page.evaluate(SEEK_ALL)
            page.get_by_text("The movement over time").click()
            page.wait_for_function(f"document.querySelector('{CURVE}')?._fullLayout", timeout=60_000)
            settled(page)
            lags = page.evaluate(LAG, 6)
    picture = 1 / rate
    rows = [
        ("stored review opens, from the click in the list", statistics.median(opened[1:]), 1.0),
        ("  the first time, with the browser's cache empty", opened[0], None),
        ("  for comparison: the list itself, from a click", statistics.median(empty[1:]), None),
        ("seek from a click until the picture is shown", statistics.median(item[0] for item in seeks) / 1000, 0.2),
        ("  slowest", max(item[0] for item in seeks) / 1000, None),
        ("picture shown against the moment asked for", max(item[1] for item in seeks), picture),
        ("cursor against the picture while playing, 95 %", sorted(lags)[int(0.95 * (len(lags) - 1))], picture),
    ]
    print(f"\n{asked.clip.name}, {rate:.0f} pictures a second; machine load {os.getloadavg()[0]:.1f}\n")
    for words, value, bound in rows:
        told = "" if bound is None else f"  at most {bound:.3f} s: {'yes' if value <= bound else 'NO'}"
        print(f"{words:52} {value:7.3f} s{told}")
    print(f"cursor read {len(lags)} times")


def _rate(home: Path) -> float:
    from formcheck.storage import Store

    with Store.open(home / "reviews.sqlite") as store:
        return store.load_review(1).clip.frame_rate


if __name__ == "__main__":
    main()
