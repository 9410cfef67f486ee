"""The largest memory that a review's processes hold together, read from outside (Linux)."""

import resource
import subprocess
import sys
import threading
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def peak_mb(clip: Path, exercise: str) -> float:
    """Largest sum of the resident memory of a review's processes at any one time (Linux)."""
    code = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r}); from pathlib import Path; import tempfile; "
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
