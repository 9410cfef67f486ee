"""Reviews that run beside the page: a folder each, a process each, a status file replaced as a whole.

A job is known by its folder. What starts it is the making of that folder, what works on it holds the
file ``claim``; both can succeed only once, so a double click, a refresh or a second tab never starts
the same work twice. The page reads ``status.json`` and nothing else.

New reviews and first looks at clips stand in a line, one file a job in the folder ``.line``, and only the head of the
line is ever worked on; whoever finds the head done sets the next one going.
"""

import hashlib
import json
import os
import re
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Literal

from formcheck.core.atomic_write import replace_file
from formcheck.core.errors import StoreError
from formcheck.core.model import ViewHint
from formcheck.core.process_memory import surroundings_for_work
from formcheck.storage.data_folder import DataFolder, default_store
from formcheck.storage.engine import database_file, store_url
from formcheck.storage.file_identity import expectation
from formcheck.storage.recording_cache import entries_of

JobState = Literal["queued", "waiting", "working", "done", "failed"]
"""``queued``: others come first; ``waiting``: its worker is starting."""
JobKind = Literal["review", "film", "placement", "look"]
"""What is to be done: review a clip or draw a review's pictures anew; draw the skeleton into the clip of a review;
judge from a short clip whether the camera stands well; say which exercise a clip probably shows."""
LOOK, CUT, CONVERT, WRITE, DRAW = (
    "Finding the lifter in every picture",
    "Cutting out the reps",
    "Getting the clip ready to play",
    "Writing the report",
    "Drawing the skeleton into the clip",
)
STAGES = (LOOK, CUT, CONVERT, WRITE)
"""What a review goes through, in order and in the words shown."""
LOOKING_SHARE = 0.74
"""So much of a review's work is looking, by what it cost on the machines it was tried on."""
SILENCE_S = 20.0
"""A worker that has not written for so long is taken for dead."""
MOST_RESTARTS = 4
"""A job whose worker died so often is given up, so that the others get their turn."""
_STARTED = "started"
_workers: list["subprocess.Popen[bytes]"] = []
_JOB_ID = re.compile(r"[0-9a-f]{20}-[0-9]{1,4}")


@dataclass(frozen=True, slots=True)
class JobRequest:
    """What to review and how."""

    clip_path: str
    clip_name: str
    exercise: str
    view: ViewHint
    load_kg: float | None = None
    target_reps: int | None = None
    review_id: int | None = None
    """A stored review whose pictures or film are to be drawn; None: a new review."""
    kind: JobKind = "review"
    """A test clip takes `view` for where the phone is meant to stand."""
    client: str | None = None
    """Whose set it is."""
    session_on: str | None = None
    """The day of the session, as in 2026-11-25; None: the day of the review."""
    second_path: str | None = None
    """The clip of a second camera."""
    second_name: str | None = None
    blur_faces: bool = False
    """Make the lifter's head unrecognisable in a film."""

    @property
    def in_line(self) -> bool:
        """Worked on after those asked for before; what a person waits for at once is not."""
        return self.kind == "look" or (self.kind == "review" and self.review_id is None)

    def key(self) -> str:
        """The same for the same work."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True).encode()).hexdigest()[:20]


@dataclass(frozen=True, slots=True)
class JobStatus:
    """How far a job is."""

    state: JobState
    stage: str = ""
    share: float = 0.0
    """0..1 of the work done."""
    seconds_left: float | None = None
    spent_s: float | None = None
    """Seconds the worker has been at it."""
    review_id: int | None = None
    problem: str | None = None
    """One sentence when it failed."""
    written_at: float = 0.0
    """When the worker last wrote, seconds since the epoch."""

    @property
    def over(self) -> bool:
        """No more work will come."""
        return self.state in ("done", "failed")

    def silent(self, now: float) -> bool:
        """Working, but not heard of for `SILENCE_S`, or written in what is the future since the clock was set back."""
        return not self.over and self.state != "queued" and abs(now - self.written_at) > SILENCE_S


def jobs_folder(home: Path) -> Path:
    """Where the jobs lie."""
    return DataFolder(home).jobs


def is_job_id(text: str) -> bool:
    """Whether a text is an id as jobs get it."""
    return _JOB_ID.fullmatch(text) is not None


def job_folder(home: Path, job_id: str) -> Path | None:
    """The folder of a job; None for an id that was never given out, whatever it contains."""
    if not is_job_id(job_id):
        return None
    folder = jobs_folder(home) / job_id
    return folder if folder.is_dir() else None


def start_job(home: Path, request: JobRequest) -> str:
    """Start the work, or put it in line, and return its id; joins the same work where it is already under way."""
    key = request.key()
    jobs_folder(home).mkdir(parents=True, exist_ok=True)
    earlier = (entry.name for entry in entries_of(jobs_folder(home), f"{key}-", "") if is_job_id(entry.name))
    number = max((int(name.rpartition("-")[2]) for name in earlier), default=0)
    if number:
        latest = f"{key}-{number}"
        status = read_status(jobs_folder(home) / latest)
        if not status.over:
            if status.silent(time.time()):
                resume_job(home, latest)
            if request.in_line and latest not in waiting_line(home):  # whoever asked was stopped before it stood there
                _stand_in_line(home, latest)
            next_in_line(home)
            return latest
    job_id = f"{key}-{number + 1}"
    folder = jobs_folder(home) / job_id
    try:
        folder.mkdir()
    except FileExistsError:
        return job_id
    write_status(folder, JobStatus("queued" if request.in_line else "waiting", stage="Starting"))
    replace_file(folder / "request.json", json.dumps(asdict(request)))
    if request.in_line:
        _stand_in_line(home, job_id)
        next_in_line(home)
    else:
        _launch(folder)
    return job_id


def waiting_line(home: Path) -> list[str]:
    """Ids of the jobs in line that are not over, the one worked on first."""
    ids: dict[str, None] = {}
    with suppress(FileNotFoundError):
        for mark in sorted(_line(home).iterdir()):
            job_id = mark.name.partition(".")[2]
            folder = job_folder(home, job_id)
            if folder is None or read_status(folder).over:
                mark.unlink(missing_ok=True)
            else:
                ids[job_id] = None
    return list(ids)


def next_in_line(home: Path) -> None:
    """Set the head of the line going, or take it up again when its worker died; any number may call it at once."""
    for job_id in waiting_line(home)[:1]:
        folder = jobs_folder(home) / job_id
        status, now = read_status(folder), time.time()
        try:
            (folder / "launched").touch(exist_ok=False)
        except FileExistsError:
            if status.state == "queued" and abs(now - status.written_at) > SILENCE_S:
                # Whoever made the mark was stopped before the worker began: from now on the silence counts.
                write_status(folder, replace(status, state="waiting"))
            elif status.silent(now):
                resume_job(home, job_id)
        else:
            write_status(folder, replace(status, state="waiting"))
            _launch(folder)


def resume_job(home: Path, job_id: str) -> bool:
    """Start a worker anew for a job whose worker died; False when it is alive, over or unknown."""
    folder = job_folder(home, job_id)
    if folder is None or not (folder / "request.json").is_file():
        return False
    status, now = read_status(folder), time.time()
    if status.over or not status.silent(now) or worker_lives(folder):
        return False
    # Of all the tabs that see the same silence, only one can make this file.
    silence = int((now - status.written_at) / SILENCE_S)
    try:
        (folder / f"taken-up-{int(status.written_at * 1000)}-{silence}").touch(exist_ok=False)
    except FileExistsError:
        return False
    if len(list(folder.glob("taken-up-*"))) > MOST_RESTARTS:
        problem = "The work on this clip stopped several times without a word, so it was given up."
        write_status(folder, JobStatus("failed", problem=problem))
        return False
    with suppress(FileNotFoundError):
        (folder / "claim").rename(folder / f"claim.{time.time_ns()}.dead")
    write_status(folder, replace(status, state="waiting", stage="Starting again"))
    _launch(folder)
    return True


def claim_job(folder: Path) -> bool:
    """Become the one worker of a job; False when it has one."""
    try:
        handle = os.open(folder / "claim", os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        return False
    with os.fdopen(handle, "w") as file:
        file.write(str(os.getpid()))
    return True


def worker_lives(folder: Path) -> bool:
    """Whether the process that claimed a job, or was started for it, is there, as far as the system tells (Linux).

    A clock that was set, a machine that slept, or one so busy that a start takes long, makes a worker seem silent.
    """
    for name in ("claim", _STARTED):
        with suppress(OSError, ValueError):
            words = Path(f"/proc/{int((folder / name).read_text())}/cmdline").read_bytes().split(b"\0")
            if b"formcheck.jobs.worker" in words and os.fsencode(folder) in words:
                return True
    return False


def note_started(folder: Path, pid: int) -> None:
    """Say which process was started for a job, before it can say so itself."""
    with suppress(FileNotFoundError):  # deleted with its client meanwhile
        (folder / _STARTED).write_text(str(pid))


def read_request(folder: Path) -> JobRequest:
    """What a job is to do. Raises OSError or ValueError when its folder is damaged."""
    loaded = json.loads((folder / "request.json").read_text(encoding="utf-8"))
    try:
        return JobRequest(**loaded)
    except TypeError as error:
        raise ValueError(str(error)) from None


def read_status(folder: Path) -> JobStatus:
    """How far a job is; a missing or damaged status counts as work not heard of."""
    try:
        return JobStatus(**json.loads((folder / "status.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return JobStatus("waiting", stage="Starting")


def write_status(folder: Path, status: JobStatus) -> None:
    """Replace the status as a whole, stamped with the time."""
    replace_file(folder / "status.json", json.dumps(asdict(replace(status, written_at=time.time()))))


def _line(home: Path) -> Path:
    return jobs_folder(home) / ".line"


def _stand_in_line(home: Path, job_id: str) -> None:
    _line(home).mkdir(exist_ok=True)
    # Behind all others, also when the clock was set back meanwhile.
    last = max((int(mark.name.partition(".")[0]) for mark in _line(home).iterdir()), default=0)
    (_line(home) / f"{max(time.time_ns(), last + 1):020d}.{job_id}").touch()


def _launch(folder: Path) -> None:
    with (folder / "worker.log").open("ab") as log:
        # Kept and polled so that a finished worker does not stay in the process table.
        _workers[:] = [worker for worker in _workers if worker.poll() is None]
        worker = subprocess.Popen(
            [sys.executable, "-m", "formcheck.jobs.worker", str(folder)],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
            env=surroundings_for_work(_expected_store()),
        )
        _workers.append(worker)
    note_started(folder, worker.pid)


def _expected_store() -> dict[str, str]:
    """Lets a worker refuse a store that is not the one this process has open."""
    with suppress(StoreError):
        file = database_file(store_url(default_store()))
        if file is not None:
            return expectation(file)
    return {}
