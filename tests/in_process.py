"""The sandbox's worker pool without its processes, for tests whose pose model cannot be sent to another process."""

from collections import deque
from pathlib import Path
from typing import Any
from unittest.mock import patch

from formcheck.core.model import LandmarkRecording
from formcheck.pose.estimator import EstimatorFactory
from formcheck.sandbox import sandboxed_tracking, worker
from formcheck.sandbox.protocol import Request, Response


class InProcessWorker:
    """Works on a request when it is its turn."""

    def __init__(self, waiting: "deque[tuple[InProcessWorker, Request]]") -> None:
        self._waiting = waiting

    def send(self, request: Request) -> None:
        """Put a request in line."""
        self._waiting.append((self, request))


class InProcessPool:
    """Takes the place of `formcheck.sandbox.worker_pool.WorkerPool`: every request is worked on by this process."""

    def __init__(self, memory_bytes: int, processor_s: int) -> None:
        self._waiting: deque[tuple[InProcessWorker, Request]] = deque()
        self._responses: deque[tuple[InProcessWorker, Response]] = deque()

    def __enter__(self) -> "InProcessPool":
        return self

    def __exit__(self, *_error: object) -> None:
        pass

    def start_worker(self) -> InProcessWorker:
        """One more."""
        return InProcessWorker(self._waiting)

    def read_message(self, timeout_s: float) -> tuple[InProcessWorker, Response] | None:
        """The next response with its worker."""
        if not self._responses:
            at_work, request = self._waiting.popleft()
            worker.answer_request(lambda: request, lambda response: self._responses.append((at_work, response)))
        return self._responses.popleft()


def track_here(clip: Path, make_estimator: EstimatorFactory, **options: Any) -> LandmarkRecording:
    """The recording of a clip, tracked by this process as worker processes would."""
    with patch.object(sandboxed_tracking, "WorkerPool", InProcessPool):
        return sandboxed_tracking.track_clip(clip, make_estimator, **options)
