"""How long the line of work will take: from what earlier work took for each second of film.

To suggest an exercise a clip is tracked; a review does not track it again where that was done, and then cuts,
converts and writes. So there are two paces, each the median of the work done last, and one gives the other where only
one is known.
"""

import statistics
from collections.abc import Sequence

from formcheck.jobs.queue import TRACKING_SHARE, Job, JobRequest, JobStatus, jobs_in_line, newest_jobs
from formcheck.storage.media_files import clip_seconds

_MEASURED = 12
"""So many pieces of work done last tell the pace."""
_SHARES = {"tracking": TRACKING_SHARE, "rest": 1 - TRACKING_SHARE}
"""The parts of a review's work."""


def line_seconds(until: str | None = None) -> float | None:
    """Seconds until the line is worked off; None while they cannot be told.

    Parameters
    ----------
    until : a job of the line: what comes after it does not count.
    """
    jobs = jobs_in_line()
    names = [job.name for job in jobs]
    if until in names:
        jobs = jobs[: names.index(until) + 1]
    done = newest_jobs(limit=200)
    scanned = {job.request.clip_path for job in (*done, *jobs) if job.request.kind == "look"}
    paces = measure_paces(done, scanned)
    total = 0.0
    for job in jobs:
        status = job.status
        left = status.seconds_left if status.state == "working" else None
        if left is None:
            film = film_seconds(job.request)
            if film is None or paces is None:
                return None
            left = film * sum(paces[part] for part in _find_parts(job, scanned)) * (1.0 - status.share)
        total += left
    return total


def measure_paces(jobs: Sequence[Job], scanned: set[str]) -> dict[str, float] | None:
    """Seconds of work for a second of film, by part, from jobs that are done and one under way; None while not known.

    Parameters
    ----------
    jobs : the newest first.
    scanned : paths of the clips that an exercise was suggested for.
    """
    found: dict[str, list[float]] = {part: [] for part in _SHARES}
    for job in jobs:
        spent = _whole_seconds(job.status)
        film = film_seconds(job.request) if job.request.in_line and spent is not None else None
        if spent is None or not film:
            continue
        parts = _find_parts(job, scanned)
        for part in parts:
            found[part].append(_SHARES[part] / sum(_SHARES[one] for one in parts) * spent / film)
    if not any(found.values()):
        return None
    known = {part: statistics.median(values[:_MEASURED]) for part, values in found.items() if values}
    per_share = next(pace / _SHARES[part] for part, pace in known.items())
    return {part: known.get(part, per_share * share) for part, share in _SHARES.items()}


def _find_parts(job: Job, scanned: set[str]) -> list[str]:
    """The parts of the work that a job does itself."""
    if job.request.kind == "look":
        return ["tracking"]
    return ["rest"] if job.request.clip_path in scanned else ["tracking", "rest"]


def film_seconds(request: JobRequest) -> float | None:
    """Length of the film of a piece of work, both cameras' together; None when a clip cannot be read."""
    lengths = [clip_seconds(clip) for clip in request.clips]
    known = [length for length in lengths if length is not None]
    return sum(known) if len(known) == len(lengths) else None


def _whole_seconds(status: JobStatus) -> float | None:
    """Seconds a piece of work took, or will have taken; None when it failed or has only begun."""
    if status.state == "done":
        return status.spent_s
    if status.state == "working" and status.spent_s is not None and status.seconds_left is not None:
        return status.spent_s + status.seconds_left
    return None
