"""Jobs as tests need them: rows as a worker leaves them."""

from dataclasses import asdict

from formcheck.jobs import queue
from formcheck.jobs.queue import Job, JobRequest, JobStatus, find_job, open_jobs


def job_of(name: str) -> Job:
    job = find_job(name)
    assert job is not None
    return job


def status_of(name: str) -> JobStatus:
    return job_of(name).status


def set_status(name: str, status: JobStatus, *, result: str | None = None, at: float | None = None) -> None:
    """As the job's worker would write it, now or at another time."""
    values = asdict(status) | {"heartbeat_at": queue.time.time() if at is None else at, "result": result}
    with open_jobs() as (store, _):
        assert store.change_job(job_of(name).id, lambda job, before: values) is not None


def add_job(
    request: JobRequest, status: JobStatus, at: float, *, put_away: bool = False, result: str | None = None
) -> str:
    """A job as its worker left it at a time."""
    with open_jobs() as (store, home):
        job, added = store.add_job(home, request, at)
        assert added
        values = asdict(status) | {"heartbeat_at": at, "put_away": put_away, "result": result}
        store.change_job(job.id, lambda job, before: values)
    return job.name


def claimed(name: str) -> Job:
    """The job with its claim, held by this process."""
    with open_jobs() as (store, _):
        job = queue.claim_job(store, job_of(name))
    assert job is not None
    return job


def line() -> list[str]:
    """Names of the jobs in line, the one worked on first."""
    with open_jobs() as (store, home):
        return [job.name for job in store.jobs_in_line(home)]
