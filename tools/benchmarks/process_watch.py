"""Watches processes from outside (Linux): memory, open files, children, over minutes and hours; says what grew, and the
largest memory that a review's processes hold together.
"""

import resource
import statistics
import subprocess
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

KINDS: Mapping[str, str] = {
    "formcheck.sandbox.worker": "clip process",
    "formcheck.jobs.worker": "job worker",
    "formcheck.cli.batch": "batch",
    "formcheck batch": "batch",
    "multiprocessing.spawn": "batch worker",
    "multiprocessing.resource_tracker": "batch helper",
    "formcheck.web.launcher": "page",
}
"""A piece of a process's command line → what it is called here; the first that fits counts."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One process at one moment."""

    at_s: float
    pid: int
    kind: str
    own_mb: float
    """Memory it asked for itself (anonymous pages): what a leak adds to, however many others share its libraries."""
    rss_mb: float
    """All it holds, libraries included."""
    open_files: int
    threads: int


@dataclass(frozen=True, slots=True)
class Growth:
    """A figure of one kind of process early on and at the end."""

    kind: str
    what: str
    early: float
    late: float
    processes: int
    """How many were seen in the two stretches together."""

    @property
    def share(self) -> float:
        """Growth as a share of the early figure."""
        return self.late / self.early - 1 if self.early > 0 else 0.0


@dataclass
class Watch:
    """Looks at all descendants of some processes every few seconds until it is stopped."""

    roots: list[int]
    every_s: float = 5.0
    clock: Callable[[], float] = time.monotonic
    seen: list[Seen] = field(default_factory=list)
    zombies: int = 0
    """The most ended processes nobody had asked after at one time."""
    most_at_once: int = 0

    def __post_init__(self) -> None:
        self._over = threading.Event()
        self._begun = self.clock()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self) -> None:
        """Look no more."""
        self._over.set()
        self._thread.join()

    @property
    def now_s(self) -> float:
        """Seconds since the watch was made."""
        return self.clock() - self._begun

    def _run(self) -> None:
        while not self._over.wait(self.every_s):
            self.look()

    def look(self) -> None:
        """One look at every process."""
        pids = list(dict.fromkeys(pid for root in list(self.roots) for pid in family(root)))
        found = [seen for pid in pids if (seen := look_at(pid, self.now_s)) is not None]
        self.seen += found
        self.zombies = max(self.zombies, sum(state_of(pid) == "Z" for pid in pids))
        self.most_at_once = max(self.most_at_once, len(found))

    def growths(self, early: tuple[float, float], late: tuple[float, float]) -> list[Growth]:
        """What each kind took in two stretches of time, seconds since the watch was made."""
        out = []
        for kind in sorted({seen.kind for seen in self.seen}):
            mine = [seen for seen in self.seen if seen.kind == kind]
            for what, read in FIGURES.items():
                before, after = _typical(mine, early, read), _typical(mine, late, read)
                if before and after:
                    lasting = len({seen.pid for seen in mine}) == 1
                    whole = min if what in AT_REST else statistics.median
                    taken = whole if lasting else percentile_90
                    count = 1 if lasting else len(before) + len(after)
                    out.append(Growth(kind, what, taken(before), taken(after), count))
        return out


FIGURES: Mapping[str, Callable[[Seen], float]] = {
    "own, MB": lambda seen: seen.own_mb,
    "RSS, MB": lambda seen: seen.rss_mb,
    "open files": lambda seen: seen.open_files,
    "threads": lambda seen: seen.threads,
}
AT_REST = frozenset({"open files", "threads"})
"""Figures of a process that lasts taken where they are smallest: a clip being read is no file left open."""


def percentile_90(values: Sequence[float]) -> float:
    """What one in ten exceeds; of work of several sorts the largest sort, whatever the shares of the others."""
    return statistics.quantiles(values, n=10, method="inclusive")[8] if len(values) > 1 else values[0]


def _typical(seen: list[Seen], span: tuple[float, float], read: Callable[[Seen], float]) -> list[float]:
    """Every figure of a process that lasts; of those that come and go the largest of each."""
    lasting = len({item.pid for item in seen}) == 1
    inside = [item for item in seen if span[0] <= item.at_s < span[1]]
    if lasting:
        return [read(item) for item in inside]
    largest: dict[int, float] = defaultdict(float)
    for item in inside:
        largest[item.pid] = max(largest[item.pid], read(item))
    return list(largest.values())


def look_at(pid: int, at_s: float) -> Seen | None:
    """A process as it is now; None when it has ended, is none of ours, or is not yet what it was started for."""
    place = Path(f"/proc/{pid}")
    try:
        words = _command(place)
        kind = next((name for piece, name in KINDS.items() if piece in words), None)
        # Just started, a process is a copy of its parent until it begins its own program.
        if kind is None or words == _command(Path(f"/proc/{_status(pid)[1]}")):
            return None
        lines = (place / "smaps_rollup").read_text().splitlines()[1:]
        memory = {line.split()[0].rstrip(":"): int(line.split()[1]) for line in lines}
        files = len(list((place / "fd").iterdir()))
        threads = len(list((place / "task").iterdir()))
    except (OSError, ValueError, IndexError):
        return None
    return Seen(at_s, pid, kind, memory["Anonymous"] / 1024, memory["Rss"] / 1024, files, threads)


def state_of(pid: int) -> str:
    """The letter the system gives a process's state; empty when it is gone."""
    try:
        return _status(pid)[0]
    except (OSError, IndexError):
        return ""


def _status(pid: int) -> list[str]:
    """What the system says of a process: its state, its parent, and more."""
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()


def _command(place: Path) -> str:
    return (place / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")


def belonging_to(mark: str) -> list[int]:
    """Processes whose environment holds a text, such as the folder made for them."""
    found = []
    for place in Path("/proc").iterdir():
        try:
            if place.name.isdigit() and mark.encode() in (place / "environ").read_bytes():
                found.append(int(place.name))
        except OSError:
            continue
    return [pid for pid in found if state_of(pid) not in ("", "Z")]


def peak_mb(clip: Path, exercise: str) -> float:
    """Largest sum of the resident memory of a review's processes at any one time (Linux)."""
    code = (
        "import sys; from pathlib import Path; import tempfile; "
        "from formcheck.services.pipeline import review_clip; from formcheck.exercises.registry import get_exercise; "
        f"review_clip(Path(sys.argv[1]), get_exercise({exercise!r}), cache_dir=Path(tempfile.mkdtemp()), processes=2)"
    )
    running = subprocess.Popen([sys.executable, "-c", code, str(clip)])
    peak, over = 0.0, threading.Event()

    def watch() -> None:
        nonlocal peak
        while not over.wait(0.05):
            peak = max(peak, sum(resident_mb(pid) for pid in family(running.pid)))

    watcher = threading.Thread(target=watch)
    watcher.start()
    failed = running.wait()
    over.set()
    watcher.join()
    if failed:
        raise SystemExit("the review failed")
    return peak


def family(pid: int) -> list[int]:
    """A process and everything it started."""
    try:
        tasks = list(Path(f"/proc/{pid}/task").iterdir())
        young = [int(child) for task in tasks for child in (task / "children").read_text().split()]
    except OSError:
        return []
    return [pid, *(descendant for child in young for descendant in family(child))]


def resident_mb(pid: int) -> float:
    """Resident memory of a process."""
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * resource.getpagesize() / 1024**2
    except (OSError, IndexError):
        return 0.0
