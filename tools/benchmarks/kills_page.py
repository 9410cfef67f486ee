"""Kill -9 at random moments of the page's jobs; used by `kills.py`, and as a program the job's worker itself.

A worker is started as the page starts it, but looks with a pose model that costs nothing. The line of jobs is worked
off while whoever works on its head is killed again and again, now and then so often that the job is given up.
"""

import os
import random
import signal
import sys
import time
from contextlib import suppress
from pathlib import Path

from formcheck.core.atomic_write import STALE_AFTER_S
from formcheck.core.errors import FormcheckError
from formcheck.jobs import queue
from formcheck.jobs.background_tasks import request_excerpt
from formcheck.jobs.queue import JobRequest, JobStatus, find_job, jobs_in_line, next_in_line, start_job, worker_lives
from formcheck.services.excerpt import ExcerptWish
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder
from kills_work import EXERCISE, another_clip
from process_watch import family

SILENCE_S = 3.0
"""In the place of the page's 20 s: a worker is known to be dead sooner, and more kills fit into the time."""
PATIENCE_S = 300.0
"""A job that has not moved for so long is stuck."""
ENDING_S = 30.0
"""What a killed worker had started must be gone after so long, or after five times what a job takes."""
MOST_KILLS = 6
"""Of one job: one more than it takes to have it given up."""


def worker_command(name: str) -> list[str]:
    """As `queue.worker_command`, with this file as the worker."""
    return [sys.executable, __file__, "formcheck.jobs.worker", name]


def reap() -> None:
    """Take note of ended workers, so that none stays in the process table."""
    with suppress(ChildProcessError):
        while os.waitpid(-1, os.WNOHANG)[0]:
            pass


class PageKills:
    """A line of jobs in a data folder of its own, killed and watched.

    Parameters
    ----------
    home : the data folder; the variable FORMCHECK_HOME must name it.
    clip : what the jobs review, each under another checksum.
    """

    def __init__(self, home: Path, clip: Path, moments: random.Random) -> None:
        self._home, self._whole, self._moments = home, clip.read_bytes(), moments
        self._longest_s = 0.0
        self.kills = 0
        self.problems: list[str] = []
        self.asked: list[str] = []
        self.ended: dict[str, JobStatus] = {}

    def run(self, kills: int) -> None:
        """Kill so often, at moments up to what a job takes by itself, then let the line come to its end."""
        begun = time.monotonic()
        self._ask()
        self._work_off()
        self._longest_s = time.monotonic() - begun
        while self.kills < kills:
            self._ask()
            for _ in range(min(self._moments.randrange(MOST_KILLS + 1), kills - self.kills)):
                if not jobs_in_line():
                    break
                self._kill_one()
                self._look()
            self._work_off()
            self._kill_excerpt(kills)
        self._an_hour_later()
        self._at_the_end()

    def _ask(self) -> None:
        clip = self._home / "clips" / f"clip-{len(self.asked):03d}.mp4"
        clip.parent.mkdir(exist_ok=True)
        another_clip(self._whole, clip, len(self.asked))
        self.asked.append(start_job(JobRequest(str(clip), clip.name, EXERCISE, "auto")))

    def _worker(self) -> int | None:
        """The process that holds the claim of the head of the line, as soon as there is one."""
        until = time.monotonic() + PATIENCE_S
        while line := jobs_in_line():
            next_in_line()
            reap()
            head = line[0]
            if head.claim is not None and worker_lives(head):
                return head.worker_pid
            if time.monotonic() > until:
                self.problems.append(f"job {head.name} is stuck: {head.status}")
                raise RuntimeError("the line does not move")
            time.sleep(0.1)
        return None

    def _kill_one(self) -> None:
        pid = self._worker()
        if pid is None:
            return
        time.sleep(self._moments.uniform(0.0, self._longest_s))
        below = family(pid)[1:]
        with suppress(ProcessLookupError):  # it was quicker than this moment
            os.kill(pid, signal.SIGKILL)
            self.kills += 1
        until = time.monotonic() + max(ENDING_S, 5 * self._longest_s)
        while left := [one for one in below if Path(f"/proc/{one}/stat").exists()]:
            reap()
            if time.monotonic() > until:
                self.problems.append(f"{len(left)} processes outlived a worker that was killed")
                break
            time.sleep(0.02)

    def _kill_excerpt(self, kills: int) -> None:
        """Have a part of the newest review cut out, its worker killed now and then; it is there in the end, once."""
        with Store.open(self._home / "reviews.sqlite") as store:
            row = next(iter(store.list_reviews(limit=1)), None)
            review = None if row is None else store.load_review(row.id)
        if row is None or review is None or row.clip_path is None:
            return
        wish = ExcerptWish(at_s=1.0, skeleton=False)
        job = start_job(request_excerpt(row.id, review, row.clip_path, wish))
        for _ in range(min(self._moments.randrange(queue.MOST_RESTARTS), kills - self.kills)):
            time.sleep(self._moments.uniform(0.0, self._longest_s / 2))
            found = find_job(job)
            if found is None or found.status.over or found.worker_pid is None:
                break
            with suppress(ProcessLookupError):
                os.kill(found.worker_pid, signal.SIGKILL)
                self.kills += 1
        until = time.monotonic() + PATIENCE_S
        while (found := queue.follow_job(job)) is not None and not found.status.over:
            reap()
            if time.monotonic() > until:
                self.problems.append(f"excerpt {job} is stuck: {found.status}")
                return
            time.sleep(0.1)
        out = DataFolder(self._home).excerpt(job)
        if found is None or found.status.state != "done":
            self.problems.append(f"excerpt {job} was not made: {found and found.status}")
        elif [path.name for path in out.parent.iterdir()] != [out.name]:
            self.problems.append(f"excerpt {job} left {sorted(path.name for path in out.parent.iterdir())}")

    def _work_off(self) -> None:
        """Let the line come to its end, as an open page does."""
        while self._worker() is not None:
            time.sleep(0.2)
        self._look()

    def _an_hour_later(self) -> None:
        """What killed workers left half-written in the cache of landmarks goes with a review an hour later."""
        for path in self._halves():
            then = path.stat().st_mtime - 2 * STALE_AFTER_S
            os.utime(path, (then, then))
        self._ask()
        self._work_off()

    def _halves(self) -> list[Path]:
        found = [path for folder in ("jobs", "recordings", "drawn") for path in (self._home / folder).rglob(".*")]
        return [path for path in found if path.is_file()]

    def _look(self) -> None:
        """What ended stays ended; each review that was told of is there and whole."""
        with Store.open(self._home / "reviews.sqlite") as store:
            try:
                store.check()
            except FormcheckError as error:
                self.problems.append(str(error))
            held = {row.id for row in store.list_reviews(limit=10**6)}
        for job in self.asked:
            found = find_job(job)
            if found is None:
                self.problems.append(f"job {job} is gone")
                continue
            status = found.status
            if job in self.ended and status != self.ended[job]:
                self.problems.append(f"job {job} ended, and went on: {status}")
            if not status.over:
                continue
            self.ended[job] = status
            if status.state == "failed" and "stopped several times" not in (status.problem or ""):
                self.problems.append(f"job {job} failed: {status.problem}")
            if status.state == "done" and (
                status.review_id not in held or not DataFolder(self._home).artifacts(status.review_id).report.is_file()
            ):
                self.problems.append(f"job {job} is done, and its review or its report is not there")

    def _at_the_end(self) -> None:
        """Every job is over; each clip has one review, none where its job was given up before; nothing else is left."""
        self._look()
        with Store.open(self._home / "reviews.sqlite") as store:
            clips = [row.clip_sha256 for row in store.list_reviews(limit=10**6)]
        done = sum(status.state == "done" for status in self.ended.values())
        if set(self.ended) != set(self.asked):
            self.problems.append(f"{len(self.asked) - len(self.ended)} jobs never ended")
        if len(clips) != len(set(clips)):
            self.problems.append("a clip has two reviews")
        if not done <= len(clips) <= len(self.asked):
            self.problems.append(f"{done} jobs done, and {len(clips)} reviews")
        if halves := self._halves():
            self.problems.append(f"{len(halves)} half-written files left, such as {halves[0].name}")

    @property
    def done(self) -> int:
        """Jobs that came to their end."""
        return sum(status.state == "done" for status in self.ended.values())


def use_quick_model() -> None:
    """From now on this process looks at clips at no cost, and takes silence for death sooner."""
    import formcheck.pose.estimator
    from quick_model import PageModel

    formcheck.pose.estimator.MediaPipeEstimator = PageModel  # type: ignore[misc, assignment]
    queue.worker_command = worker_command
    queue.SILENCE_S = SILENCE_S


def main() -> int:
    """Do a job as its worker: ``kills_page.py formcheck.jobs.worker JOB``."""
    from formcheck.jobs import worker

    use_quick_model()
    return worker.main(sys.argv[2:])


if __name__ == "__main__":
    sys.exit(main())
