"""Reads frames ahead in a background thread."""

import threading
from collections import deque
from collections.abc import Generator, Iterator
from typing import TypeVar

Item = TypeVar("Item")
DEPTH, REFILL_AT = 24, 6


def read_ahead(frames: Iterator[Item]) -> Generator[Item]:
    """The same frames, read by a background thread at most `DEPTH` frames ahead.

    Decoding and the pose model then run side by side. The thread rests until only `REFILL_AT` frames are left and
    then fills up in one go: a thread that wakes for every frame would push the pose model off its core each time.
    An error of the reader appears here; closing this iterator stops the thread.
    """
    ready: deque[Item] = deque()
    changed = threading.Condition()
    stop = False
    ended = False
    failure: BaseException | None = None

    def work() -> None:
        nonlocal ended, failure
        try:
            for frame in frames:
                with changed:
                    if len(ready) >= DEPTH:
                        changed.wait_for(lambda: stop or len(ready) <= REFILL_AT)
                    if stop:
                        return
                    ready.append(frame)
                    changed.notify()
        except BaseException as error:  # handed to the consumer, which raises it
            failure = error
        finally:
            with changed:
                ended = True
                changed.notify()

    thread = threading.Thread(target=work, name="formcheck-decode", daemon=True)
    thread.start()
    try:
        while True:
            with changed:
                changed.wait_for(lambda: ready or ended)
                if not ready:
                    break
                frame = ready.popleft()
                if len(ready) == REFILL_AT:
                    changed.notify()
            yield frame
        if failure is not None:
            raise failure
    finally:
        with changed:
            stop = True
            changed.notify()
        thread.join()
