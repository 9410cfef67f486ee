"""Kill -9 at random moments of all work that writes, the page's jobs and deletions too; prints what was lost.

Usage: ``python tools/benchmarks/kills.py [--kills 240] [--seed 1] [--only KIND ...]``. After every kill the store is
opened and checked, every acknowledged piece of work is looked for, no landmark recording may be damaged, and no process
nor piece of a film may be left behind. The batch that was killed most is run to its end: every clip then has its one
review. So has every clip of the page's jobs, but for those killed so often that they were given up,
which is told.
"""

import argparse
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
import traceback
from collections import Counter
from contextlib import closing
from pathlib import Path

import numpy as np

from formcheck.core.errors import FormcheckError
from formcheck.pose.recording import load_recording
from formcheck.services.delete import delete_marked
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from hostile_films import Film
from kills_page import PageKills, use_quick_model
from kills_work import DATA, KINDS, LATER, lost_films, reviewed, sample_store, unfinished
from process_watch import family

LONGEST_S = {
    "reviews": 8.0,
    "batches": 12.0,
    "watched": 8.0,
    "limits": 0.6,
    "comments": 0.6,
    "deletions": 0.6,
    "films": 0.6,
    "imports": 1.0,
    "backups": 0.5,
    "migrations": 0.6,
}
"""How long after the start the kill may come, or, on a busy machine, ..."""
REVIEWS_BEFORE = {"reviews": 3.0, "batches": 5.0, "watched": 3.0}
"""... so many times what one review takes."""
ENDING_S, REVIEWS_TO_END = 30.0, 5.0
"""What was started must be gone after so long, or after so many times what one review takes."""
SHARE = {
    "reviews": 4,
    "batches": 4,
    "watched": 3,
    "limits": 6,
    "comments": 3,
    "films": 3,
    "deletions": 4,
    "imports": 6,
    "backups": 3,
    "migrations": 7,
    "page": 8,
}
IN_BACKUP, IN_OLD = 5, 6


def small_clip(folder: Path) -> None:
    """A clip of two seconds."""
    frames = [np.full((64, 64, 3), 20 + 5 * step, np.uint8) for step in range(30)]
    Film(codec="mpeg4", ticks=15).write(folder, frames)


def prepare(kind: str, folder: Path) -> None:
    """What the work needs."""
    small_clip(folder)
    sample_store(folder / "backup.sqlite", IN_BACKUP)
    if kind in ("comments", "deletions", "imports", "backups"):
        sample_store(folder / "store.sqlite", IN_BACKUP)


def old_store(path: Path) -> None:
    """A store of the first schema."""
    for ending in ("", "-wal", "-shm", "-journal"):
        Path(f"{path}{ending}").unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as raw:
        raw.executescript((DATA / "store_0001.sql").read_text(encoding="utf-8"))
        raw.commit()


def one_review_s(folder: Path) -> float:
    """Seconds a review takes on a machine as busy as this one is now; most go into starting its processes."""
    with tempfile.TemporaryDirectory() as kept:
        begun = time.monotonic()
        reviewed(folder / "clip.mp4", Path(kept))
        return time.monotonic() - begun


def killed(kind: str, folder: Path, after_s: float, ending_s: float) -> tuple[list[str], bool]:
    """What the work acknowledged before it was killed, and whether a process of its was left behind."""
    reading, writing = os.pipe()
    child = os.fork()  # everything is imported already: what is killed is the work, not its start
    if child == 0:
        os.close(reading)
        try:
            with os.fdopen(writing, "w") as pipe:
                KINDS[kind](folder, lambda done: print(done, file=pipe, flush=True))
        except BaseException:
            traceback.print_exc()
        os._exit(1)
    os.close(writing)
    time.sleep(after_s)
    below = family(child)[1:]
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read().decode()
    if not os.WIFSIGNALED(status):
        raise RuntimeError(f"the work {kind} ended by itself")
    until = time.monotonic() + ending_s
    while left := [pid for pid in below if Path(f"/proc/{pid}/stat").exists()]:
        if time.monotonic() > until:
            break
        time.sleep(0.02)
    return told.split(), bool(left)


def problems(kind: str, folder: Path, acknowledged: list[str]) -> list[str]:
    """What is lost or damaged after a kill."""
    found: list[str] = []
    if kind == "films":
        return lost_films(folder, acknowledged)
    try:
        with Store.open(folder / "store.sqlite") as store:
            whole = store.check()
            if kind in ("reviews", "batches", "watched"):
                held = {str(row.id) for row in store.list_reviews(limit=10**6)}
                found += [f"review {number} lost" for number in acknowledged if number not in held]
            elif kind == "limits":
                ids = {entry.id for entry in store.limits_history("squat")}
                found += [f"limits {number} lost" for number in acknowledged if int(number) not in ids]
            elif kind == "comments":
                (row, *_) = store.list_reviews(limit=1)
                spoken = {item.id for item in store.comments_of(row.id) if item.has_voice}
                found += [f"comment {number} lost" for number in acknowledged if int(number) not in spoken]
            elif kind == "deletions":
                found += undeleted(store, folder, acknowledged)
            elif whole != (IN_OLD if kind == "migrations" else IN_BACKUP):
                found.append(f"{whole} reviews in the store")
        if kind == "backups" and (folder / "made.sqlite").exists():
            with Store.open(folder / "made.sqlite") as backup:
                backup.check()
    except FormcheckError as error:
        found.append(str(error))
    for path in (folder / "recordings").glob("*.npz"):
        try:
            load_recording(path)
        except FormcheckError as error:
            found.append(str(error))
    return found


def undeleted(store: Store, folder: Path, acknowledged: list[str]) -> list[str]:
    """What was told to be deleted and is there, what went with it, and what is left of a deletion that was killed."""
    delete_marked(store, folder, now=LATER)  # as the page does once it runs again
    held = {row.id for row in store.list_reviews(limit=10**6)}
    found = [f"review {number} was deleted and is there" for number in acknowledged if int(number) in held]
    found += [f"review {number} went with others" for number in range(1, IN_BACKUP + 1) if number not in held]
    drawn = {int(path.name) for path in DataFolder(folder).drawn.glob("*")}
    found += [f"{len(drawn - held)} folders of deleted reviews are there"] if drawn - held else []
    return found + ["a deletion was not gone on with"] * bool(store.list_reviews(marked="deletion_at"))


def page_kills(count: int, moments: random.Random) -> PageKills:
    """The page's jobs, killed so often."""
    with tempfile.TemporaryDirectory() as name:
        home = Path(name) / "home"
        home.mkdir()
        small_clip(Path(name))
        os.environ["FORMCHECK_HOME"] = str(home)
        use_quick_model()
        work = PageKills(home, Path(name) / "clip.mp4", moments)
        try:
            work.run(count)
        except RuntimeError as error:
            work.problems.append(str(error))
        return work


def main() -> int:
    """Kill, look, count; the exit code says whether anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=240)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=list(SHARE), default=list(SHARE))
    options = parser.parse_args()
    moments = random.Random(options.seed)
    lost: list[str] = []
    kills: Counter[str] = Counter()
    told: Counter[str] = Counter()
    for kind in options.only:
        share = SHARE[kind]
        if kind == "page":
            page = page_kills(-(-options.kills * share // sum(SHARE.values())), moments)
            kills[kind], told[kind] = page.kills, page.done
            lost += [f"{kind}: {problem}" for problem in page.problems]
            print(
                f"{kind:12} {kills[kind]:4} kills, {told[kind]:6} acknowledged, {len(lost)} problems so far", flush=True
            )
            continue
        folder = Path(tempfile.mkdtemp())
        prepare(kind, folder)
        reviewed(folder / "clip.mp4", folder)  # whatever is imported late is imported now
        acknowledged: list[str] = []
        one_s = one_review_s(folder)
        latest_s = max(LONGEST_S[kind], REVIEWS_BEFORE.get(kind, 0.0) * one_s)
        ending_s = max(ENDING_S, REVIEWS_TO_END * one_s)
        for _ in range(-(-options.kills * share // sum(SHARE.values()))):
            if kind == "migrations":
                old_store(folder / "store.sqlite")
            said, orphan = killed(kind, folder, moments.uniform(0, latest_s), ending_s)
            acknowledged = said if kind == "films" else acknowledged + said  # what was looked at is cleared away
            kills[kind] += 1
            told[kind] += len(said)
            lost += [f"{kind}: {problem}" for problem in problems(kind, folder, acknowledged)]
            if orphan:
                lost.append(f"{kind}: a process outlived the one that was killed")
        if kind == "batches":
            lost += [f"{kind}: {problem}" for problem in unfinished(folder)]
        print(f"{kind:12} {kills[kind]:4} kills, {told[kind]:6} acknowledged, {len(lost)} problems so far", flush=True)
        shutil.rmtree(folder)
    print(f"\n{sum(kills.values())} kills at random moments, {sum(told.values())} acknowledged, {len(lost)} problems")
    for problem in lost[:20]:
        print(problem)
    return 1 if lost else 0


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    sys.exit(main())
