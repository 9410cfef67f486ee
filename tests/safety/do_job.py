"""``python do_job.py KIND CLIP EXERCISE``: have the page's own worker do a job, and wait for its end."""

import sys
import time
from pathlib import Path

from formcheck.jobs.queue import JobRequest, jobs_folder, read_status, start_job
from formcheck.storage.data_folder import data_home


def main(kind: str, clip: str, exercise: str) -> int:
    """0 when the job was done."""
    request = JobRequest(clip, Path(clip).name, exercise, "front", kind=kind)  # type: ignore[arg-type]  # one of them
    folder = jobs_folder(data_home()) / start_job(data_home(), request)
    while not (status := read_status(folder)).over:
        time.sleep(0.2)
    sys.stdout.write(f"{status}\n")
    return 0 if status.state == "done" else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
