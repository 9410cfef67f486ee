"""Clips without end through the page and through a batch; says whether memory, files or processes grow.

Usage: ``python tools/benchmarks/soak.py --minutes 120``. One visitor after the other opens the page in a real browser,
hands in a clip, reviews it, reads the result, looks through the other pages and leaves; beside it a batch reviews clip
after clip into the same store. Every process is watched from outside. What a kind of process takes in the last quarter
is held against the first quarter after warming up. Linux only. The browser itself is not watched.
"""

import argparse
import itertools
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import ceil
from pathlib import Path
from typing import Any

from formcheck.core.process_memory import PAGE_ENVIRONMENT
from formcheck.storage import Store
from phone_clip import small_clip
from process_watch import Growth, Watch, belonging_to
from soak_visit import EXERCISE, BrokenPageError, started, visit
from tests.web.browser_kit import chromium, free_port, wait_until_up

ROOT = Path(__file__).resolve().parents[2]

CACHE = Path(__file__).resolve().parent / ".cache"
MOST, WARM_UP = 0.05, 0.2
"""Growth after warming up that is let pass; share of the time that counts as warming up."""
A_MINUTE = 20
"""Clips a minute of soaking in the list of the batch, more than can be done: a batch lasts as long as it can."""
VISITS_A_BROWSER = 10


class Clips:
    """One clip under ever new checksums: bytes behind the last box change nothing else."""

    def __init__(self, folder: Path, seconds: float) -> None:
        self._whole = small_clip(CACHE / f"soak-{seconds:g}.mp4", seconds).read_bytes()
        self._folder, self._number = folder, itertools.count()
        folder.mkdir()

    def next(self) -> Path:
        """One more."""
        number = next(self._number)
        path = self._folder / f"set-{number:05d}.mp4"
        path.write_bytes(self._whole + b"\0\0\0\x10free" + number.to_bytes(8, "big"))
        return path


@contextmanager
def page_served(folder: Path, environment: dict[str, str]) -> Iterator[tuple[str, int]]:
    """The page on a free port; its address and process."""
    port, log = free_port(), folder / "page.log"
    command = [sys.executable, "-m", "formcheck.web.launcher", "--server.headless", "true"]
    command += ["--server.port", str(port)]
    with log.open("wb") as out:
        server = subprocess.Popen(command, cwd=ROOT, stdout=out, stderr=out, env=environment)
    try:
        wait_until_up(port, server, log)
        yield f"http://127.0.0.1:{port}", server.pid
    finally:
        server.terminate()
        server.wait(30)


class Batches:
    """A batch after the other, each in a process of its own."""

    def __init__(self, folder: Path, environment: dict[str, str], watch: Watch, clips: Clips, count: int) -> None:
        self._folder, self._environment, self._watch = folder, environment, watch
        self._clips, self._count = clips, count
        self._running: subprocess.Popen[bytes] | None = None
        self.ended: Counter[int] = Counter()

    def keep_going(self) -> None:
        """Begin the next one where there is none."""
        if self._running is not None:
            code = self._running.poll()
            if code is None:
                return
            self.ended[code] += 1
            self._watch.roots.remove(self._running.pid)
        paths = [self._clips.next() for _ in range(self._count)]
        rows = [f"{path.name},{EXERCISE}" for path in paths]
        orders = paths[0].with_suffix(".csv")
        orders.write_text("\n".join(["clip,exercise", *rows]) + "\n", encoding="utf-8")
        with (self._folder / "batch.log").open("ab") as log:
            command = [sys.executable, "-m", "formcheck", "batch", str(orders), "--processes", "1"]
            self._running = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log, env=self._environment)
        self._watch.roots.append(self._running.pid)

    def end(self) -> None:
        """As Ctrl-C does."""
        if (running := self._running) is not None:
            running.send_signal(signal.SIGINT)
            running.wait(60)


def visit_and_visit(
    browser: Callable[[], Any], address: str, clips: Clips, batches: Batches, watch: Watch, minutes: float
) -> Counter[str]:
    """One visitor after the other until the time is over; how many visits were good and how many failed."""
    from playwright.sync_api import Error

    visits, told = Counter[str](), 0.0
    while watch.now_s < 60 * minutes:
        opened = browser()  # a new one now and then: it is not what is tried here
        for _ in range(VISITS_A_BROWSER):
            if watch.now_s >= 60 * minutes:
                break
            batches.keep_going()
            try:
                choices, clicks = visit(opened, address, clips.next())
                visits.update({"choices": choices, "clicks": clicks})
                visits["good"] += 1
            except (Error, BrokenPageError) as error:
                visits["failed"] += 1
                print(f"a visit failed: {' '.join(str(error).split())[:300]}", flush=True)
            if watch.now_s - told > 300:
                told = watch.now_s
                last = {seen.kind: seen for seen in list(watch.seen)}
                sizes = ", ".join(f"{kind} {seen.rss_mb:.0f} MB" for kind, seen in sorted(last.items()))
                print(f"{told / 60:5.0f} min, {visits['good']} visits; {sizes}", flush=True)
        opened.close()
    return visits


def report(growths: list[Growth]) -> list[str]:
    """Print what grew; what grew too much."""
    bad = []
    print(f"\n{'process':14} {'figure':12} {'early':>8} {'late':>8} {'growth':>8}   processes")
    for item in growths:
        memory = item.what.endswith("MB")
        # one file or thread more at the moment of a look is no leak
        wrong = item.share > MOST and (memory or item.late - item.early > 2)
        print(
            f"{item.kind:14} {item.what:12} {item.early:8.1f} {item.late:8.1f} {item.share:8.1%}   {item.processes}"
            + ("   TOO MUCH" if wrong else "")
        )
        if wrong:
            bad.append(f"{item.kind}: {item.what} grew by {item.share:.1%}")
    return bad


def errors_of(log: str) -> list[str]:
    """The last line of each error the page's server told of."""
    plain = re.sub(r"\x1b\[[0-9;]*m", "", log)
    return re.findall(r"^\w+(?:Error|Exception|Warning|Exit)\b: .*", plain, re.MULTILINE)


def leftovers(folder: Path) -> list[str]:
    """Temporary files and processes that outlived the work."""
    found = [str(path.relative_to(folder)) for path in (folder / "tmp").rglob("*")]
    home = folder / "home"
    found += [
        str(path.relative_to(folder))
        for path in home.rglob("*")
        if path.is_file() and (path.suffix in (".part", ".tmp") or path.name.startswith("."))
    ]
    until = time.monotonic() + 60
    while (left := belonging_to(str(folder))) and time.monotonic() < until:
        time.sleep(0.5)
    return found + [f"process {pid}" for pid in left]


def soak(folder: Path, minutes: float, seconds: float) -> list[str]:
    """Run it; what went wrong."""
    from playwright.sync_api import sync_playwright

    browser_path = chromium()
    bad: list[str] = []
    # The browser gets none of this, so that its own files are not taken for ours.
    ours = {"FORMCHECK_HOME": str(folder / "home"), "TMPDIR": str(folder / "tmp"), "PYTHONPATH": str(ROOT)}
    environment = {**os.environ, **PAGE_ENVIRONMENT, **ours}
    with sync_playwright() as playwright, page_served(folder, environment) as (address, pid):
        watch = Watch([pid])
        batches = Batches(folder, environment, watch, Clips(folder / "for-batches", seconds), ceil(A_MINUTE * minutes))
        clips = Clips(folder / "for-the-page", seconds)
        watch.start()
        try:
            visits = visit_and_visit(lambda: started(playwright, browser_path), address, clips, batches, watch, minutes)
        finally:
            batches.end()
        watch.stop()
        length = watch.now_s
    warm = WARM_UP * length
    quarter = (length - warm) / 4
    bad += report(watch.growths((warm, warm + quarter), (length - quarter, length)))
    with Store.open(folder / "home" / "reviews.sqlite") as store:
        kept = store.check()
    print(
        f"\n{length / 60:.0f} minutes, {visits['good']} visits with a review ({visits['choices']} choices and "
        f"{visits['clicks']} clicks made again), {kept} reviews in the store, "
        f"batches ended {dict(batches.ended)}; at most {watch.most_at_once} processes at once, "
        f"{watch.zombies} of them ended and not yet asked after"
    )
    if wrong := errors_of((folder / "page.log").read_text(encoding="utf-8", errors="replace")):
        bad.append(f"{len(wrong)} errors of the page, the first: {wrong[0]}")
    if visits["failed"]:
        bad.append(f"{visits['failed']} visits failed")
    if any(code != 0 for code in batches.ended):
        bad.append("a batch ended wrongly")
    if left := leftovers(folder):
        bad.append(f"left behind: {', '.join(left[:10])}")
    return bad


def main() -> int:
    """Print the table; the exit code says whether anything grew too much or was left behind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=120.0)
    parser.add_argument("--seconds", type=float, default=8.0, help="length of the clips")
    options = parser.parse_args()
    signal.signal(signal.SIGINT, signal.default_int_handler)  # which a shell ignores for what it runs in the background
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # as Ctrl-C: nothing started here is left running
    folder = Path(tempfile.mkdtemp(prefix="soak-"))
    for name in ("home", "tmp"):
        (folder / name).mkdir()
    bad = soak(folder, options.minutes, options.seconds)
    print(*bad, sep="\n")
    print("FAILED" if bad else f"passed: nothing grew by more than {MOST:.0%}, nothing was left behind")
    shutil.rmtree(folder)
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
