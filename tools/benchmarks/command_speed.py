"""What the command line costs, and the page until it answers, in a store of very many reviews, against a revision.

``python tools/benchmarks/command_speed.py [--reviews N] [--against REVISION] [--repeats N]`` fills a store for each of
two programs with invented reviews, as `store_size.py` does, and runs each command in turns by both, with the packages
of this environment. Printed are wall and processor seconds, and the median of their ratios turn by turn.
"""

import argparse
import io
import os
import resource
import statistics
import subprocess
import sys
import tarfile
import tempfile
import time
import urllib.request
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BEFORE = "4e7154d7"
PORT = 8791
FILL = """
import sys
from pathlib import Path
sys.path[:0] = ["tools/benchmarks", "."]
import store_size
from formcheck.storage import Store
with Store.open(Path(sys.argv[1]) / "reviews.sqlite") as store:
    store_size.fill(store, int(sys.argv[2]))
"""
"""Run in a program's folder: each fills a store of its own schema."""
COMMANDS: dict[str, tuple[str, ...]] = {
    "formcheck --help": ("--help",),
    "formcheck exercises": ("exercises",),
    "formcheck history": ("history",),
    "formcheck history --client Ada": ("history", "--client", "Ada"),
    "formcheck history NUMBER": ("history", "20"),
    "formcheck compare NUMBER NUMBER": ("compare", "20", "40"),
}


@dataclass(frozen=True, slots=True)
class Cost:
    """Seconds."""

    wall: float
    processor: float


def run(program: Path, home: Path, *, words: tuple[str, ...]) -> Cost:
    """One command by the program in a folder."""
    environment = {**os.environ, "FORMCHECK_HOME": str(home), "PYTHONPATH": str(program)}
    used, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "formcheck", *words],
        cwd=program,
        env=environment,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Cost(time.perf_counter() - begun, now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime)


def open_page(program: Path, home: Path) -> Cost:
    """The page of the program in a folder, until it answers."""
    environment = {**os.environ, "FORMCHECK_HOME": str(home), "PYTHONPATH": str(program)}
    command = [sys.executable, "-m", "formcheck.web.launcher", "--server.port", str(PORT), "--server.headless", "true"]
    used, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    quiet = subprocess.DEVNULL
    with subprocess.Popen(command, cwd=program, env=environment, stdout=quiet, stderr=quiet) as page:
        try:
            while page.poll() is None:
                with suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{PORT}/_stcore/health", timeout=1):
                    wall = time.perf_counter() - begun
                    break
                time.sleep(0.02)
            else:
                raise SystemExit("the page did not come up")
        finally:
            page.terminate()
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    return Cost(wall, now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime)


def tell(what: str, turns: Sequence[Sequence[Cost]]) -> None:
    """One row: today's and the revision's seconds, and the median of their ratios turn by turn."""
    row = f"{what:34}"
    for which in ("wall", "processor"):
        pairs = [(getattr(now, which), getattr(before, which)) for now, before in turns]
        now, before = (statistics.median(side) for side in zip(*pairs, strict=True))
        ratio = statistics.median(a / b for a, b in pairs)
        row += f"{now:9.2f} / {before:4.2f}{ratio:9.2f}"
    print(row, flush=True)


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--reviews", type=int, default=10_000, metavar="N")
    parser.add_argument("--against", default=BEFORE, metavar="REVISION")
    parser.add_argument("--repeats", type=int, default=5, metavar="N")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        programs = {"now": ROOT, "before": folder / "before"}
        packed = subprocess.run(["git", "archive", given.against], cwd=ROOT, check=True, capture_output=True).stdout
        with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
            archive.extractall(programs["before"], filter="data")
        homes = {which: folder / f"home-{which}" for which in programs}
        for which, home in homes.items():
            home.mkdir()
            subprocess.run([sys.executable, "-c", FILL, str(home), str(given.reviews)], cwd=programs[which], check=True)
            run(programs[which], home, words=("history",))  # what is compiled or brought up to date once is paid here
        print(f"{given.reviews:,} reviews, {os.cpu_count()} cores; seconds now / at {given.against}")
        print(f"{'':34}{'wall':>16}{'ratio':>9}{'processor':>16}{'ratio':>9}")
        calls: dict[str, Callable[[Path, Path], Cost]] = {
            **{what: partial(run, words=words) for what, words in COMMANDS.items()},
            "page until it answers": open_page,
        }
        for what, call in calls.items():
            turns = [[call(programs[which], homes[which]) for which in programs] for _ in range(given.repeats)]
            tell(what, turns)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
