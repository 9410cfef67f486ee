"""``python do_job.py KIND CLIP EXERCISE``: have the page's own worker do a job, and wait for its end."""

import sys
import time
from pathlib import Path

from formcheck.jobs.queue import JobRequest, find_job, start_job


def main(kind: str, clip: str, exercise: str) -> int:
    """0 when the job was done."""
    request = JobRequest(clip, Path(clip).name, exercise, "front", kind=kind)  # type: ignore[arg-type]  # one of them
    name = start_job(request)
    while (job := find_job(name)) is not None and not job.status.over:
        time.sleep(0.2)
    sys.stdout.write(f"{job}\n")
    return 0 if job is not None and job.status.state == "done" else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
