"""How long the line of work will take: from what earlier work took for each second of film.

A first look finds the lifter in every picture; a review finds nobody anew where there was a first look, and then cuts,
converts and writes. So there are two paces, each the median of the work done last, and one gives the other where only
one is known.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from formcheck.jobs.listing import jobs_in_line, newest_jobs
from formcheck.jobs.queue import LOOKING_SHARE, Job, JobRequest, JobStatus
from formcheck.storage.media_files import clip_seconds

_MEASURED = 12
"""So many pieces of work done last tell the pace."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Seconds of work for a second of film; None while not known."""

    look: float | None
    rest: float | None

    def of(self, request: JobRequest, looked_at: bool) -> float | None:
        """For one piece of work."""
        if self.look is None or self.rest is None:
            return None
        looking = 0.0 if looked_at else self.look
        return self.look if request.kind == "look" else looking + self.rest


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
    looks = {job.request.clip_path for job in (*done, *jobs) if job.request.kind == "look"}
    pace = measured(done, looks)
    total = 0.0
    for job in jobs:
        request, status = job.request, job.status
        left = status.seconds_left if status.state == "working" else None
        if left is None:
            film, each = film_seconds(request), pace.of(request, request.clip_path in looks)
            if film is None or each is None:
                return None
            left = film * each * (1.0 - status.share)
        total += left
    return total


def measured(jobs: Sequence[Job], looks: set[str]) -> Pace:
    """The pace of jobs that are done, and of one under way.

    Parameters
    ----------
    jobs : the newest first.
    looks : paths of the clips that had a first look.
    """
    found: dict[str, list[float]] = {"look": [], "rest": []}
    for job in jobs:
        request, spent = job.request, _whole(job.status)
        if not request.in_line or spent is None:
            continue
        film = film_seconds(request)
        if not film:
            continue
        if request.kind == "look":
            found["look"].append(spent / film)
        elif request.clip_path in looks:
            found["rest"].append(spent / film)
        else:
            found["look"].append(LOOKING_SHARE * spent / film)
            found["rest"].append((1 - LOOKING_SHARE) * spent / film)
    look, rest = (statistics.median(values[:_MEASURED]) if values else None for values in found.values())
    more = (1 - LOOKING_SHARE) / LOOKING_SHARE
    return Pace(
        look if look is not None else None if rest is None else rest / more,
        rest if rest is not None else None if look is None else look * more,
    )


def film_seconds(request: JobRequest) -> float | None:
    """Length of the film of a piece of work, both cameras' together; None when a clip cannot be read."""
    lengths = [clip_seconds(clip) for clip in request.clips]
    known = [length for length in lengths if length is not None]
    return sum(known) if len(known) == len(lengths) else None


def _whole(status: JobStatus) -> float | None:
    """Seconds a piece of work took, or will have taken; None when it failed or has only begun."""
    if status.state == "done":
        return status.spent_s
    if status.state == "working" and status.spent_s is not None and status.seconds_left is not None:
        return status.spent_s + status.seconds_left
    return None
