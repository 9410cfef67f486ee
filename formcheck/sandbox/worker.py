"""A worker process: it opens, decodes and tracks a clip, so that a hostile or broken one can do no harm elsewhere.

`formcheck.sandbox.worker_pool` starts it. It runs until its standard input ends, which happens when the parent process
is gone: no orphan stays behind.
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
from formcheck.core.process_memory import release_memory
from formcheck.core.seccomp import deny_sockets
from formcheck.pose.estimator import PeopleFinder
from formcheck.pose.preview import take_sample
from formcheck.pose.tracking import Method, track_with_method
from formcheck.sandbox.protocol import (
    TRACK_ARRAYS,
    CallRequest,
    PlanRequest,
    Request,
    Response,
    SurveyRequest,
    TrackRequest,
    encode_sample,
    send_response,
)
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader, SeekError

SIGN_EVERY_S = 0.1
UNKNOWN = (pickle.UnpicklingError, ImportError, AttributeError, TypeError)
"""Errors that mean a method cannot be unpickled here."""
ADDRESS_SPACE_FACTOR = 3
"""The pose model and every thread reserve far more addresses than they fill with data."""


def main(memory_bytes: int, processor_s: int) -> None:
    """Read requests from standard input and write responses to standard output until there are no more.

    Parameters
    ----------
    memory_bytes : what this process may take, where the system has such limits.
    processor_s : processor time after which the system ends it, whatever else fails.
    """
    deny_sockets()
    set_limits(memory_bytes, processor_s)
    requests, responses = _private_pipes()
    inbox: queue.SimpleQueue[Request] = queue.SimpleQueue()
    threading.Thread(target=_read_requests, args=(requests, inbox), daemon=True).start()
    while True:
        request = inbox.get()
        try:
            response = _handle(request, responses)
        except BaseException as error:
            response = _error_response(error)
        send_response(responses, response)
        del request, response
        release_memory()


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
    requests, responses = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1):
        os.dup2(nowhere, descriptor)
    os.close(nowhere)
    sys.stdin = open(0, closefd=False)  # noqa: SIM115  # lasts as long as the process
    return requests, responses


def _read_requests(pipe: IO[bytes], inbox: "queue.SimpleQueue[Request]") -> None:
    while True:
        prefix = pipe.read(4)
        if len(prefix) < 4:
            os._exit(0)
        data = pipe.read(struct.unpack(">I", prefix)[0])
        inbox.put(pickle.loads(data))


def _handle(request: Request, responses: IO[bytes]) -> Response:
    last = time.monotonic()

    def report_alive(t: float | None = None) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= SIGN_EVERY_S:
            last = now
            send_response(responses, Response("at", {"t": t}))

    if isinstance(request, PlanRequest):
        return _plan(request, report_alive)
    if isinstance(request, CallRequest):
        return _call(request, report_alive)
    _keep_to_one_thread()
    if isinstance(request, SurveyRequest):
        return _sample(request, report_alive)
    return _track(request, report_alive)


def _keep_to_one_thread() -> None:
    """No helpers for scaling and turning pictures: they burn a core while they wait for the next."""
    import cv2

    cv2.setNumThreads(1)


def _plan(request: PlanRequest, report_alive: Callable[..., None]) -> Response:
    with ClipReader(request.clip, limits=request.limits) as reader:
        plan = plan_tracking(reader, chunk_s=request.chunk_s, whole_s=request.whole_s, report_alive=report_alive)
        head = reader.head
    try:
        method: Method = pickle.loads(request.method)
        estimator = method.estimator()
    except UNKNOWN:
        return Response("unknown method")
    values = {"head": asdict(head), "plan": asdict(plan), "sees_people": isinstance(estimator, PeopleFinder)}
    return Response("plan", values)


def _call(request: CallRequest, report_alive: Callable[[], None]) -> Response:
    try:
        function = pickle.loads(request.function)
    except UNKNOWN:
        return Response("unknown method")
    return Response("called", arrays=function(report_alive))


def _sample(request: SurveyRequest, report_alive: Callable[..., None]) -> Response:
    try:
        method: Method = pickle.loads(request.method)
        estimator = method.estimator()
    except UNKNOWN:
        return Response("unknown method")
    samples = []
    if isinstance(estimator, PeopleFinder):
        with estimator:
            for span in request.survey_spans:
                samples.append(encode_sample(take_sample(request.clip, estimator, span, limits=request.limits)))
                report_alive()
    return Response("samples", {"samples": samples})


def _track(request: TrackRequest, report_alive: Callable[[float], None]) -> Response:
    try:
        method: Method = pickle.loads(request.method)
        estimator = method.estimator()
    except UNKNOWN:
        return Response("unknown method")
    try:
        with ClipReader(request.clip, limits=request.limits, threads=request.threads) as reader, estimator:
            track = track_with_method(
                method, reader, estimator, request.chunk, request.thinning, request.survey, report_alive
            )
    except SeekError:
        return Response("no seeking")
    arrays = {name: getattr(track, name) for name in TRACK_ARRAYS}
    return Response("track", {"model": asdict(estimator.info)}, arrays)


def _error_response(error: BaseException) -> Response:
    """The response to a request that failed."""
    # The video library says "try again" where no thread could be started for want of memory.
    if is_memory_shortage(error) or getattr(error, "errno", None) == errno.EAGAIN:
        return Response("memory")
    if isinstance(error, FormcheckError):
        kind = next(
            (c.__name__ for c in (ClipError, PoseModelError, OutputError) if isinstance(error, c)), "FormcheckError"
        )
        # The process that asked names the clip itself.
        return Response("refused", {"error": kind, "message": error.message if kind == "ClipError" else str(error)})
    return Response("bug", {"trace": traceback.format_exc()[-20_000:]})
