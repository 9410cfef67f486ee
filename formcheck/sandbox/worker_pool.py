"""The pool of worker processes of one clip: starts them, reads their responses, ends them."""

import json
import pickle
import queue
import struct
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from types import TracebackType
from typing import Self

from formcheck.core.process_memory import WORKER_ENVIRONMENT, make_worker_environment
from formcheck.sandbox.protocol import ProtocolError, Request, Response, read_response

_STDERR_BYTES = 2000


class WorkerProcess:
    """One process that takes requests; made by `WorkerPool.start_worker`."""

    def __init__(
        self, inbox: "queue.SimpleQueue[tuple[WorkerProcess, Response | None]]", memory_bytes: int, processor_s: int
    ):
        code = (
            f"import sys, json; sys.path[:] = json.loads({json.dumps(json.dumps(sys.path))}); "
            f"from formcheck.sandbox.worker import main; main({memory_bytes:d}, {processor_s:d})"
        )
        self._stderr = tempfile.TemporaryFile()  # noqa: SIM115  # closed in end()
        try:
            # In a session of its own, so that Ctrl-C in a terminal reaches only the parent process.
            self._process = subprocess.Popen(
                [sys.executable, "-c", code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._stderr,
                start_new_session=True,
                env=make_worker_environment(WORKER_ENVIRONMENT),
            )
        except BaseException:
            self._stderr.close()
            raise
        self._reader = threading.Thread(
            target=self._read_responses, args=(inbox,), name="formcheck-worker", daemon=True
        )
        self._reader.start()

    @property
    def pid(self) -> int:
        """The process's number."""
        return self._process.pid

    def send(self, request: Request) -> None:
        """Send a request; when the process is gone already, its end is reported by `WorkerPool.read_message`."""
        data = pickle.dumps(request)
        assert self._process.stdin is not None
        with suppress(OSError):
            self._process.stdin.write(struct.pack(">I", len(data)) + data)
            self._process.stdin.flush()

    def end(self) -> tuple[int, str]:
        """Kill it if it still runs; its exit code (negative: a signal's number) and the end of its standard error."""
        with suppress(subprocess.TimeoutExpired):  # one that ends by itself is given the moment it needs
            self._process.wait(0.0 if self._reader.is_alive() else 1.0)
        self._process.kill()
        code = self._process.wait()
        self._reader.join()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            with suppress(OSError):  # a request that never went out
                pipe.close()
        output = ""
        if not self._stderr.closed:
            self._stderr.seek(0, 2)
            self._stderr.seek(max(0, self._stderr.tell() - _STDERR_BYTES))
            output = self._stderr.read().decode(errors="replace")
            self._stderr.close()
        return code, output

    def _read_responses(self, inbox: "queue.SimpleQueue[tuple[WorkerProcess, Response | None]]") -> None:
        assert self._process.stdout is not None
        try:
            while (response := read_response(self._process.stdout)) is not None:
                inbox.put((self, response))
        except (ProtocolError, OSError, ValueError):
            pass  # a worker that sends invalid bytes counts as ended
        inbox.put((self, None))


class WorkerPool:
    """All worker processes of one clip; leaving the block ends them.

    Parameters
    ----------
    memory_bytes, processor_s : what each may take.
    """

    def __init__(self, memory_bytes: int, processor_s: int):
        self._memory_bytes, self._processor_s = memory_bytes, processor_s
        self._inbox: queue.SimpleQueue[tuple[WorkerProcess, Response | None]] = queue.SimpleQueue()
        self.workers: list[WorkerProcess] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for worker in self.workers:
            worker.end()

    def start_worker(self) -> WorkerProcess:
        """Start one more; raises OSError when the system refuses."""
        worker = WorkerProcess(self._inbox, self._memory_bytes, self._processor_s)
        self.workers.append(worker)
        return worker

    def read_message(self, timeout_s: float) -> "tuple[WorkerProcess, Response | None] | None":
        """The next response with its worker, None in its place once that one has ended; None after the timeout."""
        try:
            return self._inbox.get(timeout=max(0.0, timeout_s))
        except queue.Empty:
            return None
