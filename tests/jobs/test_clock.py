"""The system's clock is set back or forward while jobs are under way: each is done once, in the order asked for."""

import random
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from formcheck.exercises.limits import read_limits
from formcheck.jobs import queue
from formcheck.jobs.queue import (
    SILENCE_S,
    JobRequest,
    JobStatus,
    claim_job,
    jobs_folder,
    next_in_line,
    read_status,
    resume_job,
    start_job,
    waiting_line,
    write_status,
)
from formcheck.jobs.worker import Teller
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.web.review import work_list
from tests.web.synthetic import synthetic_analysis

REQUEST = JobRequest("clip", "set.mp4", "lateral-raise", "auto", 8.0, 11)
HOUR = 3600.0


class Clock:
    """In the place of the module `time` of the jobs."""

    def __init__(self) -> None:
        self.now = 1_800_000_000.0

    def time(self) -> float:
        return self.now

    def time_ns(self) -> int:
        return int(self.now * 1e9)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(queue, "time", made)
    return made


@pytest.fixture
def live_worker(formcheck_home: Path, launched: list[Path], clock: Clock) -> Iterator[tuple[str, Path]]:
    """A job and its folder, and a process that is called as its worker is and holds its claim."""
    job = start_job(formcheck_home, REQUEST)
    folder = jobs_folder(formcheck_home) / job
    code = "import time; print('here', flush=True); time.sleep(600)"
    command = [sys.executable, "-c", code, "formcheck.jobs.worker", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        (folder / "claim").write_text(str(process.pid))
        try:
            yield job, folder
        finally:
            process.kill()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells of other processes in this way")
@pytest.mark.parametrize("jump_s", [HOUR, -HOUR, 9 * HOUR])
def test_a_worker_that_lives_is_not_given_a_second(
    formcheck_home: Path, launched: list[Path], clock: Clock, live_worker: tuple[str, Path], jump_s: float
) -> None:
    """A laptop that slept, too, looks like a clock set forward."""
    job, folder = live_worker
    clock.now += jump_s
    assert not resume_job(formcheck_home, job)
    next_in_line(formcheck_home)
    assert launched == [folder]
    assert (folder / "claim").exists()


@pytest.mark.parametrize("jump_s", [HOUR, -HOUR, -9 * HOUR])
def test_a_worker_that_died_is_replaced_once_whichever_way_the_clock_went(
    formcheck_home: Path, launched: list[Path], clock: Clock, jump_s: float
) -> None:
    job = start_job(formcheck_home, REQUEST)
    assert claim_job(launched[0])
    clock.now += jump_s
    with ThreadPoolExecutor(8) as pool:
        taken = list(pool.map(lambda _: resume_job(formcheck_home, job), range(16)))
    assert sum(taken) == 1
    assert len(launched) == 2


def test_the_line_keeps_the_order_asked_for(
    formcheck_home: Path, launched: list[Path], clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queue, "worker_lives", lambda folder: True)
    jumps = random.Random(4)
    asked = []
    for number in range(12):
        clock.now += jumps.choice([1.0, -HOUR, HOUR, -0.001, 0.0])
        asked.append(start_job(formcheck_home, replace(REQUEST, clip_name=f"{number}.mp4")))
        assert waiting_line(formcheck_home) == asked
    for place, job in enumerate(asked, start=1):
        assert [folder.name for folder in launched] == asked[:place]
        clock.now += jumps.choice([SILENCE_S / 2, -HOUR])
        write_status(jobs_folder(formcheck_home) / job, JobStatus("done", review_id=place))
        next_in_line(formcheck_home)
    assert len(launched) == len(asked)
    assert waiting_line(formcheck_home) == []


def test_what_was_done_is_listed_after_the_clock_was_set_back(
    formcheck_home: Path, launched: list[Path], clock: Clock
) -> None:
    done = start_job(formcheck_home, REQUEST)
    write_status(jobs_folder(formcheck_home) / done, JobStatus("done", review_id=1))
    clock.now -= 48 * HOUR
    assert [name for name, *_ in work_list.reviews_at_work(clock.now)] == [done]


def test_time_left_does_not_ask_the_systems_clock(formcheck_home: Path, clock: Clock) -> None:
    folder = formcheck_home / "job"
    folder.mkdir()
    run_s = iter(float(second) for second in range(0, 10_000, 10))
    teller = Teller(folder, clock=lambda: next(run_s))
    left = []
    for done in range(10, 100, 10):
        clock.now -= HOUR
        teller.tell("Finding the lifter in every picture", (0.0, 1.0), float(done), 100.0)
        left.append(teller.status.seconds_left)
    teller.end(JobStatus("done"))
    assert all(seconds is not None and 0 <= seconds < HOUR for seconds in left)
    assert read_status(folder).spent_s is not None
    assert read_status(folder).written_at == clock.now


def test_reviews_and_limits_made_after_the_clock_was_set_back_are_kept_and_hold(formcheck_home: Path) -> None:
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
