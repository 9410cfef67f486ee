"""A clip is opened, decoded and looked at in child processes that are bounded in memory and time.

The children are made for one clip and end with it: a clip that takes one over, or makes it leak, harms no other.
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

from formcheck.core.errors import ClipError, FormcheckError, OutputError, PoseModelError, tells_of_memory
from formcheck.core.model import LANDMARK_COUNT, LandmarkRecording, PoseModelInfo
from formcheck.pose.person_selection import Following
from formcheck.pose.preview import Glimpse, following_of
from formcheck.pose.tracking import COLUMNS, Method, Progress, Track, damaged_in_threads, recording_of, rising
from formcheck.sandbox.protocol import TRACK_ARRAYS, Answer, CallOrder, ChunkOrder, GlanceOrder, PlanOrder, glimpse_in
from formcheck.sandbox.worker_pool import Child, Crew
from formcheck.video.chunks import CHUNK_S, WHOLE_S, Chunk, Plan, Thinning
from formcheck.video.clip_file import ClipLimits, shown
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
class Guard:
    """What looking at a clip may take."""

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


def track_guarded(
    path: Path,
    method: Method,
    *,
    processes: int | None = None,
    on_progress: Progress | None = None,
    limits: ClipLimits | None = None,
    clip_sha256: str | None = None,
    guard: Guard | None = None,
    chunk_s: float = CHUNK_S,
    whole_s: float = WHOLE_S,
) -> LandmarkRecording:
    """Landmarks of a clip by its plan, in child processes.

    Parameters
    ----------
    processes : how many at most; None: `default_processes`.
    on_progress, limits, clip_sha256 : as for `formcheck.pose.tracking.track_clip`; what `on_progress` raises
        ends the children at once.
    guard : what the children may take.
    chunk_s, whole_s : as for `formcheck.video.chunks.lay_out`.

    Raises ClipError, also when a child has to be ended or ends by itself; PoseModelError; MethodError when the
    method cannot be sent to another process.
    """
    try:
        packed = pickle.dumps(method)
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise MethodError(str(error)) from None
    work = _Work(path, packed, limits or ClipLimits(), guard or Guard(), processes or default_processes())
    try:
        head, model, tracks, following, extent = work.done(chunk_s, whole_s, on_progress)
    except _SeekingError:
        whole_s = inf
        head, model, tracks, following, extent = work.done(chunk_s, whole_s, on_progress)
    if damaged_in_threads(head, tracks) and work.threads is None:
        with suppress(_SeekingError):
            work = replace(work, threads=1)
            head, model, tracks, following, extent = work.done(chunk_s, whole_s, on_progress)
    recording = recording_of(path, head, model, tracks, following, clip_sha256, extent)
    if on_progress is not None:
        on_progress(recording.clip.duration_s, recording.clip.duration_s)
    return recording


def call_guarded(
    path: Path, function: Callable[[Callable[[], None]], Mapping[str, NDArray[Any]]], *, guard: Guard | None = None
) -> Mapping[str, NDArray[Any]]:
    """What a function that looks at a clip returns when a child process calls it: arrays, not checked any further.

    Parameters
    ----------
    path : the clip, for sentences about it.
    function : can be sent to another process; it calls what it is given as a sign of life, more often than
        `Guard.silence_s`.

    Raises what `track_guarded` raises, and OutputError from the function.
    """
    try:
        packed = pickle.dumps(function)
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise MethodError(str(error)) from None
    return _Work(path, packed, ClipLimits(), guard or Guard(), 1).called()


Work = tuple[ClipHead, PoseModelInfo, list[Track], Following | None, Extent]
"""What is known of the clip, which model looked, the chunks' tracks in their order, what the survey found, and what the
file promises."""


class _SeekingError(Exception):
    """A chunk's key picture was not found."""


@dataclass(frozen=True, slots=True)
class _Work:
    path: Path
    method: bytes
    limits: ClipLimits
    guard: Guard
    processes: int
    threads: int | None = None
    """Decoding threads of each process; None: one where there are several processes, else as many as help."""

    def done(self, chunk_s: float, whole_s: float, on_progress: Progress | None) -> Work:
        """Plan and track the clip."""
        with Crew(self.guard.memory_bytes, ceil(self.guard.most_s)) as crew:
            return self._done(crew, chunk_s, whole_s, on_progress)

    def called(self) -> Mapping[str, NDArray[Any]]:
        """Have the method, a function here, called by a child."""
        with Crew(self.guard.memory_bytes, ceil(self.guard.most_s)) as crew:
            begun = time.monotonic()
            self._hire(crew).order(CallOrder(self.method))
            answers = self._answers(crew, begun + self.guard.most_s)
            return next(answer for _, answer in answers if answer.kind != "at").arrays

    def _done(self, crew: Crew, chunk_s: float, whole_s: float, on_progress: Progress | None) -> Work:
        begun = time.monotonic()
        planner = self._hire(crew)
        planner.order(PlanOrder(self.path, self.limits, chunk_s, whole_s, self.method))
        answers = self._answers(crew, begun + self.guard.allowed_s(0.0))
        answer = next(answer for _, answer in answers if answer.kind != "at")
        head, plan, sees_people = self._plan_in(answer)
        length_s = max(head.duration_hint_s or 0.0, plan.end_s) or self.limits.max_duration_s
        tell = rising(on_progress, head.duration_hint_s)

        waiting = deque(enumerate(plan.chunks))
        team = [planner, *(self._hire(crew) for _ in range(min(self.processes, len(waiting)) - 1))]
        following = self._following(crew, team, plan, begun) if sees_people else None
        at_work: dict[Child, int] = {}
        threads = self.threads if len(team) == 1 else 1
        reached = [chunk.from_s for chunk in plan.chunks]
        tracks: dict[int, Track] = {}
        model: PoseModelInfo | None = None

        def next_chunk(child: Child) -> None:
            if waiting:
                at_work[child], chunk = waiting.popleft()
                child.order(ChunkOrder(self.path, self.limits, self.method, chunk, plan.thinning, threads, following))

        for child in team:
            next_chunk(child)
        for child, answer in self._answers(crew, begun + self.guard.allowed_s(length_s)):
            number = at_work[child]
            if answer.kind == "at":
                reached[number] = max(reached[number], float(answer.said["t"]))
                tell(sum(t - chunk.from_s for t, chunk in zip(reached, plan.chunks, strict=True)))
                continue
            if answer.kind == "no seeking":
                raise _SeekingError
            tracks[number], model = self._track_in(answer)
            if len(tracks) == len(plan.chunks):
                break
            next_chunk(child)
        assert model is not None
        return head, model, [tracks[number] for number in range(len(plan.chunks))], following, plan.extent

    def _following(self, crew: Crew, team: Sequence[Child], plan: Plan, begun: float) -> Following:
        """Whom to follow: the glances are looked at side by side, each child getting ready for its chunks by it."""
        shares = [plan.glances[number :: len(team)] for number in range(len(team))]
        asked = [child for child, share in zip(team, shares, strict=True) if share]
        for child, share in zip(team, shares, strict=True):
            if share:
                child.order(GlanceOrder(self.path, self.limits, self.method, share))
        found: dict[Child, list[Glimpse | None]] = {}
        for child, answer in self._answers(crew, begun + self.guard.allowed_s(0.0)):
            if answer.kind == "at":
                continue
            try:
                found[child] = [glimpse_in(said) for said in answer.said["glimpses"]]
            except (KeyError, TypeError, ValueError):
                raise self._broken() from None
            if len(found) == len(asked):
                break
        dealt = [deque(found.get(child, ())) for child in team]
        try:
            return following_of([dealt[number % len(team)].popleft() for number in range(len(plan.glances))])
        except IndexError:
            raise self._broken() from None

    def _answers(self, crew: Crew, until: float) -> Iterator[tuple[Child, Answer]]:
        """What the children say; raises what a refusal, an end or a silence mean."""
        while True:
            left = until - time.monotonic()
            heard = crew.hear(min(left, self.guard.silence_s))
            if heard is None:
                what = "took too long" if left <= self.guard.silence_s else "came to a halt"
                raise ClipError(f"Looking at {shown(self.path)} {what} and was ended; the clip may be damaged.")
            child, answer = heard
            if answer is None:
                raise self._ended(child)
            if answer.kind == "memory":
                raise self._memory()
            if answer.kind == "unknown method":
                raise MethodError("the other process does not know it")
            if answer.kind == "refused":
                raise ERRORS.get(str(answer.said.get("error")), FormcheckError)(str(answer.said.get("sentence")))
            if answer.kind == "bug":
                trace = str(answer.said.get("trace")).rstrip()
                last = trace.rpartition("\n")[2]
                raise RuntimeError(f"{last} (in the process that looks at clips)\n{trace}")
            yield child, answer

    def _ended(self, child: Child) -> ClipError:
        code, words = child.end()
        _log.info("The process that looked at %s ended with %s: %s", self.path.name, code, words)
        if code == -signal.SIGKILL:
            return ClipError(
                f"The process that looked at {shown(self.path)} was ended by the system, probably for want of memory."
            )
        if -code == getattr(signal, "SIGXCPU", None):
            return ClipError(f"Looking at {shown(self.path)} took too long and was ended; the clip may be damaged.")
        return self._memory() if tells_of_memory(words) else self._broken()

    def _broken(self) -> ClipError:
        return ClipError(
            f"Looking at {shown(self.path)} made the video reader break down; "
            "the clip may be damaged, or too little memory is free."
        )

    def _memory(self) -> ClipError:
        return ClipError(
            f"Looking at {shown(self.path)} needs more memory than is free, or more than it may take "
            f"({self.guard.memory_bytes / 1024**3:.1f} GiB); close other programs, or the clip may be damaged."
        )

    def _hire(self, crew: Crew) -> Child:
        try:
            return crew.hire()
        except OSError as error:
            reason = error.strerror or str(error)
            raise ClipError(f"The process that looks at {shown(self.path)} could not be started: {reason}.") from None

    def _plan_in(self, answer: Answer) -> tuple[ClipHead, Plan, bool]:
        try:
            plan = answer.said["plan"]
            chunks = tuple(Chunk(**chunk) for chunk in plan["chunks"])
            thinning = None if plan["thinning"] is None else Thinning(**plan["thinning"])
            glances = tuple(Chunk(**glance) for glance in plan["glances"])
            holes = tuple((float(after), float(until)) for after, until in plan["extent"]["holes"])
            extent = Extent(**{**plan["extent"], "holes": holes})
            found = Plan(chunks, thinning, float(plan["end_s"]), glances, extent)
            return ClipHead(**answer.said["head"]), found, bool(answer.said["sees_people"])
        except (KeyError, TypeError, ValueError):
            raise self._broken() from None

    def _track_in(self, answer: Answer) -> tuple[Track, PoseModelInfo]:
        try:
            times, t, rows, notes, lost, backward = (answer.arrays[name] for name in TRACK_ARRAYS)
            if rows.shape != (len(t), LANDMARK_COUNT, COLUMNS) or len(notes) != len(t):
                raise ValueError("not the shape of a track")
            if lost.ndim != 2 or lost.shape[1] != 2 or backward.shape != (1,):
                raise ValueError("not the shape of a track")
            return Track(times, t, rows, notes, lost, backward), PoseModelInfo(**answer.said["model"])
        except (KeyError, TypeError, ValueError):
            raise self._broken() from None
