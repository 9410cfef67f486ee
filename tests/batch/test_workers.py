"""Wherever tasks are done, the answers are the same; workers that end, or never end, cost nothing but time."""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any

import pytest

from formcheck.batch.cluster import ClusterRunner
from formcheck.batch.local import InProcessRunner, ProcessRunner, Runner
from formcheck.batch.requests import ClipRequest, Outcome
from formcheck.batch.run import BatchRequest, run
from formcheck.batch.task import Task, TaskResult
from formcheck.core.errors import FormcheckError, UsageError
from formcheck.exercises.registry import get_exercise
from formcheck.formats import encode
from formcheck.storage import Store
from formcheck.storage.recording_cache import recording_files
from tests.batch import going_wrong
from tests.facts import says

Make = Callable[..., BatchRequest]
RAISE = "lateral-raise"


def tasks(folder: Path, *names: str) -> list[Task]:
    return [Task(str(folder / name), get_exercise(RAISE), str(folder)) for name in names]


def answers(runner: Runner, wanted: list[Task]) -> list[TaskResult]:
    with closing(runner.run(range(len(wanted)), wanted.__getitem__)) as found:
        return [answer for _, answer in sorted(found, key=lambda pair: pair[0])]


def run_and_read(runner: Runner, clips: list[Path], wanted: Make, folder: Path) -> tuple[list[str], list[bytes]]:
    """The documents and landmarks of a batch."""
    landmarks = folder / "landmarks"
    requests = [ClipRequest(str(clip), RAISE, client="Ada Example") for clip in clips]
    with Store.open(folder / "reviews.sqlite") as store:
        summary = run(wanted(*requests, recordings=landmarks), store, runner)
        assert summary.all_good, summary
        documents = [encode(store.load_review(one.review_id)) for one in summary.outcomes if one.review_id]
        files = [recording_files(row.clip_sha256, landmarks)[0] for row in store.list_reviews()]
    return documents, [file.read_bytes() for file in sorted(files)]


@pytest.fixture(scope="module")
def clusters() -> Iterator[Callable[[], Any]]:
    """Gives the last cluster while it has both workers, else a new one.

    A worker that is killed before its nanny knows that it has begun is given up by Dask, and its nanny with it; on a
    machine with much to do that may come about by a worker's end that comes soon after another.
    """
    distributed = pytest.importorskip("distributed")
    with ExitStack() as made:
        last: list[Any] = []

        def give() -> Any:
            if last and within(60, lambda: both_run(last[0])):
                return last[0]
            made.close()
            last[:] = [
                made.enter_context(
                    distributed.LocalCluster(
                        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
                    )
                )
            ]
            assert within(60, lambda: both_run(last[0]))
            return last[0]

        yield give


@pytest.fixture
def cluster(clusters: Callable[[], Any]) -> Any:
    """A cluster of two workers that run."""
    return clusters()


def both_run(cluster: Any) -> bool:
    nannies = list(cluster.workers.values())
    return len(nannies) == 2 and all(
        nanny.process is not None and nanny.process.status.name == "running" for nanny in nannies
    )


def within(seconds: float, true: Callable[[], bool]) -> bool:
    """Whether it becomes true in this time."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            return False
        time.sleep(0.1)
    return True


# ---------------------------------------------------------------- the same results


def test_any_number_of_processes_and_a_cluster_give_the_same_bits(
    clips: list[Path], wanted: Make, tmp_path: Path, cluster: Any
) -> None:
    runners: dict[str, Runner] = {"here": InProcessRunner(), "cluster": ClusterRunner(cluster.scheduler_address)}
    runners |= {str(n): ProcessRunner(n) for n in (1, 2, 4)}
    found = {}
    for name, runner in runners.items():
        (tmp_path / name).mkdir()
        found[name] = run_and_read(runner, clips, wanted, tmp_path / name)
    documents, landmarks = found["here"]
    assert len(set(documents)) == len(documents) == len(landmarks) == 3
    for name, other in found.items():
        assert other == (documents, landmarks), name


# ---------------------------------------------------------------- processes


def test_a_worker_that_ends_is_replaced_and_its_clip_done_again(tmp_path: Path) -> None:
    wanted = tasks(tmp_path, "a.mp4", "b.mp4", "c.mp4")
    found = answers(ProcessRunner(2, going_wrong.die_once), wanted)
    assert [answer.review for answer in found] == [task.clip for task in wanted]


def test_a_clip_that_ends_every_worker_is_given_up(tmp_path: Path) -> None:
    found = answers(ProcessRunner(1, going_wrong.die), tasks(tmp_path, "a.mp4", "deadly.mp4", "c.mp4"))
    assert [answer.review is not None for answer in found] == [True, False, True]
    assert found[1].problem is not None
    assert says(found[1].problem, "ended")


def test_leaving_ends_the_workers_at_once(tmp_path: Path) -> None:
    others = set(multiprocessing.active_children())
    wanted = tasks(tmp_path, "a.mp4", "slow.mp4")
    running = ProcessRunner(2, going_wrong.hang_once).run(range(2), wanted.__getitem__)
    assert next(running)[0] == 0
    assert set(multiprocessing.active_children()) > others
    running.close()
    assert set(multiprocessing.active_children()) <= others


PARENT = """
import multiprocessing, sys, time
from pathlib import Path
from formcheck.batch.local import ProcessRunner
from tests.batch import going_wrong
from tests.batch.test_workers import tasks

if __name__ == "__main__":
    wanted = tasks(Path(sys.argv[1]), "a.mp4", "slow.mp4")
    running = ProcessRunner(2, going_wrong.hang_once).run(range(2), wanted.__getitem__)
    next(running)
    print(*(child.pid for child in multiprocessing.active_children()), flush=True)
    time.sleep(3600)
"""


@pytest.mark.skipif(os.name == "nt", reason="signals as on Linux and macOS")
def test_workers_end_with_a_parent_that_is_killed(tmp_path: Path, root: Path) -> None:
    psutil = pytest.importorskip("psutil")
    script = tmp_path / "parent.py"
    script.write_text(PARENT)
    command = [sys.executable, str(script), str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, env={"PYTHONPATH": str(root)}, text=True) as parent:
        assert parent.stdout is not None
        workers = [psutil.Process(int(pid)) for pid in parent.stdout.readline().split()]
        assert len(workers) == 2
        parent.kill()

    def has_ended(worker: Any) -> bool:
        try:
            return bool(worker.status() == psutil.STATUS_ZOMBIE)
        except psutil.NoSuchProcess:
            return True

    assert within(60, lambda: all(map(has_ended, workers)))


# ---------------------------------------------------------------- a cluster


def test_a_lost_worker_costs_nothing_but_time(tmp_path: Path, cluster: Any) -> None:
    wanted = tasks(tmp_path, "a.mp4", "deadly.mp4", "c.mp4", "d.mp4")
    found = answers(ClusterRunner(cluster.scheduler_address, work=going_wrong.one_dies_once), wanted)
    assert Path(f"{wanted[1].clip}.begun").exists()
    assert [answer.review for answer in found] == [task.clip for task in wanted]


def test_a_restart_of_all_workers_costs_nothing_but_time(
    clips: list[Path], wanted: Make, tmp_path: Path, cluster: Any
) -> None:
    distributed = pytest.importorskip("distributed")
    killed = []

    def kill(_: object) -> None:
        if not killed:
            within(60, lambda: both_run(cluster))
            with distributed.Client(cluster.scheduler_address, set_as_default=False) as client:
                killed.extend(client.run(os.getpid, nanny=False).values())
            for pid in killed:
                os.kill(pid, signal.SIGKILL)

    requests = [ClipRequest(str(clip), RAISE) for clip in clips]
    with Store.open(tmp_path / "reviews.sqlite") as store:
        request = wanted(*requests, recordings=tmp_path / "landmarks")
        summary = run(request, store, ClusterRunner(cluster.scheduler_address), on_outcome=kill)
        assert len(store.list_reviews()) == 3
    assert killed
    assert summary.all_good


def test_a_clip_that_never_ends_is_given_to_a_second_worker(tmp_path: Path, cluster: Any) -> None:
    wanted = tasks(tmp_path, "a.mp4", "slow.mp4")
    runner = ClusterRunner(cluster.scheduler_address, patience_s=0.5, work=going_wrong.hang_once)
    assert [answer.review for answer in answers(runner, wanted)] == [task.clip for task in wanted]


@pytest.fixture
def scheduler(tmp_path: Path, root: Path) -> Iterator[tuple[str, "subprocess.Popen[bytes]"]]:
    """Address and process of a scheduler that can be killed, with one worker."""
    pytest.importorskip("distributed")
    address_file, started = tmp_path / "scheduler.json", []
    environment = {**os.environ, "PYTHONPATH": str(root)}
    with (tmp_path / "cluster.log").open("wb") as log:
        for command in (
            ["distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"],
            ["distributed.cli.dask_worker", "--host", "127.0.0.1", "--nthreads", "1", "--no-nanny", "--no-dashboard"],
        ):
            whole = [sys.executable, "-m", *command, "--scheduler-file", str(address_file)]
            started.append(subprocess.Popen(whole, cwd=tmp_path, env=environment, stdout=log, stderr=log))
            while not address_file.exists():
                assert started[0].poll() is None, (tmp_path / "cluster.log").read_text()
                time.sleep(0.1)
    yield json.loads(address_file.read_text())["address"], started[0]
    for process in started:
        process.kill()
        process.wait()


def test_a_lost_scheduler_is_one_sentence_and_run_again_the_batch_does_what_is_missing(
    clips: list[Path], wanted: Make, tmp_path: Path, scheduler: tuple[str, "subprocess.Popen[bytes]"]
) -> None:
    address, process = scheduler
    reviewed: list[int | None] = []

    def kill(outcome: Outcome) -> None:
        reviewed.append(outcome.review_id)
        process.kill()

    requests = [ClipRequest(str(clip), RAISE) for clip in clips]
    request = wanted(*requests, recordings=tmp_path / "landmarks")
    with Store.open(tmp_path / "reviews.sqlite") as store:
        with pytest.raises(FormcheckError, match="run the same command again") as caught:
            run(request, store, ClusterRunner(address, connect_s=3), on_outcome=kill)
        assert "\n" not in str(caught.value)
        assert 1 <= len(reviewed) < 3
        assert {row.id for row in store.list_reviews()} == set(reviewed)
        summary = run(request, store, InProcessRunner())
        assert summary.all_good
        assert sorted(outcome.state for outcome in summary.outcomes).count("there") == len(reviewed)
        assert len(store.list_reviews()) == 3


def test_a_cluster_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be reached") as caught:
        answers(ClusterRunner("no address at all"), tasks(tmp_path, "a.mp4"))
    assert "\n" not in str(caught.value)


def test_a_suggestion_s_landmarks_are_not_looked_for_again(clips: list[Path], wanted: Make, tmp_path: Path) -> None:
    class Away(InProcessRunner):
        shares_files = False
        sent: list[int] = []  # noqa: RUF012

        def run(self, numbers, make_task):  # type: ignore[no-untyped-def]
            for number in numbers:
                self.sent.append(len(make_task(number).landmarks))
                yield from super().run([number], make_task)

    with Store.open(tmp_path / "reviews.sqlite") as store:
        summary = run(wanted(ClipRequest(str(clips[0]), "auto"), recordings=tmp_path / "home"), store, Away())
    assert summary.all_good, summary
    assert Away.sent == [0, 1]
    assert len(list((tmp_path / "home").glob("*.npz"))) == 1
