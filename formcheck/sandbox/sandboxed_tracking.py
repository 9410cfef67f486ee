"""Tracks a clip in worker processes that are bounded in memory and time.

The workers are made for one clip and end with it: a clip that takes one over, or makes it leak, harms no other.
They work through the clip's chunks side by side; which one does what changes nothing in the result.
"""

import logging
import os
import pickle
import signal
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from math import ceil, inf
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from formcheck.core.errors import FILE, ClipError, FormcheckError, OutputError, PoseModelError, mentions_memory_shortage
from formcheck.core.model import LANDMARK_COUNT, LandmarkRecording, PoseModelInfo
from formcheck.pose.person_selection import SurveyResult
from formcheck.pose.preview import SurveySample, combine_samples
from formcheck.pose.tracking import (
    COLUMNS,
    Method,
    Progress,
    Track,
    is_damaged_in_threads,
    make_monotonic,
    make_recording,
)
from formcheck.sandbox.protocol import (
    TRACK_ARRAYS,
    CallRequest,
    PlanRequest,
    Response,
    SurveyRequest,
    TrackRequest,
    decode_sample,
)
from formcheck.sandbox.worker_pool import WorkerPool, WorkerProcess
from formcheck.video.chunks import CHUNK_S, WHOLE_S, Chunk, Plan, Thinning
from formcheck.video.clip_file import ClipLimits
from formcheck.video.clip_info import ClipHead
from formcheck.video.damage import Extent

MOST_PROCESSES = 4
ERRORS: dict[str, type[FormcheckError]] = {
    "ClipError": ClipError,
    "PoseModelError": PoseModelError,
    "OutputError": OutputError,
}
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

    def allowed_s(self, length_s: float) -> float:
        """Seconds a clip of this length may take."""
        return min(self.start_s + self.times_length * length_s, self.most_s)


class MethodError(Exception):
    """The method cannot be sent to another process."""


def default_processes() -> int:
    """One process a core, four at most."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, min(MOST_PROCESSES, len(os.sched_getaffinity(0))))
    return max(1, min(MOST_PROCESSES, os.cpu_count() or 1))


def track_in_sandbox(
    clip: Path,
    method: Method,
    *,
    processes: int | None = None,
    on_progress: Progress | None = None,
    limits: ClipLimits | None = None,
    clip_sha256: str | None = None,
    sandbox_limits: SandboxLimits | None = None,
    chunk_s: float = CHUNK_S,
    whole_s: float = WHOLE_S,
) -> LandmarkRecording:
    """Landmarks of a clip by its plan, in worker processes.

    Parameters
    ----------
    processes : how many at most; None: `default_processes`.
    on_progress, limits, clip_sha256 : as for `formcheck.pose.tracking.track_clip`; what `on_progress` raises
        ends the workers at once.
    sandbox_limits : the workers' memory and time.
    chunk_s, whole_s : as for `formcheck.video.chunks.plan_chunks`.

    Raises ClipError, also when a worker has to be ended or ends by itself; PoseModelError; MethodError when the
    method cannot be sent to another process.
    """
    try:
        packed = pickle.dumps(method)
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise MethodError(str(error)) from None
    work = _ClipRun(
        clip, packed, limits or ClipLimits(), sandbox_limits or SandboxLimits(), processes or default_processes()
    )
    try:
        head, model, tracks, survey, extent = work.track(chunk_s, whole_s, on_progress)
    except _SeekingError:
        whole_s = inf
        head, model, tracks, survey, extent = work.track(chunk_s, whole_s, on_progress)
    if is_damaged_in_threads(head, tracks) and work.threads is None:
        with suppress(_SeekingError):
            work = replace(work, threads=1)
            head, model, tracks, survey, extent = work.track(chunk_s, whole_s, on_progress)
    recording = make_recording(clip, head, model, tracks, survey, clip_sha256, extent)
    if on_progress is not None:
        on_progress(recording.clip.duration_s, recording.clip.duration_s)
    return recording


def call_in_sandbox(
    clip: Path,
    function: Callable[[Callable[[], None]], Mapping[str, NDArray[Any]]],
    *,
    sandbox_limits: SandboxLimits | None = None,
) -> Mapping[str, NDArray[Any]]:
    """Call a function in a worker process and return its arrays, which are not checked any further.

    Parameters
    ----------
    clip : named in error messages.
    function : can be sent to another process; it calls its argument to show it is alive, more often than
        `SandboxLimits.silence_s`.

    Raises what `track_in_sandbox` raises, and OutputError from the function.
    """
    try:
        packed = pickle.dumps(function)
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise MethodError(str(error)) from None
    return _ClipRun(clip, packed, ClipLimits(), sandbox_limits or SandboxLimits(), 1).call_function()


TrackedClip = tuple[ClipHead, PoseModelInfo, list[Track], SurveyResult | None, Extent]
"""What is known of the clip, which model looked, the chunks' tracks in their order, what the survey found, and what the
file states of its length."""


class _SeekingError(Exception):
    """A chunk's key picture was not found."""


@dataclass(frozen=True, slots=True)
class _ClipRun:
    clip: Path
    method: bytes
    limits: ClipLimits
    sandbox_limits: SandboxLimits
    processes: int
    threads: int | None = None
    """Decoding threads of each process; None: one where there are several processes, else as many as help."""

    def track(self, chunk_s: float, whole_s: float, on_progress: Progress | None) -> TrackedClip:
        """Plan and track the clip."""
        with WorkerPool(self.sandbox_limits.memory_bytes, ceil(self.sandbox_limits.most_s)) as pool:
            return self._track_with(pool, chunk_s, whole_s, on_progress)

    def call_function(self) -> Mapping[str, NDArray[Any]]:
        """Have a worker call the function in `method`."""
        with WorkerPool(self.sandbox_limits.memory_bytes, ceil(self.sandbox_limits.most_s)) as pool:
            begun = time.monotonic()
            self._start_worker(pool).send(CallRequest(self.method))
            responses = self._responses(pool, begun + self.sandbox_limits.most_s)
            return next(response for _, response in responses if response.kind != "at").arrays

    def _track_with(
        self, pool: WorkerPool, chunk_s: float, whole_s: float, on_progress: Progress | None
    ) -> TrackedClip:
        begun = time.monotonic()
        planner = self._start_worker(pool)
        planner.send(PlanRequest(self.clip, self.limits, chunk_s, whole_s, self.method))
        responses = self._responses(pool, begun + self.sandbox_limits.allowed_s(0.0))
        response = next(response for _, response in responses if response.kind != "at")
        head, plan, sees_people = self._decode_plan(response)
        length_s = max(head.duration_hint_s or 0.0, plan.end_s) or self.limits.max_duration_s
        report_progress = make_monotonic(on_progress, head.duration_hint_s)

        waiting = deque(enumerate(plan.chunks))
        team = [planner, *(self._start_worker(pool) for _ in range(min(self.processes, len(waiting)) - 1))]
        survey = self._survey_clip(pool, team, plan, begun) if sees_people else None
        assigned: dict[WorkerProcess, int] = {}
        threads = self.threads if len(team) == 1 else 1
        reached = [chunk.from_s for chunk in plan.chunks]
        tracks: dict[int, Track] = {}
        model: PoseModelInfo | None = None

        def next_chunk(worker: WorkerProcess) -> None:
            if waiting:
                assigned[worker], chunk = waiting.popleft()
                worker.send(TrackRequest(self.clip, self.limits, self.method, chunk, plan.thinning, threads, survey))

        for worker in team:
            next_chunk(worker)
        for worker, response in self._responses(pool, begun + self.sandbox_limits.allowed_s(length_s)):
            number = assigned[worker]
            if response.kind == "at":
                reached[number] = max(reached[number], float(response.values["t"]))
                report_progress(sum(t - chunk.from_s for t, chunk in zip(reached, plan.chunks, strict=True)))
                continue
            if response.kind == "no seeking":
                raise _SeekingError
            tracks[number], model = self._decode_track(response)
            if len(tracks) == len(plan.chunks):
                break
            next_chunk(worker)
        assert model is not None
        return head, model, [tracks[number] for number in range(len(plan.chunks))], survey, plan.extent

    def _survey_clip(self, pool: WorkerPool, team: Sequence[WorkerProcess], plan: Plan, begun: float) -> SurveyResult:
        """Whom to follow: the survey's spans are shared among the workers, which load the pose model by it."""
        shares = [plan.survey_spans[number :: len(team)] for number in range(len(team))]
        asked = [worker for worker, share in zip(team, shares, strict=True) if share]
        for worker, share in zip(team, shares, strict=True):
            if share:
                worker.send(SurveyRequest(self.clip, self.limits, self.method, share))
        found: dict[WorkerProcess, list[SurveySample | None]] = {}
        for worker, response in self._responses(pool, begun + self.sandbox_limits.allowed_s(0.0)):
            if response.kind == "at":
                continue
            try:
                found[worker] = [decode_sample(values) for values in response.values["samples"]]
            except (KeyError, TypeError, ValueError):
                raise self._breakdown_error() from None
            if len(found) == len(asked):
                break
        dealt = [deque(found.get(worker, ())) for worker in team]
        try:
            return combine_samples([dealt[number % len(team)].popleft() for number in range(len(plan.survey_spans))])
        except IndexError:
            raise self._breakdown_error() from None

    def _responses(self, pool: WorkerPool, until: float) -> Iterator[tuple[WorkerProcess, Response]]:
        """The workers' responses; raises the error that a refusal, a worker's end or a silence stands for."""
        while True:
            left = until - time.monotonic()
            message = pool.next_message(min(left, self.sandbox_limits.silence_s))
            if message is None:
                what = "took too long" if left <= self.sandbox_limits.silence_s else "came to a halt"
                raise ClipError(f"Looking at {FILE} {what} and was ended; the clip may be damaged.", path=self.clip)
            worker, response = message
            if response is None:
                raise self._explain_end(worker)
            if response.kind == "memory":
                raise self._memory_error()
            if response.kind == "unknown method":
                raise MethodError("the other process does not know it")
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
        return self._memory_error() if mentions_memory_shortage(words) else self._breakdown_error()

    def _breakdown_error(self) -> ClipError:
        return ClipError(
            f"Looking at {FILE} made the video reader break down; "
            "the clip may be damaged, or too little memory is free.",
            path=self.clip,
        )

    def _memory_error(self) -> ClipError:
        return ClipError(
            f"Looking at {FILE} needs more memory than is free, or more than it may "
            f"take ({self.sandbox_limits.memory_bytes / 1024**3:.1f} GiB); close other programs, or the clip may be "
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

    def _decode_plan(self, response: Response) -> tuple[ClipHead, Plan, bool]:
        try:
            plan = response.values["plan"]
            chunks = tuple(Chunk(**chunk) for chunk in plan["chunks"])
            thinning = None if plan["thinning"] is None else Thinning(**plan["thinning"])
            survey_spans = tuple(Chunk(**span) for span in plan["survey_spans"])
            holes = tuple((float(after), float(until)) for after, until in plan["extent"]["holes"])
            extent = Extent(**{**plan["extent"], "holes": holes})
            found = Plan(chunks, thinning, float(plan["end_s"]), survey_spans, extent)
            return ClipHead(**response.values["head"]), found, bool(response.values["sees_people"])
        except (KeyError, TypeError, ValueError):
            raise self._breakdown_error() from None

    def _decode_track(self, response: Response) -> tuple[Track, PoseModelInfo]:
        try:
            times, t, rows, observations, lost, backward = (response.arrays[name] for name in TRACK_ARRAYS)
            if rows.shape != (len(t), LANDMARK_COUNT, COLUMNS) or len(observations) != len(t):
                raise ValueError("not the shape of a track")
            if lost.ndim != 2 or lost.shape[1] != 2 or backward.shape != (1,):
                raise ValueError("not the shape of a track")
            return Track(times, t, rows, observations, lost, backward), PoseModelInfo(**response.values["model"])
        except (KeyError, TypeError, ValueError):
            raise self._breakdown_error() from None
