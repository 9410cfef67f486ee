"""Tasks done by the workers of a Dask cluster, which may come, go and be slow.

The cluster brings formcheck and the same versions of everything along; clips are read by the workers, from a folder all
machines share or by URL. Dask's own messages are Python objects: only connect to a cluster of one's own.
"""

import logging
import queue
import time
from collections import Counter, deque
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, ClassVar

from formcheck.batch.local import MakeTask, NumberedResult
from formcheck.batch.task import Task, TaskResult, do_task
from formcheck.core.errors import FormcheckError, UsageError

ATTEMPTS = 3
"""A clip that was lost with its worker so often is given up."""
TIMES_LONGEST = 3.0
"""A clip that takes so many times the longest so far, and `patience_s` on top, is given to a second worker too."""
_CHECK_EVERY_S = 0.5
CONNECTION_ERRORS = (OSError, TimeoutError, CancelledError)
"""What Dask raises when the connection to its scheduler is lost."""


@dataclass
class ClusterRunner:
    """The workers of a cluster."""

    address: str
    """Of its scheduler, such as ``tcp://10.0.0.5:8786``."""
    patience_s: float = 60.0
    """Seconds by which a slow clip may outlast what is expected before a second worker tries it."""
    without_s: float = 300.0
    """Seconds to wait for workers while there are none."""
    connect_s: float = 15.0
    """Seconds after which a scheduler that does not answer is gone."""
    work: Callable[[Task], TaskResult] = do_task
    shares_files: ClassVar[bool] = False

    def run(self, numbers: Sequence[int], make_task: MakeTask) -> Generator[NumberedResult, None, None]:
        """Do them wherever there is room (UsageError when the cluster cannot be reached)."""
        if not numbers:
            return
        client = self._connect()
        try:
            yield from self._complete_tasks(client, numbers, make_task)
        finally:
            with suppress(*CONNECTION_ERRORS):
                client.close(timeout=5)

    def _connect(self) -> Any:
        try:
            from distributed import Client
        except ModuleNotFoundError:
            raise UsageError(
                "A cluster needs the Python package distributed: in formcheck's folder, "
                "`.venv/bin/pip install -e '.[cluster]'`."
            ) from None
        # Its messages about workers that come and go are of no use to whoever waits for reviews.
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        try:
            return Client(self.address, timeout=self.connect_s, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            reason = " ".join(str(error).split())[:150].rstrip(".") or type(error).__name__
            raise UsageError(f"The cluster at {self.address} cannot be reached: {reason}.") from error

    def _complete_tasks(
        self, client: Any, numbers: Sequence[int], make_task: MakeTask
    ) -> Generator[NumberedResult, None, None]:
        """Each result once, whichever worker it comes from."""
        waiting = deque(numbers)
        running: dict[str, tuple[Any, int, float]] = {}
        """Key of a future → the future, number of its task, when it was submitted."""
        done: queue.SimpleQueue[Any] = queue.SimpleQueue()
        losses: Counter[int] = Counter()
        longest_s, threads_seen = 0.0, time.monotonic()
        while waiting or running:
            threads, now = _count_threads(client), time.monotonic()
            if threads:
                threads_seen = now
            elif now - threads_seen > self.without_s:
                raise FormcheckError(
                    f"The cluster has had no workers for {self.without_s:.0f} s; run the same command again once it "
                    "has."
                )
            tries = Counter(number for _, number, _ in running.values())
            allowed_s = TIMES_LONGEST * longest_s + self.patience_s
            slow = deque(n for _, n, since in running.values() if tries[n] == 1 and now - since > allowed_s)
            # No more than there are threads are submitted, so that the time of a clip is its own.
            free = threads - len(running)
            while free > 0 and (waiting or slow):
                number = (waiting or slow).popleft()
                # Dask itself starts a task again whose worker is lost; what it gives up on is counted in `losses`.
                future = client.submit(self.work, make_task(number), pure=False, retries=1)
                running[future.key] = future, number, now
                future.add_done_callback(done.put)
                free -= 1
            try:
                future = done.get(timeout=_CHECK_EVERY_S)
            except queue.Empty:
                continue
            if future.key not in running:  # another worker was quicker
                continue
            _, number, since = running.pop(future.key)
            others = [other for other, same, _ in running.values() if same == number]
            result = _read_result(future)
            if result is not None:
                longest_s = max(longest_s, time.monotonic() - since)
            elif others:
                continue
            else:
                losses[number] += 1
                if losses[number] < ATTEMPTS:
                    waiting.appendleft(number)
                    continue
                result = TaskResult(problem=_describe_loss(future))
            for other in others:
                del running[other.key]
                with suppress(*CONNECTION_ERRORS):
                    other.cancel(force=True)
            yield number, result


def _count_threads(client: Any) -> int:
    """How many tasks the workers can do at once (FormcheckError when the scheduler is gone)."""
    if client.status not in ("running", "connecting"):
        raise FormcheckError("The cluster is gone; run the same command again to do what is missing.")
    if client.status == "running":
        with suppress(*CONNECTION_ERRORS):  # the scheduler went this moment: next time it is back, or gone for good
            return sum(client.nthreads().values())
    return 0


def _read_result(future: Any) -> TaskResult | None:
    """None for one that failed, and for one that cannot be fetched any more: it is lost like its worker."""
    if future.status == "finished":
        with suppress(*CONNECTION_ERRORS):
            result = future.result()
            assert isinstance(result, TaskResult)
            return result
    return None


def _describe_loss(future: Any) -> str:
    error = future.exception(timeout=5) if future.status == "error" else None
    if error is None or type(error).__name__ == "KilledWorker":
        return "The workers that reviewed this clip were lost, again and again; it may be damaged or need much memory."
    reason = " ".join(str(error).split())[:200].rstrip(".")
    return f"The cluster could not review this clip ({type(error).__name__}: {reason})."
