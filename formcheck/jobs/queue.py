"""The queue of the page's work: a row each in the store, a process each beside the page.

A row is added, claimed, taken up again or given up in one transaction, so a double click, a refresh or a second tab
never starts the same work twice. New reviews and suggestions for clips stand in line, and only the head of the line is
ever worked on; whoever finds the head done sets the next one going. What a person waits for at once is worked on at
once. The folder of a job holds its log and what it has drawn so far, and nothing that is read to know how it stands.
"""

import os
import shutil
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from formcheck.core.atomic_write import make_part_file
from formcheck.core.model import Review
from formcheck.core.process_memory import make_worker_environment
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home, default_store
from formcheck.storage.engine import database_file
from formcheck.storage.file_identity import expected_store
from formcheck.storage.jobs import Job, JobKind, JobRequest, JobState, JobStatus

__all__ = ["Job", "JobKind", "JobRequest", "JobState", "JobStatus"]

TRACK, CUT, DRAW_REPS, CONVERT, DRAW, CUT_OUT = (
    "Finding the lifter in every picture",
    "Finding the reps",
    "Drawing the pictures of the reps",
    "Making a film that this browser can play",
    "Drawing the skeleton into the clip",
    "Making the short clip",
)
STAGES = (TRACK, CUT)
"""What a review goes through before it can be read, in order and in the words shown."""
TRACKING_SHARE = 0.86
"""So much of a review's work is tracking, by what it cost on the machines it was tried on."""
SILENCE_S = 20.0
"""A worker whose heartbeat is older, and whose process is not there, is taken for dead."""
MOST_RESTARTS = 4
"""A job whose worker died so often is given up, so that the others get their turn."""
GIVEN_UP = "The work on this clip stopped several times without a word, so it was given up."
RETENTION_S = 7 * 24 * 3600.0
"""A job that is over tells the pace of the work, and an open tab how it ended; after so long nobody asks any more."""
_workers: list["subprocess.Popen[bytes]"] = []


@contextmanager
def open_jobs() -> Iterator[tuple[Store, str]]:
    """The store with its jobs, and the id of this data folder (StoreError)."""
    with Store.open(default_store()) as store:
        yield store, home_id(data_home(), make=store.writable)


def home_id(home: Path, *, make: bool = True) -> str:
    """What a data folder is known by among those that share a database; empty where there is none yet."""
    path = DataFolder(home).queue_id
    if make and not path.exists():
        with make_part_file(path) as part:
            part.write_text(uuid.uuid4().hex, encoding="utf-8")
            try:
                os.link(part, path)
            except OSError:  # another process was faster, or the file system knows no links
                if not path.exists():
                    part.replace(path)
    try:
        return path.read_text(encoding="utf-8")[:32]
    except FileNotFoundError:
        return ""


def start_job(request: JobRequest) -> str:
    """Start the work, or put it in line, and return its name; joins the same work where it is already under way."""
    with open_jobs() as (store, home):
        job, added = store.add_job(home, request, time.time())
        if added and not request.in_line:
            _launch(store, job)
        else:
            _advance(store, home, job)
    return job.name


def request_drawing(review_id: int, review: Review, clip_path: str) -> JobRequest:
    """What to ask for to have what a stored review lacks drawn: stills, report, and a film where it takes one."""
    view = review.view.name if review.view.origin == "given" else "auto"
    return JobRequest(clip_path, review.clip.name, review.exercise.id, view, review_id=review_id)


def find_drawing(review_id: int) -> Job | None:
    """The job under way that draws for a review, or made it and still draws for it; None when there is none."""
    jobs = (job for job in newest_jobs(limit=None) if job.request.kind == "review" and not job.status.over)
    return next((job for job in jobs if job.status.review_id == review_id), None)


def find_job(name: str) -> Job | None:
    """How a job stands; None for a name that was never given out, whatever it contains."""
    with open_jobs() as (store, home):
        return store.find_job(home, name)


def follow_job(name: str) -> Job | None:
    """How a job stands, once it, or the head of its line, was set going or taken up again where that is due."""
    with open_jobs() as (store, home):
        job = store.find_job(home, name)
        launched = None if job is None else _advance(store, home, job)
    return launched if launched is not None and launched.name == name else job


def next_in_line() -> None:
    """Set the head of the line going, or take it up again when its worker died; any number may call it at once."""
    with open_jobs() as (store, home):
        _advance(store, home, None)


def _advance(store: Store, home: str, job: Job | None) -> Job | None:
    """Start a worker where one is due, for this job or, where it stands in line or is None, for the head; that job."""
    if job is None or job.request.in_line:
        job = next(iter(store.jobs_in_line(home)), None)
    if job is None or not store.writable or _next_step(job, False) is None:
        return None  # most calls end here, and have written nothing
    changed = store.change_job(job.id, _next_step)
    if changed is None or changed.status.over:
        return None
    _launch(store, changed)
    return changed


def _next_step(job: Job, others_before: bool) -> Mapping[str, Any] | None:
    """What becomes of a job's row when somebody asks for it; None: nothing, it is over, in line or worked on."""
    now, status = time.time(), job.status
    if status.over or others_before:
        return None
    if status.state == "queued":
        return {"state": "waiting", "heartbeat_at": now}
    # The clock may have been set back meanwhile: what was written in the future is as old as what is long past.
    if abs(now - status.heartbeat_at) <= SILENCE_S or worker_lives(job):
        return None
    nobody = {"heartbeat_at": now, "claim": None, "worker_pid": None}
    if job.restarts >= MOST_RESTARTS:
        return nobody | {"state": "failed", "problem": GIVEN_UP}
    return nobody | {"state": "waiting", "stage": "Starting again", "restarts": job.restarts + 1}


def claim_job(store: Store, job: Job) -> Job | None:
    """Become the one worker of a job; None when it has one, is over or was deleted (StoreError)."""

    def claimed(found: Job, _: bool) -> Mapping[str, Any] | None:
        if found.claim is not None or found.status.over:
            return None
        mine = {"claim": uuid.uuid4().hex, "worker_pid": os.getpid()}
        return mine | {"state": "working", "stage": "Starting", "heartbeat_at": time.time()}

    return store.change_job(job.id, claimed)


def claim_review_of(look: Job) -> Job | None:
    """Become the worker of the review of a clip just looked at, where it is next in line; else None (StoreError).

    A process of its own would load again what this one holds.
    """
    with open_jobs() as (store, home):
        head = next(iter(store.jobs_in_line(home)), None)
        if look.request.kind != "look" or head is None or head.request.clip_path != look.request.clip_path:
            return None
        return claim_job(store, head)


def worker_lives(job: Job) -> bool:
    """Whether the process that claimed a job, or was started for it, is there, as far as the system tells (Linux).

    A clock that was set, a machine that slept, or one so busy that a start takes long, makes a worker seem silent.
    """
    if job.worker_pid is None:
        return False
    try:
        words = Path(f"/proc/{job.worker_pid}/cmdline").read_bytes().split(b"\0")
    except OSError:
        return False
    return b"formcheck.jobs.worker" in words  # its name may be of the look before (`claim_review_of`)


def put_away(names: list[str], away: bool = True) -> None:
    """Show jobs no more, or again (StoreError)."""
    with open_jobs() as (store, home):
        found = [store.find_job(home, name) for name in names]
        store.set_put_away([job.id for job in found if job is not None and job.put_away != away], away)


def worker_command(name: str) -> list[str]:
    """How the worker of a job is called."""
    return [sys.executable, "-m", "formcheck.jobs.worker", name]


def jobs_in_line() -> list[Job]:
    """The jobs that wait or are worked on, the one worked on first (StoreError)."""
    with open_jobs() as (store, home):
        return store.jobs_in_line(home)


def newest_jobs(limit: int | None = 30) -> list[Job]:
    """The jobs asked for last, the newest first (StoreError).

    Parameters
    ----------
    limit : so many at most; None: all.
    """
    with open_jobs() as (store, home):
        return store.list_jobs(home, limit=limit)


def clear_old_jobs(store: Store, home_id: str, home: Path, now: float) -> int:
    """Take away the jobs that ended long before `now` and that nothing asks for any more; how many they were.

    What lies ready, and what failed and was not put away, stays (StoreError when the store cannot be changed).
    """
    known = store.list_jobs(home_id)
    going = [
        job for job in known if job.status.over and now - job.status.heartbeat_at >= RETENTION_S and _is_unneeded(job)
    ]
    store.delete_jobs([job.id for job in going])
    gone, names = {job.name for job in going}, {job.name for job in known}
    for folder in DataFolder(home).jobs.glob("*"):
        # Cut off from its row long ago; a younger one may be of another store's job.
        lost = folder.name not in names and now - folder.stat().st_mtime >= RETENTION_S
        if lost or folder.name in gone:
            shutil.rmtree(folder, ignore_errors=True)
    return len(going)


def _is_unneeded(job: Job) -> bool:
    if job.request.kind == "look":
        return job.put_away or not Path(job.request.clip_path).is_file()
    return job.put_away or not (job.request.new_review and job.status.state == "failed")


def open_log(job: Job) -> BinaryIO:
    """The file in the job's folder that its worker writes to (OSError)."""
    folder = DataFolder(data_home()).job(job.name)
    folder.mkdir(parents=True, exist_ok=True)
    return (folder / "worker.log").open("ab")


def _launch(store: Store, job: Job) -> None:
    with open_log(job) as log:
        # Stored and polled so that a finished worker does not stay in the process table.
        _workers[:] = [worker for worker in _workers if worker.poll() is None]
        worker = subprocess.Popen(
            worker_command(job.name),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
            env=make_worker_environment(expected_store(database_file(store.engine.url))),
        )
        _workers.append(worker)
    store.change_job(job.id, lambda found, _: {"worker_pid": worker.pid} if found.claim is None else None)
