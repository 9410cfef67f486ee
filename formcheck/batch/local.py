"""Tasks done by processes of this machine, or by this process itself."""

import multiprocessing
import os
import queue
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from multiprocessing.connection import Connection, wait
from typing import Protocol

from formcheck.batch.task import Task, TaskResult, do

ATTEMPTS = 2
"""A worker may end for reasons that are not the clip's; a clip that ends two of them is given up."""
ENDED = (
    "The process that reviewed this clip ended unexpectedly, or could not be started, twice; the clip may be damaged "
    "or need more memory than is free."
)
Numbered = tuple[int, TaskResult]


def cores() -> int:
    """How many processes this one may keep busy."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Runner(Protocol):
    """Does tasks somewhere."""

    @property
    def shares_files(self) -> bool:
        """Whether its workers see this machine's data folder."""

    def run(self, tasks: Sequence[Task]) -> Generator[Numbered, None, None]:
        """Place in `tasks` and answer of each, as they come; closing the iterator ends the work."""


class InProcessRunner:
    """The process itself, one task after the other."""

    shares_files = True

    def run(self, tasks: Sequence[Task]) -> Generator[Numbered, None, None]:
        """Do them in turn."""
        for number, task in enumerate(tasks):
            yield number, do(task)


class ProcessRunner:
    """Processes of this machine, each with one clip at a time.

    Parameters
    ----------
    processes : how many; the answers do not depend on it.
    """

    shares_files = True

    def __init__(self, processes: int, work: Callable[[Task], TaskResult] = do) -> None:
        self._processes, self._work = processes, work

    def run(self, tasks: Sequence[Task]) -> Generator[Numbered, None, None]:
        """Do them side by side."""
        waiting = deque(enumerate(tasks))
        done: queue.SimpleQueue[Numbered | BaseException] = queue.SimpleQueue()
        lanes = [_WorkerThread(waiting, done, self._work) for _ in range(min(self._processes, len(tasks)))]
        try:
            for lane in lanes:
                lane.start()
            for _ in tasks:
                heard = done.get()
                if isinstance(heard, BaseException):
                    raise heard
                yield heard
        finally:
            waiting.clear()
            for lane in lanes:
                lane.end()


class _WorkerThread(threading.Thread):
    """Keeps one worker process busy, and replaces it when it ends."""

    def __init__(
        self,
        waiting: deque[tuple[int, Task]],
        done: "queue.SimpleQueue[Numbered | BaseException]",
        work: Callable[[Task], TaskResult],
    ) -> None:
        super().__init__(name="formcheck-batch", daemon=True)
        self._waiting, self._done, self._work = waiting, done, work
        self._worker: _Worker | None = None
        self._over = threading.Event()

    def run(self) -> None:
        try:
            while not self._over.is_set():
                try:
                    number, task = self._waiting.popleft()
                except IndexError:
                    break
                self._done.put((number, self._answer(task)))
        except BaseException as error:  # a fault of ours, which must not leave the others waiting
            self._done.put(error)
        finally:
            if self._worker is not None:
                self._worker.end()

    def _answer(self, task: Task) -> TaskResult:
        for _ in range(ATTEMPTS):
            if self._over.is_set():
                break
            try:
                if self._worker is None:
                    self._worker = _Worker(self._work)
                return self._worker.ask(task)
            except (EOFError, OSError, MemoryError):
                if self._worker is not None:
                    self._worker.end()
                self._worker = None
        return TaskResult(problem=ENDED)

    def end(self) -> None:
        """Kill the worker if it is still at work; what it was doing is lost."""
        self._over.set()
        if self.is_alive() and self._worker is not None:
            self._worker.kill()
        if self.ident is not None:
            self.join()


class _Worker:
    def __init__(self, work: Callable[[Task], TaskResult]) -> None:
        # Spawned: a copy of this process would take its threads' locks and its open database along.
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs, work), name="formcheck-worker", daemon=True)
        self._process.start()
        theirs.close()

    def ask(self, task: Task) -> TaskResult:
        """Raises EOFError or OSError when the process has ended."""
        self._line.send(task)
        answer = self._line.recv()
        assert isinstance(answer, TaskResult)
        return answer

    def kill(self) -> None:
        self._process.kill()

    def end(self) -> None:
        self._line.close()
        self._process.join(5.0)
        self._process.kill()
        self._process.join()
        with suppress(ValueError):
            self._process.close()


def _serve(line: "Connection[TaskResult, Task]", work: Callable[[Task], TaskResult]) -> None:
    # Ctrl-C reaches every process of a terminal; the one that asked decides what becomes of the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    with suppress(EOFError, OSError):
        while True:
            line.send(work(line.recv()))


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        signal.raise_signal(signal.SIGTERM)
