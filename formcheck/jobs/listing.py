"""The page's jobs as lists: those in line, those asked for last; and the end of those that are long over."""

import heapq
import os
import shutil
from contextlib import suppress
from pathlib import Path

from formcheck.jobs.queue import (
    JobRequest,
    JobStatus,
    is_job_id,
    jobs_folder,
    read_request,
    read_status,
    waiting_line,
)
from formcheck.storage import Store
from formcheck.storage.client_files import PUT_AWAY
from formcheck.storage.recording_cache import entries_of

KEPT_S = 7 * 24 * 3600.0
"""A job that is over tells the pace of the work, and an open tab how it ended; after so long nobody asks any more."""

Job = tuple[str, JobRequest, JobStatus]


def jobs_in_line(home: Path) -> list[Job]:
    """The jobs that wait or are worked on, the one worked on first; those whose request cannot be read are left out."""
    return [job for name in waiting_line(home) if (job := _job(jobs_folder(home) / name)) is not None]


def newest_jobs(home: Path, limit: int | None = 30) -> list[Job]:
    """The jobs asked for last, the newest first; those whose request cannot be read are left out.

    Parameters
    ----------
    limit : so many at most; None: all.
    """
    asked = ((_written_at(entry.path, "request.json"), entry.path) for entry in _folders(home))
    known = (item for item in asked if item[0])
    newest = sorted(known, reverse=True) if limit is None else heapq.nlargest(limit, known)
    return [job for _, path in newest if (job := _job(Path(path))) is not None]


def clear_old_jobs(home: Path, store: Store, now: float) -> int:
    """Take away the jobs that ended long before `now` and that nothing asks for any more; how many they were.

    What lies ready, and what failed and was not put away, stays. So does a job of a review that this store does not
    know: it is all that tells of a review in another one (StoreError when the store cannot be read).
    """
    gone = 0
    for entry in list(_folders(home)):
        if now - _written_at(entry.path, "status.json") / 1e9 < KEPT_S:
            continue
        folder = Path(entry.path)
        status = read_status(folder)
        if not status.over:
            continue
        with suppress(OSError):
            if _done_with(folder, status, store):
                _take_away(folder)
                gone += 1
    return gone


def _done_with(folder: Path, status: JobStatus, store: Store) -> bool:
    try:
        request = read_request(folder)
    except (FileNotFoundError, ValueError):
        return True  # its deletion was cut off, or it cannot be read: nothing shows it
    put_away = (folder / PUT_AWAY).exists()
    if request.kind == "look":
        return put_away or not Path(request.clip_path).is_file()
    if request.in_line and status.state == "failed":
        return put_away
    reviews = {number for number in (request.review_id, status.review_id) if number is not None}
    return all(store.list_reviews(review_id=number) for number in reviews)


def _take_away(folder: Path) -> None:
    """Delete a job's folder, the status last: cut off in between, it is still known to be over."""
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        elif path.name != "status.json":
            path.unlink(missing_ok=True)
    shutil.rmtree(folder)


def _folders(home: Path) -> list["os.DirEntry[str]"]:
    return [entry for entry in entries_of(jobs_folder(home), "", "") if is_job_id(entry.name)]


def _job(folder: Path) -> Job | None:
    with suppress(OSError, ValueError):
        return folder.name, read_request(folder), read_status(folder)
    return None


def _written_at(folder: str, name: str) -> int:
    """When a file of a job was written, in nanoseconds; 0 where there is none."""
    try:
        return os.stat(os.path.join(folder, name)).st_mtime_ns  # noqa: PTH116, PTH118  # a Path each is slow
    except OSError:
        return 0
