"""The process that opens, decodes and looks at a clip, so that a hostile or broken one can do no harm elsewhere.

`formcheck.sandbox.sandboxed_tracking` starts it. It works until its standard input ends, which it does when the process
that asked is gone: no orphan stays behind.
"""

import errno
import os
import pickle
import queue
import struct
import sys
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict
from typing import IO

from formcheck.core.errors import ClipError, FormcheckError, OutputError, PoseModelError, is_memory_shortage
from formcheck.core.process_memory import give_memory_back
from formcheck.core.seccomp import deny_sockets
from formcheck.pose.estimator import SeesPeople
from formcheck.pose.preview import glimpse
from formcheck.pose.tracking import Method, track_by
from formcheck.sandbox.protocol import (
    TRACK_ARRAYS,
    Answer,
    CallOrder,
    ChunkOrder,
    GlanceOrder,
    Order,
    PlanOrder,
    glimpse_said,
    send_answer,
)
from formcheck.video.packets import plan_of
from formcheck.video.reader import ClipReader, SeekError

SIGN_EVERY_S = 0.1
UNKNOWN = (pickle.UnpicklingError, ImportError, AttributeError, TypeError)
"""What it means that a method cannot be made here."""
ADDRESS_SPACE_FACTOR = 3
"""The pose model and every thread reserve far more addresses than they fill with data."""


def main(memory_bytes: int, processor_s: int) -> None:
    """Take orders from standard input and answer on standard output until there are no more.

    Parameters
    ----------
    memory_bytes : what this process may take, where the system has such limits.
    processor_s : processor time after which the system ends it, whatever else fails.
    """
    deny_sockets()
    set_limits(memory_bytes, processor_s)
    orders, answers = _private_pipes()
    inbox: queue.SimpleQueue[Order] = queue.SimpleQueue()
    threading.Thread(target=_read_orders, args=(orders, inbox), daemon=True).start()
    while True:
        order = inbox.get()
        try:
            answer = _done(order, answers)
        except BaseException as error:
            answer = _failed(error)
        send_answer(answers, answer)
        del order, answer
        give_memory_back()


def set_limits(memory_bytes: int, processor_s: int) -> None:
    """Bound what this process may take; does nothing on systems that have no such limits."""
    try:
        import resource
    except ImportError:  # Windows
        return
    wanted = {
        resource.RLIMIT_DATA: memory_bytes,
        resource.RLIMIT_AS: ADDRESS_SPACE_FACTOR * memory_bytes,
        resource.RLIMIT_CPU: processor_s,
        resource.RLIMIT_CORE: 0,
    }
    for limit, value in wanted.items():
        with suppress(ValueError, OSError):
            _, hard = resource.getrlimit(limit)
            most = value if hard == resource.RLIM_INFINITY else min(value, hard)
            resource.setrlimit(limit, (most, most))


def _private_pipes() -> tuple[IO[bytes], IO[bytes]]:
    """Standard input and output for our own use; whatever else writes to standard output writes into the void."""
    orders, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1):
        os.dup2(nowhere, descriptor)
    os.close(nowhere)
    sys.stdin = open(0, closefd=False)  # noqa: SIM115  # lasts as long as the process
    return orders, answers


def _read_orders(pipe: IO[bytes], inbox: "queue.SimpleQueue[Order]") -> None:
    while True:
        prefix = pipe.read(4)
        if len(prefix) < 4:
            os._exit(0)
        data = pipe.read(struct.unpack(">I", prefix)[0])
        inbox.put(pickle.loads(data))


def _done(order: Order, answers: IO[bytes]) -> Answer:
    last = time.monotonic()

    def sign(t: float | None = None) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= SIGN_EVERY_S:
            last = now
            send_answer(answers, Answer("at", {"t": t}))

    if isinstance(order, PlanOrder):
        return _plan(order, sign)
    if isinstance(order, CallOrder):
        return _call(order, sign)
    _keep_to_one_thread()
    if isinstance(order, GlanceOrder):
        return _glance(order, sign)
    return _track(order, sign)


def _keep_to_one_thread() -> None:
    """No helpers for scaling and turning pictures: they burn a core while they wait for the next."""
    import cv2

    cv2.setNumThreads(1)


def _plan(order: PlanOrder, sign: Callable[..., None]) -> Answer:
    with ClipReader(order.path, limits=order.limits) as reader:
        plan = plan_of(reader, chunk_s=order.chunk_s, whole_s=order.whole_s, sign_of_life=sign)
        head = reader.head
    try:
        method: Method = pickle.loads(order.method)
        estimator = method.estimator()
    except UNKNOWN:
        return Answer("unknown method")
    said = {"head": asdict(head), "plan": asdict(plan), "sees_people": isinstance(estimator, SeesPeople)}
    return Answer("plan", said)


def _call(order: CallOrder, sign: Callable[[], None]) -> Answer:
    try:
        function = pickle.loads(order.function)
    except UNKNOWN:
        return Answer("unknown method")
    return Answer("called", arrays=function(sign))


def _glance(order: GlanceOrder, sign: Callable[..., None]) -> Answer:
    try:
        method: Method = pickle.loads(order.method)
        estimator = method.estimator()
    except UNKNOWN:
        return Answer("unknown method")
    glimpses = []
    if isinstance(estimator, SeesPeople):
        with estimator:
            for glance in order.glances:
                glimpses.append(glimpse_said(glimpse(order.path, estimator, glance, limits=order.limits)))
                sign()
    return Answer("glimpses", {"glimpses": glimpses})


def _track(order: ChunkOrder, sign: Callable[[float], None]) -> Answer:
    try:
        method: Method = pickle.loads(order.method)
        estimator = method.estimator()
    except UNKNOWN:
        return Answer("unknown method")
    try:
        with ClipReader(order.path, limits=order.limits, threads=order.threads) as reader, estimator:
            track = track_by(method, reader, estimator, order.chunk, order.thinning, order.following, sign)
    except SeekError:
        return Answer("no seeking")
    arrays = {name: getattr(track, name) for name in TRACK_ARRAYS}
    return Answer("track", {"model": asdict(estimator.info)}, arrays)


def _failed(error: BaseException) -> Answer:
    """What an order came to that could not be done."""
    # The video library says "try again" where no thread could be started for want of memory.
    if is_memory_shortage(error) or getattr(error, "errno", None) == errno.EAGAIN:
        return Answer("memory")
    if isinstance(error, FormcheckError):
        kind = next(
            (c.__name__ for c in (ClipError, PoseModelError, OutputError) if isinstance(error, c)), "FormcheckError"
        )
        return Answer("refused", {"error": kind, "sentence": str(error)})
    return Answer("bug", {"trace": traceback.format_exc()[-20_000:]})
