"""Writes a worker's progress and heartbeat from a thread of its own, so that the database never holds up the work."""

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

from formcheck.core.errors import StoreError
from formcheck.core.model import ProgressReport
from formcheck.storage.jobs import JobStatus

WRITES_S = 0.5
"""News is written at most so often, ..."""
BEATS = 2
"""... and without news every so many times: the heartbeat."""
_QUICK = 0.25
"""Tracking that took no longer than this share of the clip's length tells nothing of the pace of the rest: the
landmarks came from the cache."""

Span = tuple[float, float]
"""Shares of the whole work at which a stage begins and ends."""


class ProgressReporter:
    """Writes a job's status from a thread of its own: a database that is busy costs news, never work.

    Parameters
    ----------
    write : writes a status, and the result with the last one; may raise StoreError.
    clock : seconds that only go forward.
    """

    def __init__(
        self, write: Callable[[JobStatus, str | None], object], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.status = JobStatus("working", stage="Starting")
        self._write, self._clock = write, clock
        self._begun = self._paced_from = clock()
        self._share_then = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._write_status_often, daemon=True)
        self._thread.start()

    def report(self, stage: str, span: Span, done: float, total: float | None) -> None:
        """Say where the work is: `done` of `total` seconds of the clip within a stage's span."""
        inside = min(done / total, 1.0) if total else 0.0
        share = span[0] + (span[1] - span[0]) * inside
        now, gone = self._clock(), share - self._share_then
        left = (now - self._paced_from) * (1 - share) / gone if gone > 0.03 else None
        self.status = JobStatus("working", stage, share, left, now - self._begun)

    def of(self, stage: str, span: Span) -> ProgressReport:
        """`report` for one stage."""
        return lambda done, total: self.report(stage, span, done, total)

    def tracking_done(self, clip_s: float, share: float) -> None:
        """Say that a clip of this length was tracked, this share of the work: where that was quick, the pace is taken
        from now on."""
        now = self._clock()
        if now - self._begun < _QUICK * clip_s:
            self._paced_from, self._share_then = now, share

    def end(self, status: JobStatus, result: str | None = None) -> None:
        """Write how it ended, and wait for it (StoreError when it cannot be written, tried twice)."""
        self._over.set()
        self._thread.join()
        self.status = replace(status, spent_s=self._clock() - self._begun)
        try:
            self._write(self.status, result)
        except StoreError:
            self._write(self.status, result)

    def _write_status_often(self) -> None:
        written, beats = self.status, 0
        while not self._over.wait(WRITES_S):
            status, beats = self.status, beats + 1
            if status is not written or beats >= BEATS:
                with suppress(StoreError):  # the next one tells as much
                    self._write(status, None)
                    written, beats = status, 0
