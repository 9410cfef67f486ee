"""The system's clock is set back or forward while jobs are under way: each is done once, in the order asked for."""

import random
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from formcheck.exercises.limits import read_limits
from formcheck.jobs import queue
from formcheck.jobs.progress import ProgressReporter
from formcheck.jobs.queue import SILENCE_S, JobRequest, JobStatus, follow_job, next_in_line, start_job
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.web.review import work_list
from tests.jobs.rows import claimed, job_of, line, set_status
from tests.web.synthetic import synthetic_analysis

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto", 8.0, 11)
HOUR = 3600.0


class Clock:
    """In the place of the module `time` of the jobs."""

    def __init__(self) -> None:
        self.now = 1_800_000_000.0

    def time(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(queue, "time", made)
    return made


@pytest.fixture
def live_worker(launched: list[str], clock: Clock) -> Iterator[str]:
    """A job, and a process that is called as its worker is and holds its claim."""
    job = start_job(REQUEST)
    code = "import time; print('here', flush=True); time.sleep(600)"
    command = [sys.executable, "-c", code, "formcheck.jobs.worker", job]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        claimed(job)
        with queue.open_jobs() as (store, _):
            store.change_job(job_of(job).id, lambda job, before: {"worker_pid": process.pid})
        try:
            yield job
        finally:
            process.kill()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells of other processes in this way")
@pytest.mark.parametrize("jump_s", [HOUR, -HOUR, 9 * HOUR])
def test_a_worker_that_lives_is_not_given_a_second(
    launched: list[str], clock: Clock, live_worker: str, jump_s: float
) -> None:
    """A laptop that slept, too, looks like a clock set forward."""
    claim = job_of(live_worker).claim
    clock.now += jump_s
    follow_job(live_worker)
    next_in_line()
    assert launched == [live_worker]
    assert job_of(live_worker).claim == claim is not None


@pytest.mark.parametrize("jump_s", [HOUR, -HOUR, -9 * HOUR])
def test_a_worker_that_died_is_replaced_once_whichever_way_the_clock_went(
    launched: list[str], clock: Clock, jump_s: float
) -> None:
    job = start_job(REQUEST)
    claimed(job)
    clock.now += jump_s
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: follow_job(job), range(16)))
    assert launched == [job, job]
    assert job_of(job).restarts == 1


def test_the_line_keeps_the_order_asked_for(launched: list[str], clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queue, "worker_lives", lambda job: True)
    jumps = random.Random(4)
    asked = []
    for number in range(12):
        clock.now += jumps.choice([1.0, -HOUR, HOUR, -0.001, 0.0])
        asked.append(start_job(replace(REQUEST, clip_name=f"{number}.mp4")))
        assert line() == asked
    for place, job in enumerate(asked, start=1):
        assert launched == asked[:place]
        clock.now += jumps.choice([SILENCE_S / 2, -HOUR])
        set_status(job, JobStatus("done"))
        next_in_line()
    assert len(launched) == len(asked)
    assert line() == []


def test_what_was_done_is_listed_after_the_clock_was_set_back(launched: list[str], clock: Clock) -> None:
    done = start_job(REQUEST)
    set_status(done, JobStatus("done"))
    clock.now -= 48 * HOUR
    assert [job.name for job in work_list.list_reviews_at_work(clock.now)] == [done]


def test_time_left_does_not_ask_the_systems_clock(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    run_s = iter(float(second) for second in range(0, 10_000, 10))
    written: list[JobStatus] = []
    reporter = ProgressReporter(lambda status, result: written.append(status), clock=lambda: next(run_s))
    left = []
    for done in range(10, 100, 10):
        clock.now -= HOUR
        reporter.report("Finding the lifter in every picture", (0.0, 1.0), float(done), 100.0)
        left.append(reporter.status.seconds_left)
    reporter.end(JobStatus("done"))
    assert all(seconds is not None and 0 <= seconds < HOUR for seconds in left)
    assert written[-1].spent_s == 100.0  # ten readings after the first, ten seconds apart


def test_reviews_and_limits_made_after_the_clock_was_set_back_are_kept_and_hold() -> None:
    at = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
    times = [at, at - timedelta(hours=5), at - timedelta(days=400), at + timedelta(minutes=1)]
    review = synthetic_analysis().review
    with Store.open(default_store()) as store:
        numbers = [store.save_review(review, created_at=made) for made in times]
        assert [row.id for row in store.list_reviews()] == [numbers[place] for place in (3, 0, 1, 2)]
        assert store.check() == 4
        for made, limit in zip(times, (85.0, 86.0, 87.0, 88.0), strict=True):
            store.set_limits("squat", read_limits({"depth": {"limit": limit}}), created_at=made)
            assert store.limits_history("squat")[-1].changes == read_limits({"depth": {"limit": limit}})
