"""Tracks a clip in worker processes that are bounded in memory and time.

The workers are made for one clip and end with it: a clip that takes one over, or makes it leak, harms no other.
They work through the clip's chunks side by side; which one does what changes nothing in the result.
"""

import logging
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from importlib import import_module
from math import ceil, inf
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter

from formcheck.core.errors import FILE, ClipError, FormcheckError, OutputError, PoseModelError, mentions_memory_shortage
from formcheck.core.model import LANDMARK_COUNT, Array, LandmarkRecording, PoseModelInfo, ProgressReport
from formcheck.pose.estimator import EstimatorFactory
from formcheck.pose.fast_strokes import has_fast_stroke
from formcheck.pose.person_selection import SurveyResult
from formcheck.pose.survey import SurveySample, combine_samples
from formcheck.pose.tracking import COLUMNS, Rows, Track, make_monotonic, make_recording
from formcheck.sandbox import worker as child
from formcheck.sandbox.protocol import LARGEST_SEEN, TRACK_ARRAYS, PlanResult, Response, decode_sample
from formcheck.sandbox.worker_pool import WorkerPool, WorkerProcess
from formcheck.video.chunks import CHUNK_S, TRACKED_PER_S, WHOLE_S, Plan, choose_fine_rate
from formcheck.video.clip_file import ClipLimits
from formcheck.video.damage import Extent
from formcheck.video.orientation import Rgb
from formcheck.video.reader import ClipHead, FirstPicture

MOST_PROCESSES = 4
QUICK_PIXELS = 1280 * 720
"""Pictures up to this size are decoded by one thread sooner than the pose model looks at them."""
LARGE_BYTES = 30_000_000
"""Files above this size have several chunks, but for very few."""
PARTS_EVERY_S = 2.0
ERRORS = {error.__name__: error for error in (ClipError, PoseModelError, OutputError)}
"""What a worker may refuse a clip with."""
PLAN_RESULT = TypeAdapter(PlanResult)
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class SandboxLimits:
    """The memory and time that tracking a clip may take."""

    memory_bytes: int = 3 * 1024**3
    """Bytes of data each process may hold; the largest pictures that are accepted need a third of it."""
    silence_s: float = 120.0
    """Seconds without a single picture done."""
    start_s: float = 300.0
    """Seconds allowed to any clip, and so many times its length on top, but never more than `most_s`."""
    times_length: float = 60.0
    most_s: float = 6 * 3600.0

    def compute_allowed_s(self, length_s: float) -> float:
        """Seconds a clip of this length may take."""
        return min(self.start_s + self.times_length * length_s, self.most_s)


def count_cores() -> int:
    """How many processes this one may keep busy."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def count_default_processes() -> int:
    """One process a core, four at most."""
    return min(MOST_PROCESSES, count_cores())


def track_clip(
    clip: Path,
    make_estimator: EstimatorFactory,
    *,
    processes: int | None = None,
    on_progress: ProgressReport | None = None,
    on_parts: "PartsReport | None" = None,
    limits: ClipLimits | None = None,
    clip_sha256: str | None = None,
    sandbox_limits: SandboxLimits | None = None,
    every_picture: bool = False,
    chunk_s: float = CHUNK_S,
    whole_s: float = WHOLE_S,
) -> LandmarkRecording:
    """Landmarks of a clip by its plan, in worker processes.

    Parameters
    ----------
    make_estimator : makes the pose model, anew for every chunk; can be pickled.
    processes : how many at most; None: `count_default_processes`.
    on_progress : called with the seconds done and in all; what it raises ends the workers at once.
    on_parts : called every other second with what was tracked so far.
    limits : what is refused.
    clip_sha256 : the clip's checksum, when it is known already.
    sandbox_limits : the workers' memory and time.
    every_picture : track all pictures, not `formcheck.video.chunks.TRACKED_PER_S` and more where a stroke is fast.
    chunk_s, whole_s : as for `formcheck.video.chunks.plan_chunks`.

    Times are the clip's own presentation times, positions are pixels of the upright full-size picture. Frames without
    a person have NaN positions and visibility 0. Raises ClipError, also when a worker has to be ended or ends by
    itself, and PoseModelError.
    """
    run = _ClipRun(
        clip,
        sandbox_limits or SandboxLimits(),
        limits or ClipLimits(),
        make_estimator,
        processes or count_default_processes(),
        on_parts=on_parts,
        every_picture=every_picture,
    )
    try:
        head, model, tracks, survey, extent = run.track(chunk_s, whole_s, on_progress)
    except _SeekingError:
        whole_s = inf
        head, model, tracks, survey, extent = run.track(chunk_s, whole_s, on_progress)
    if any(len(track.lost) for track in tracks) and run.count_threads(head, len(tracks)) > 1:
        # what is lost of a damaged clip depends on how many threads decode it
        with suppress(_SeekingError):
            run = replace(run, threads=1)
            head, model, tracks, survey, extent = run.track(chunk_s, whole_s, on_progress)
    model = replace(model, every_picture=every_picture)
    recording = make_recording(clip, head, model, tracks, survey, clip_sha256, extent)
    if on_progress is not None:
        on_progress(recording.clip.duration_s, recording.clip.duration_s)
    return recording


def call_in_sandbox(
    clip: Path, function: Callable[[Callable[[], None]], Mapping[str, NDArray[Any]]]
) -> Mapping[str, NDArray[Any]]:
    """Call a function in a worker process and return its arrays, which are not checked any further.

    Parameters
    ----------
    clip : named in error messages.
    function : can be pickled; it calls its argument to show it is alive, more often than `SandboxLimits.silence_s`.

    Raises what `track_clip` raises, and OutputError from the function.
    """
    return _Sandbox(clip, SandboxLimits()).call(function)


TrackedClip = tuple[ClipHead, PoseModelInfo, list[Track], SurveyResult | None, Extent]
"""What is known of the clip, which model looked, the chunks' tracks in their order, what the survey found, and what the
file states of its length."""


@dataclass(frozen=True, eq=False, slots=True)
class PartlyTracked:
    """A clip as far as it was looked at."""

    head: ClipHead
    tracks: tuple[Track, ...]
    """Of each chunk what is tracked, in their order; those without pictures are left out."""
    picture: Rgb
    """(h, w, 3) one of the newest pictures, small."""
    landmarks: Array
    """(33, 6) the row of a `Track` in this picture."""
    at_s: float
    """When it is shown, seconds of the clip."""


PartsReport = Callable[[PartlyTracked], None]


class _Parts:
    """What the workers send while they track; nothing of it goes into the result."""

    def __init__(self, head: ClipHead, chunks: int) -> None:
        self._head = head
        self._t: list[list[Array]] = [[] for _ in range(chunks)]
        self._rows: list[list[Rows]] = [[] for _ in range(chunks)]
        self.picture: tuple[Rgb, Array, float] | None = None
        """Picture, landmarks in it, its time."""
        self.told_at = -inf

    def add(self, number: int, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Add what was found in a chunk (KeyError, ValueError when it is not what a worker sends)."""
        t, rows = arrays["t"].astype(np.float64), arrays["rows"].astype(np.float32)
        if t.ndim != 1 or len(t) == 0 or rows.shape != (len(t), LANDMARK_COUNT, COLUMNS):
            raise ValueError("not the shape of a track")
        if self._t[number] and t[0] <= self._t[number][-1][-1]:  # it is tracked once more, with more of its pictures
            self._t[number], self._rows[number] = [], []
        self._t[number].append(t)
        self._rows[number].append(rows)
        if "picture" in arrays:
            picture = arrays["picture"]
            if picture.ndim != 3 or picture.shape[2] != 3 or max(picture.shape) > LARGEST_SEEN + 1:
                raise ValueError("not a small picture")
            self.picture = (
                np.clip(np.nan_to_num(picture), 0, 255).astype(np.uint8),
                rows[-1].astype(float),
                float(t[-1]),
            )

    def make_snapshot(self) -> PartlyTracked:
        """What there is so far; there must be a picture."""
        assert self.picture is not None
        found = [(np.concatenate(t), np.concatenate(rows)) for t, rows in zip(self._t, self._rows, strict=True) if t]
        tracks = tuple(Track(t, t, rows, np.empty((len(t), 0))) for t, rows in found)
        return PartlyTracked(self._head, tracks, *self.picture)


class _SeekingError(Exception):
    """A chunk's key picture was not found."""


@dataclass(frozen=True)
class _Sandbox:
    """The worker processes of one clip, and the errors they end in."""

    clip: Path
    limits: SandboxLimits

    def call(self, function: Callable[[Callable[[], None]], Mapping[str, NDArray[Any]]]) -> Mapping[str, NDArray[Any]]:
        """Have a worker call a function."""
        with self._make_pool() as pool:
            begun = time.monotonic()
            self._start_worker(pool).send(partial(child.call_function, function))
            return self._read_answer(pool, begun + self.limits.most_s).arrays

    def _make_pool(self) -> WorkerPool:
        return WorkerPool(self.limits.memory_bytes, ceil(self.limits.most_s))

    def _read_answer(self, pool: WorkerPool, until: float) -> Response:
        """What a single worker at work answers in the end."""
        return next(response for _, response in self._read_responses(pool, until) if response.kind != "at")

    def _read_responses(self, pool: WorkerPool, until: float) -> Iterator[tuple[WorkerProcess, Response]]:
        """The workers' responses; raises the error that a refusal, a worker's end or a silence stands for."""
        while True:
            left = until - time.monotonic()
            message = pool.read_message(min(left, self.limits.silence_s))
            if message is None:
                what = "took too long" if left <= self.limits.silence_s else "came to a halt"
                raise ClipError(f"Looking at {FILE} {what} and was ended; the clip may be damaged.", path=self.clip)
            worker, response = message
            if response is None:
                raise self._explain_end(worker)
            if response.kind == "memory":
                raise self._make_memory_error()
            if response.kind == "refused":
                refusal = ERRORS.get(str(response.values.get("error")), FormcheckError)
                raise refusal(str(response.values.get("message")), path=self.clip if refusal is ClipError else None)
            if response.kind == "bug":
                trace = str(response.values.get("trace")).rstrip()
                last = trace.rpartition("\n")[2]
                raise RuntimeError(f"{last} (in the process that looks at clips)\n{trace}")
            yield worker, response

    def _explain_end(self, worker: WorkerProcess) -> ClipError:
        code, words = worker.end()
        _log.info("The process that looked at %s ended with %s: %s", self.clip.name, code, words)
        if code == -signal.SIGKILL:
            return ClipError(
                f"The process that looked at {FILE} was ended by the system, probably for want of memory.",
                path=self.clip,
            )
        if -code == getattr(signal, "SIGXCPU", None):
            return ClipError(f"Looking at {FILE} took too long and was ended; the clip may be damaged.", path=self.clip)
        return self._make_memory_error() if mentions_memory_shortage(words) else self._make_breakdown_error()

    def _make_breakdown_error(self) -> ClipError:
        return ClipError(
            f"Looking at {FILE} made the video reader break down; "
            "the clip may be damaged, or too little memory is free.",
            path=self.clip,
        )

    def _make_memory_error(self) -> ClipError:
        return ClipError(
            f"Looking at {FILE} needs more memory than is free, or more than it may "
            f"take ({self.limits.memory_bytes / 1024**3:.1f} GiB); close other programs, or the clip may be "
            "damaged.",
            path=self.clip,
        )

    def _start_worker(self, pool: WorkerPool) -> WorkerProcess:
        try:
            return pool.start_worker()
        except OSError as error:
            reason = error.strerror or str(error)
            raise ClipError(
                f"The process that looks at {FILE} could not be started: {reason}.", path=self.clip
            ) from None


@dataclass(frozen=True)
class _ClipRun(_Sandbox):
    """Tracks the clip."""

    clip_limits: ClipLimits
    make_estimator: EstimatorFactory
    processes: int
    threads: int | None = None
    """Decoding threads of each process; None: as `count_threads` says."""
    every_picture: bool = False
    """Whether all pictures are tracked."""
    on_parts: "PartsReport | None" = None

    def count_threads(self, head: ClipHead, chunks: int) -> int:
        """Decoding threads of each process: more than one where a single process works on large pictures."""
        if self.threads is not None:
            return self.threads
        return min(MOST_PROCESSES, self.processes) if chunks == 1 and head.width * head.height > QUICK_PIXELS else 1

    def track(self, chunk_s: float, whole_s: float, on_progress: ProgressReport | None) -> TrackedClip:
        """Plan and track the clip."""
        with self._make_pool() as pool:
            return self._track_with(pool, chunk_s, whole_s, on_progress)

    @property
    def _source(self) -> tuple[Path, ClipLimits, EstimatorFactory]:
        return self.clip, self.clip_limits, self.make_estimator

    def _track_with(
        self, pool: WorkerPool, chunk_s: float, whole_s: float, on_progress: ProgressReport | None
    ) -> TrackedClip:
        begun = time.monotonic()
        planner = self._start_worker(pool)
        planner.send(partial(child.plan_clip, *self._source, chunk_s, whole_s))
        # while a file is planned that is probably cut into chunks, the others load what they need
        others = [self._start_worker(pool) for _ in range(self.processes - 1 if self._is_large() else 0)]
        import_module("scipy.signal")  # half a second, for fast strokes and the analysis, which nothing waits for now
        response = self._read_answer(pool, begun + self.limits.compute_allowed_s(0.0))
        try:
            planned = PLAN_RESULT.validate_python(response.values)
        except ValueError:
            raise self._make_breakdown_error() from None
        head, first, plan = planned.head, planned.first_picture, planned.plan
        rate, chunks = (None, plan.without_unseen) if self.every_picture else (TRACKED_PER_S, plan.chunks)
        length_s = max(head.duration_hint_s or 0.0, plan.end_s) or self.clip_limits.max_duration_s
        report_progress = make_monotonic(on_progress, head.duration_hint_s)

        waiting = deque((number, chunk, rate) for number, chunk in enumerate(chunks))
        wanted = min(self.processes, len(waiting)) - 1
        team = [planner, *others[:wanted], *(self._start_worker(pool) for _ in range(wanted - len(others)))]
        survey = self._survey_clip(pool, team, first, plan, begun) if planned.finds_people else None
        assigned: dict[WorkerProcess, int] = {}
        threads = self.count_threads(head, len(plan.chunks))
        reached = [chunk.from_s for chunk in plan.chunks]
        tracks: dict[int, Track] = {}
        again: set[int] = set()
        idle: list[WorkerProcess] = []
        parts = _Parts(head, len(plan.chunks))
        model: PoseModelInfo | None = None

        def send_next_chunk(worker: WorkerProcess) -> None:
            if not waiting:
                idle.append(worker)
            else:
                assigned[worker], chunk, rate = waiting.popleft()
                ahead, shown = len(team) - len(idle) < count_cores(), self.on_parts is not None
                worker.send(partial(child.track_part, *self._source, first, chunk, rate, survey, threads, ahead, shown))

        for worker in team:
            send_next_chunk(worker)
        for worker, response in self._read_responses(pool, begun + self.limits.compute_allowed_s(length_s)):
            number = assigned[worker]
            if response.kind == "at":
                reached[number] = max(reached[number], float(response.values["t"]))
                self._add_part(parts, number, response)
                report_progress(sum(t - chunk.from_s for t, chunk in zip(reached, plan.chunks, strict=True)))
                continue
            if response.kind == "no seeking":
                raise _SeekingError
            send_next_chunk(worker)  # before looking at what it sent: it need not wait
            track, model = self._decode_track(response)
            if number not in again and self._needs_more_pictures(track):
                again.add(number)
                waiting.appendleft((number, replace(chunks[number], unseen=()), choose_fine_rate(track.times)))
                if idle:
                    send_next_chunk(idle.pop())
            else:
                tracks[number] = track
            if len(tracks) == len(plan.chunks):
                break
        assert model is not None
        return head, model, [tracks[number] for number in range(len(plan.chunks))], survey, plan.extent

    def _needs_more_pictures(self, track: Track) -> bool:
        """Whether not all pictures of a chunk were tracked, and somebody moves too fast in it for those that were."""
        rows = track.rows.astype(np.float64)
        try:
            return len(track.times) > len(track.t) and has_fast_stroke(track.t, rows[:, :, :2], rows[:, :, 5])
        except (ArithmeticError, LookupError, ValueError):  # not what a worker sends
            raise self._make_breakdown_error() from None

    def _is_large(self) -> bool:
        try:
            return self.clip.stat().st_size > LARGE_BYTES
        except OSError:  # the worker that opens it says what is wrong
            return False

    def _add_part(self, parts: "_Parts", number: int, response: Response) -> None:
        if self.on_parts is None or not response.arrays:
            return
        try:
            parts.add(number, response.arrays)
        except (KeyError, ValueError):
            raise self._make_breakdown_error() from None
        if parts.picture is not None and time.monotonic() - parts.told_at >= PARTS_EVERY_S:
            parts.told_at = time.monotonic()
            self.on_parts(parts.make_snapshot())

    def _survey_clip(
        self, pool: WorkerPool, team: Sequence[WorkerProcess], first: FirstPicture, plan: Plan, begun: float
    ) -> SurveyResult:
        """Whom to follow: the survey's spans are shared among the workers, which load the pose model by it."""
        shares = [plan.survey_spans[number :: len(team)] for number in range(len(team))]
        asked = [worker for worker, share in zip(team, shares, strict=True) if share]
        for worker, share in zip(team, shares, strict=True):
            if share:
                worker.send(partial(child.survey_spans, *self._source, first, share))
        found: dict[WorkerProcess, list[SurveySample | None]] = {}
        for worker, response in self._read_responses(pool, begun + self.limits.compute_allowed_s(0.0)):
            if response.kind == "at":
                continue
            try:
                found[worker] = [decode_sample(values) for values in response.values["samples"]]
            except (KeyError, TypeError, ValueError):
                raise self._make_breakdown_error() from None
            if len(found) == len(asked):
                break
        dealt = [deque(found.get(worker, ())) for worker in team]
        try:
            return combine_samples([dealt[number % len(team)].popleft() for number in range(len(plan.survey_spans))])
        except IndexError:
            raise self._make_breakdown_error() from None

    def _decode_track(self, response: Response) -> tuple[Track, PoseModelInfo]:
        try:
            times, t, rows, observations, lost, backward = (response.arrays[name] for name in TRACK_ARRAYS)
            if rows.shape != (len(t), LANDMARK_COUNT, COLUMNS) or len(observations) != len(t):
                raise ValueError("not the shape of a track")
            if lost.ndim != 2 or lost.shape[1] != 2 or backward.shape != (1,):
                raise ValueError("not the shape of a track")
            return Track(times, t, rows, observations, lost, backward), PoseModelInfo(**response.values["model"])
        except (KeyError, TypeError, ValueError):
            raise self._make_breakdown_error() from None
