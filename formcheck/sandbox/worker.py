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
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from formcheck.core.errors import ClipError, FormcheckError, is_memory_shortage
from formcheck.core.model import PoseModelInfo
from formcheck.core.process_memory import release_memory
from formcheck.core.seccomp import deny_sockets
from formcheck.pose.estimator import EstimatorFactory, PeopleFinder
from formcheck.pose.person_selection import SurveyResult
from formcheck.pose.survey import take_sample
from formcheck.pose.tracking import AllNeededError, Rows, Track, track_chunk
from formcheck.sandbox.protocol import (
    LARGEST_SEEN,
    TRACK_ARRAYS,
    PlanResult,
    Request,
    Response,
    SendProgress,
    TakeSeen,
    encode_sample,
    send_response,
)
from formcheck.video.chunks import Chunk
from formcheck.video.clip_file import ClipLimits
from formcheck.video.orientation import Rgb
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader, FirstPicture, SeekError

PROGRESS_EVERY_S = 0.1
PICTURE_EVERY_S = 2.0
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
    requests, responses = _make_private_pipes()
    inbox: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_read_requests, args=(requests, inbox), daemon=True).start()
    while True:
        answer_request(partial(pickle.loads, inbox.get()), partial(send_response, responses))
        release_memory()


def answer_request(load_request: Callable[[], Request], send: Callable[[Response], None]) -> None:
    """Call the function a request is and send what it returns, or the response for its error."""
    last = time.monotonic()

    def send_progress(t: float | None = None, take_seen: TakeSeen | None = None) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= PROGRESS_EVERY_S:
            last = now
            send(Response("at", {"t": t}, take_seen() if take_seen is not None else {}))

    try:
        response = load_request()(send_progress)
    except BaseException as error:
        response = _make_error_response(error)
    send(response)


# ---------------------------------------------------------------- requests


def plan_clip(
    clip: Path,
    limits: ClipLimits,
    make_estimator: EstimatorFactory,
    chunk_s: float,
    whole_s: float,
    send_progress: SendProgress,
) -> Response:
    """Open the clip and make the plan by which it is tracked."""
    with ClipReader(clip, limits=limits) as reader:
        plan = plan_tracking(reader, chunk_s=chunk_s, whole_s=whole_s, report_alive=partial(send_progress, None))
        head, first = reader.head, reader.first_picture
    return Response("plan", asdict(PlanResult(head, first, plan, isinstance(make_estimator(), PeopleFinder))))


def survey_spans(
    clip: Path,
    limits: ClipLimits,
    make_estimator: EstimatorFactory,
    first: FirstPicture,
    spans: Sequence[Chunk],
    send_progress: SendProgress,
) -> Response:
    """Find all people in some short spans of the clip; one that cannot be decoded gives no sample."""
    _limit_to_one_thread()
    samples = []
    with make_estimator() as estimator:
        assert isinstance(estimator, PeopleFinder)
        for span in spans:
            sample = None
            with suppress(ClipError, SeekError), ClipReader(clip, limits=limits, known=first) as reader:
                sample = take_sample(reader, estimator, span)
            samples.append(encode_sample(sample))
            send_progress(None)
    return Response("samples", {"samples": samples})


def track_part(
    clip: Path,
    limits: ClipLimits,
    make_estimator: EstimatorFactory,
    first: FirstPicture,
    chunk: Chunk,
    rate: float | None,
    survey: SurveyResult | None,
    threads: int,
    ahead: bool,
    shown: bool,
    send_progress: SendProgress,
) -> Response:
    """Track one chunk of the clip, so many pictures a second of it (None: all); send what is seen if it is shown."""
    _limit_to_one_thread()
    seen = _Seen() if shown else None

    def report_picture(t: float) -> None:
        send_progress(t, None if seen is None else seen.take)

    def track(chunk: Chunk) -> tuple[Track, PoseModelInfo]:
        on_pose = None if seen is None else seen.add
        with (
            ClipReader(clip, limits=limits, threads=threads, known=first) as reader,
            make_estimator() as estimator,
        ):
            tracked = track_chunk(
                reader, estimator, chunk, rate, survey, ahead=ahead, on_picture=report_picture, on_pose=on_pose
            )
            return tracked, estimator.info

    try:
        try:
            tracked, model = track(chunk)
        except AllNeededError:
            tracked, model = track(replace(chunk, unseen=()))
    except SeekError:
        return Response("no seeking")
    arrays = {name: getattr(tracked, name) for name in TRACK_ARRAYS}
    return Response("track", {"model": asdict(model)}, arrays)


class _Seen:
    """The landmarks found since they were sent last, and now and then a small picture: the one the last ones are of."""

    def __init__(self) -> None:
        self._t: list[float] = []
        self._rows: list[Rows] = []
        self._rgb: Rgb | None = None
        self._pictured_at = -PICTURE_EVERY_S

    def add(self, t: float, row: Rows, rgb: Rgb) -> None:
        """One picture with the landmarks in it."""
        self._t.append(t)
        self._rows.append(row)
        self._rgb = rgb

    def take(self) -> Mapping[str, NDArray[Any]]:
        """What was added since, by name."""
        if self._rgb is None:
            return {}
        arrays = {"t": np.array(self._t), "rows": np.array(self._rows, dtype=np.float32)}
        if time.monotonic() - self._pictured_at >= PICTURE_EVERY_S:
            import cv2

            self._pictured_at = time.monotonic()
            scale = LARGEST_SEEN / max(self._rgb.shape[:2])
            small = cv2.resize(self._rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            arrays["picture"] = np.asarray(small, dtype=np.float32)
        self._t, self._rows, self._rgb = [], [], None
        return arrays


def call_function(
    function: Callable[[Callable[[], None]], Mapping[str, NDArray[Any]]], send_progress: SendProgress
) -> Response:
    """Call a function and send the arrays it returns."""
    return Response("called", arrays=function(partial(send_progress, None)))


# ---------------------------------------------------------------- the process


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


def _make_private_pipes() -> tuple[IO[bytes], IO[bytes]]:
    """Standard input and output for our own use; whatever else writes to standard output writes into the void."""
    requests, responses = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1):
        os.dup2(nowhere, descriptor)
    os.close(nowhere)
    sys.stdin = open(0, closefd=False)  # noqa: SIM115  # lasts as long as the process
    return requests, responses


def _read_requests(pipe: IO[bytes], inbox: "queue.SimpleQueue[bytes]") -> None:
    while True:
        prefix = pipe.read(4)
        if len(prefix) < 4:
            os._exit(0)
        inbox.put(pipe.read(struct.unpack(">I", prefix)[0]))


def _limit_to_one_thread() -> None:
    """No helpers for scaling and turning pictures: they burn a core while they wait for the next."""
    import cv2

    cv2.setNumThreads(1)


def _make_error_response(error: BaseException) -> Response:
    """The response to a request that failed."""
    # The video library says "try again" where no thread could be started for want of memory.
    if is_memory_shortage(error) or getattr(error, "errno", None) == errno.EAGAIN:
        return Response("memory")
    if isinstance(error, FormcheckError):
        kind = type(error).__name__
        # The process that asked names the clip itself.
        return Response("refused", {"error": kind, "message": error.message if kind == "ClipError" else str(error)})
    return Response("bug", {"trace": traceback.format_exc()[-20_000:]})
