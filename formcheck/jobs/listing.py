"""The page's jobs as lists: those in line, those asked for last; and the end of those that are long over."""

import shutil
from pathlib import Path

from formcheck.jobs.queue import Job, open_jobs
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder

KEPT_S = 7 * 24 * 3600.0
"""A job that is over tells the pace of the work, and an open tab how it ended; after so long nobody asks any more."""


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
    going = [job for job in known if job.status.over and now - job.status.heartbeat_at >= KEPT_S and _done_with(job)]
    store.delete_jobs([job.id for job in going])
    names = {job.name for job in known} - {job.name for job in going}
    for folder in DataFolder(home).jobs.glob("*"):
        # Of a job just taken away, or cut off from its row long ago; a younger one may be of another store's job.
        if folder.name not in names and now - folder.stat().st_mtime >= KEPT_S:
            shutil.rmtree(folder, ignore_errors=True)
    for job in going:
        shutil.rmtree(DataFolder(home).job(job.name), ignore_errors=True)
    return len(going)


def _done_with(job: Job) -> bool:
    if job.request.kind == "look":
        return job.put_away or not Path(job.request.clip_path).is_file()
    return job.put_away or not (job.request.new_review and job.status.state == "failed")
