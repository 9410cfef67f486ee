"""Tasks done by processes of this machine, or by this process itself."""

import multiprocessing
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, ProcessPoolExecutor, wait
from multiprocessing.connection import Connection
from multiprocessing.connection import wait as wait_for_connection
from typing import Protocol

from formcheck.batch.task import Task, TaskResult, do_task

ATTEMPTS = 2
"""A worker may end for reasons that are not the clip's; a clip that ends two of them is given up."""
ENDED = (
    "The process that reviewed this clip ended unexpectedly, or could not be started, twice; the clip may be damaged "
    "or need more memory than is free."
)
NumberedResult = tuple[int, TaskResult]
MakeTask = Callable[[int], Task]
WORKER_ERRORS = (BrokenExecutor, OSError, MemoryError)
"""Raised when a worker process has ended or cannot be started."""


class Runner(Protocol):
    """Does tasks somewhere."""

    @property
    def shares_files(self) -> bool:
        """Whether its workers see this machine's data folder."""

    def run(self, numbers: Sequence[int], make_task: MakeTask) -> Generator[NumberedResult, None, None]:
        """Number of each task and its result, as they come; closing the generator ends the work.

        Parameters
        ----------
        make_task : makes the task of a number, as late as possible, since a task may hold a clip's landmarks.
        """


class InProcessRunner:
    """The process itself, one task after the other."""

    shares_files = True

    def run(self, numbers: Sequence[int], make_task: MakeTask) -> Generator[NumberedResult, None, None]:
        """Do them in turn."""
        for number in numbers:
            yield number, do_task(make_task(number))


class ProcessRunner:
    """Processes of this machine, each with one clip at a time.

    Every worker is a process pool of its own: a pool whose process ends is broken as a whole, and with one worker that
    concerns one clip only.

    Parameters
    ----------
    processes : how many; the results do not depend on it.
    """

    shares_files = True

    def __init__(self, processes: int, work: Callable[[Task], TaskResult] = do_task) -> None:
        self._processes, self._work = processes, work

    def run(self, numbers: Sequence[int], make_task: MakeTask) -> Generator[NumberedResult, None, None]:
        """Do them side by side."""
        waiting = deque((number, 1) for number in numbers)
        running: dict[Future[TaskResult], tuple[int, int, ProcessPoolExecutor]] = {}
        idle: list[ProcessPoolExecutor] = []
        results: list[NumberedResult] = []
        # Spawned: a copy of this process would take its threads' locks and its open database along.
        context = multiprocessing.get_context("spawn")
        watched, alive = context.Pipe(duplex=False)
        try:
            while waiting or running or results:
                while waiting and len(running) < self._processes:
                    number, attempt = waiting.popleft()
                    pool = idle.pop() if idle else ProcessPoolExecutor(1, context, _prepare_worker, (watched,))
                    running[self._submit(pool, make_task(number))] = number, attempt, pool
                yield from results
                results = []
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    number, attempt, pool = running.pop(future)
                    if not isinstance(future.exception(), WORKER_ERRORS):
                        idle.append(pool)
                        results.append((number, future.result()))
                    elif attempt < ATTEMPTS:
                        waiting.appendleft((number, attempt + 1))
                    else:
                        results.append((number, TaskResult(problem=ENDED)))
        finally:
            alive.close()
            watched.close()
            for pool in (*idle, *(pool for _, _, pool in running.values())):
                pool.shutdown()

    def _submit(self, pool: ProcessPoolExecutor, task: Task) -> "Future[TaskResult]":
        """A future that has failed already where the worker cannot be started."""
        try:
            return pool.submit(self._work, task)
        except WORKER_ERRORS as error:
            failed: Future[TaskResult] = Future()
            failed.set_exception(error)
            return failed


def _prepare_worker(watched: "Connection[None, None]") -> None:
    # Ctrl-C reaches every process of a terminal; the parent decides what becomes of its workers.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, args=(watched,), daemon=True).start()


def _end_with_parent(watched: "Connection[None, None]") -> None:
    """End this process once the parent has closed its end of the pipe, or has ended itself."""
    wait_for_connection([watched])
    signal.raise_signal(signal.SIGTERM)
