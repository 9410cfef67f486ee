"""Tasks done by the workers of a Dask cluster, which may come, go and be slow.

The cluster brings formcheck and the same versions of everything along; clips are read by the workers, from a folder all
machines share or by URL. Dask's own messages are Python objects: only connect to a cluster of one's own.
"""

import logging
import queue
import time
import uuid
from collections import Counter
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from typing import Any

from formcheck.batch.local import Numbered
from formcheck.batch.task import Task, TaskResult, do
from formcheck.core.errors import FormcheckError, UsageError

ATTEMPTS = 3
"""A clip that was lost with its worker so often is given up."""
TIMES_LONGEST = 3.0
"""A clip that takes so many times the longest so far, and `patience_s` on top, is given to a second worker too."""
_BEAT_S = 0.5
LOST = (OSError, TimeoutError, CancelledError)
"""What Dask raises when the connection to its scheduler is lost."""


class ClusterRunner:
    """The workers of a cluster.

    Parameters
    ----------
    address : of its scheduler, such as ``tcp://10.0.0.5:8786``.
    patience_s : seconds by which a slow clip may outlast what is expected before a second worker tries it.
    without_s : seconds to wait for workers while there are none.
    connect_s : seconds after which a scheduler that does not answer is gone.
    """

    shares_files = False

    def __init__(
        self,
        address: str,
        *,
        patience_s: float = 60.0,
        without_s: float = 300.0,
        connect_s: float = 15.0,
        work: Callable[[Task], TaskResult] = do,
    ) -> None:
        self._address, self._work = address, work
        self._patience_s, self._without_s, self._connect_s = patience_s, without_s, connect_s

    def run(self, tasks: Sequence[Task]) -> Generator[Numbered, None, None]:
        """Do them wherever there is room (UsageError when the cluster cannot be reached)."""
        if not tasks:
            return
        client = self._connected()
        try:
            yield from _Run(client, tasks, self._work, self._patience_s, self._without_s).answers()
        finally:
            with suppress(*LOST):
                client.close(timeout=5)

    def _connected(self) -> Any:
        try:
            from distributed import Client
        except ModuleNotFoundError:
            raise UsageError(
                "A cluster needs the Python package distributed: in formcheck's folder, "
                "`.venv/bin/pip install -e '.[cluster]'`."
            ) from None
        # What it has to say of workers that come and go is of no use to whoever waits for reviews.
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        try:
            return Client(self._address, timeout=self._connect_s, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            reason = " ".join(str(error).split())[:150].rstrip(".") or type(error).__name__
            raise UsageError(f"The cluster at {self._address} cannot be reached: {reason}.") from error


class _Run:
    def __init__(
        self,
        client: Any,
        tasks: Sequence[Task],
        work: Callable[[Task], TaskResult],
        patience_s: float,
        without_s: float,
    ) -> None:
        self._client, self._tasks, self._work = client, tasks, work
        self._patience_s, self._without_s = patience_s, without_s
        self._name = uuid.uuid4().hex[:12]
        self._waiting = list(range(len(tasks)))[::-1]
        self._flying: dict[int, dict[str, tuple[Any, float]]] = {}
        """Number of a task → its futures by key, and when each was handed over."""
        self._tries: Counter[int] = Counter()
        self._lost: Counter[int] = Counter()
        self._longest_s = 0.0
        self._done: queue.SimpleQueue[tuple[int, str]] = queue.SimpleQueue()
        self._seen_workers = time.monotonic()

    def answers(self) -> Generator[Numbered, None, None]:
        """Each answer once, whoever gave it."""
        finished = 0
        while finished < len(self._tasks):
            room = self._room()
            while self._waiting and room > 0:
                self._submit(self._waiting.pop())
                room -= 1
            if room > 0:
                self._second_tries(room)
            try:
                number, key = self._done.get(timeout=_BEAT_S)
            except queue.Empty:
                continue
            answer = self._answer(number, key)
            if answer is not None:
                finished += 1
                yield number, answer

    def _room(self) -> int:
        """How many more clips there are hands for; no more are handed over, so that a clip's time is its own."""
        if self._client.status not in ("running", "connecting"):
            raise FormcheckError("The cluster is gone; run the same command again to do what is missing.")
        hands = 0
        if self._client.status != "connecting":
            with suppress(*LOST):  # the scheduler went this moment: the next look finds it back, or gone for good
                hands = sum(self._client.nthreads().values())
        now = time.monotonic()
        if hands:
            self._seen_workers = now
        elif now - self._seen_workers > self._without_s:
            raise FormcheckError(
                f"The cluster has had no workers for {self._without_s:.0f} s; run the same command again once it has."
            )
        return int(hands) - sum(map(len, self._flying.values()))

    def _submit(self, number: int) -> None:
        self._tries[number] += 1
        key = f"formcheck-{self._name}-{number}-{self._tries[number]}"
        # Dask itself starts a task again whose worker is lost; what it gives up on is counted here.
        future = self._client.submit(self._work, self._tasks[number], key=key, pure=False, retries=1)
        self._flying.setdefault(number, {})[key] = future, time.monotonic()
        future.add_done_callback(lambda _: self._done.put((number, key)))

    def _second_tries(self, room: int) -> None:
        """Hand slow clips to a second worker, when there is nothing else to do."""
        allowed = TIMES_LONGEST * self._longest_s + self._patience_s
        now = time.monotonic()
        for number, tries in list(self._flying.items()):
            if room > 0 and len(tries) == 1 and all(now - since > allowed for _, since in tries.values()):
                self._submit(number)
                room -= 1

    def _answer(self, number: int, key: str) -> TaskResult | None:
        """The answer, when this was the first to be right; a lost one is begun again."""
        tries = self._flying.get(number, {})
        if key not in tries:
            return None
        future, since = tries.pop(key)
        answer = None
        if future.status == "finished":
            with suppress(*LOST):  # an answer that cannot be fetched any more is lost like its worker
                answer = future.result()
        if answer is not None:
            assert isinstance(answer, TaskResult)
            self._longest_s = max(self._longest_s, time.monotonic() - since)
        elif tries:  # another worker is still at it
            return None
        else:
            self._lost[number] += 1
            if self._lost[number] < ATTEMPTS:
                del self._flying[number]
                self._waiting.append(number)
                return None
            answer = TaskResult(problem=_why(future))
        del self._flying[number]
        if tries:
            with suppress(*LOST):
                self._client.cancel([other for other, _ in tries.values()], force=True)
        return answer


def _why(future: Any) -> str:
    error = future.exception(timeout=5) if future.status == "error" else None
    if error is None or type(error).__name__ == "KilledWorker":
        return "The workers that reviewed this clip were lost, again and again; it may be damaged or need much memory."
    reason = " ".join(str(error).split())[:200].rstrip(".")
    return f"The cluster could not review this clip ({type(error).__name__}: {reason})."
