"""Child processes: started, listened to, ended."""

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

from formcheck.core.process_memory import FOR_CHILDREN, surroundings_for_work
from formcheck.sandbox.protocol import Answer, Order, WireError, read_answer

_LAST_WORDS = 2000


class Child:
    """One process that takes orders; made by `Crew.hire`."""

    def __init__(self, inbox: "queue.SimpleQueue[tuple[Child, Answer | None]]", memory_bytes: int, processor_s: int):
        code = (
            f"import sys, json; sys.path[:] = json.loads({json.dumps(json.dumps(sys.path))}); "
            f"from formcheck.sandbox.worker import main; main({memory_bytes:d}, {processor_s:d})"
        )
        self._words = tempfile.TemporaryFile()  # noqa: SIM115  # closed in end()
        try:
            # In a session of its own, so that Ctrl-C in a terminal reaches only the process that asked.
            self._process = subprocess.Popen(
                [sys.executable, "-c", code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._words,
                start_new_session=True,
                env=surroundings_for_work(FOR_CHILDREN),
            )
        except BaseException:
            self._words.close()
            raise
        self._listener = threading.Thread(target=self._listen, args=(inbox,), name="formcheck-child", daemon=True)
        self._listener.start()

    @property
    def pid(self) -> int:
        """The process's number."""
        return self._process.pid

    def order(self, order: Order) -> None:
        """Give it something to do; when it is gone already, its end is what comes back."""
        data = pickle.dumps(order)
        assert self._process.stdin is not None
        with suppress(OSError):
            self._process.stdin.write(struct.pack(">I", len(data)) + data)
            self._process.stdin.flush()

    def end(self) -> tuple[int, str]:
        """Kill it if it still runs; its exit code (negative: a signal's number) and what it said last."""
        with suppress(subprocess.TimeoutExpired):  # one that ends by itself is given the moment it needs
            self._process.wait(0.0 if self._listener.is_alive() else 1.0)
        self._process.kill()
        code = self._process.wait()
        self._listener.join()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            with suppress(OSError):  # an order that never went out
                pipe.close()
        said = ""
        if not self._words.closed:
            self._words.seek(0, 2)
            self._words.seek(max(0, self._words.tell() - _LAST_WORDS))
            said = self._words.read().decode(errors="replace")
            self._words.close()
        return code, said

    def _listen(self, inbox: "queue.SimpleQueue[tuple[Child, Answer | None]]") -> None:
        assert self._process.stdout is not None
        try:
            while (answer := read_answer(self._process.stdout)) is not None:
                inbox.put((self, answer))
        except (WireError, OSError, ValueError):
            pass  # whoever sends nonsense is treated like one that is gone
        inbox.put((self, None))


class Crew:
    """All child processes of one clip; leaving the block ends them.

    Parameters
    ----------
    memory_bytes, processor_s : what each may take.
    """

    def __init__(self, memory_bytes: int, processor_s: int):
        self._memory_bytes, self._processor_s = memory_bytes, processor_s
        self._inbox: queue.SimpleQueue[tuple[Child, Answer | None]] = queue.SimpleQueue()
        self.children: list[Child] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for child in self.children:
            child.end()

    def hire(self) -> Child:
        """Start one more; raises OSError when the system does not let us."""
        child = Child(self._inbox, self._memory_bytes, self._processor_s)
        self.children.append(child)
        return child

    def hear(self, timeout_s: float) -> "tuple[Child, Answer | None] | None":
        """Whose turn it is to be heard and what it says, None for its end; None when nobody says anything in time."""
        try:
            return self._inbox.get(timeout=max(0.0, timeout_s))
        except queue.Empty:
            return None
