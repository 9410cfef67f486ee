"""A batch from its requests to its summary. Only this process writes the store; workers only return results."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from formcheck.batch.growing_files import was_written_lately
from formcheck.batch.local import MakeTask, Runner
from formcheck.batch.planning import Key, StoreLookups, find_clips, key_of
from formcheck.batch.remote_files import is_url, read_recordings, save_recordings
from formcheck.batch.requests import AUTO, ClipRequest, Outcome, Summary
from formcheck.batch.task import Task, TaskResult
from formcheck.core.errors import NOT_ENOUGH_MEMORY, quote_name
from formcheck.core.model import Review, SetInfo
from formcheck.exercises.registry import load_own_exercises
from formcheck.exercises.schema import Exercise
from formcheck.formats import decode
from formcheck.report.problem_text import describe_problem
from formcheck.report.wording import summarise
from formcheck.services.pipeline import EstimatorFactory
from formcheck.storage import Store


@dataclass(frozen=True, slots=True)
class BatchRequest:
    """A batch.

    Attributes
    ----------
    recordings : where landmarks are stored: a folder, or a URL that every worker can reach.
    pose_model : a model bundle to use instead of the shipped one.
    estimator_factory : makes what finds the landmarks; takes the place of `pose_model`.
    every_picture : track all pictures of a clip.
    clock : the time now, with time zone.
    """

    clips: Sequence[ClipRequest]
    recordings: str
    pose_model: Path | None = None
    estimator_factory: EstimatorFactory | None = None
    every_picture: bool = False
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)


def run(
    wanted: BatchRequest, store: Store, runner: Runner, *, on_outcome: Callable[[Outcome], None] | None = None
) -> Summary:
    """Review what is missing and store it.

    A review is on disk before `on_outcome` is called with it. A clip that cannot be reviewed becomes an outcome like
    any other; only what is wrong with the store or with the runner ends the batch (StoreError, UsageError). Run again,
    it does what is missing: a clip, client and exercise have one review however often this was interrupted.
    """
    return _Batch(wanted, store, runner, on_outcome or (lambda _: None)).complete()


class _Batch:
    """One batch at work. Clips go by their number in the list, from 0."""

    def __init__(
        self, wanted: BatchRequest, store: Store, runner: Runner, on_outcome: Callable[[Outcome], None]
    ) -> None:
        self._wanted, self._store, self._runner, self._on_outcome = wanted, store, runner, on_outcome
        self._lookups = StoreLookups(store, wanted.clock().astimezone().date())
        self._found = find_clips(wanted.clips)
        self._open: dict[int, ClipRequest] = {}
        """What is still to be done."""
        self._first: dict[Key, int] = {}
        self._repeated: dict[int, int] = {}
        """Number of a clip → number of the same one earlier in the list."""
        self._outcomes: dict[int, Outcome] = {}
        self._recording_names: dict[int, list[str]] = {}
        """Files of landmarks that came with a suggestion."""

    def complete(self) -> Summary:
        for number, request in enumerate(self._wanted.clips):
            self._plan(number, request)
        self._suggest([number for number, request in self._open.items() if request.exercise_id == AUTO])
        self._review(sorted(self._open))
        for number, first in self._repeated.items():
            earlier = self._outcomes[first]
            state = earlier.state if earlier.state == "failed" else "again"
            self._end(number, replace(earlier, request=self._wanted.clips[number], state=state))
        return Summary(tuple(outcome for _, outcome in sorted(self._outcomes.items())))

    def _plan(self, number: int, request: ClipRequest) -> None:
        found = self._found[number]
        if found.problem is not None:
            self._end(number, Outcome(request, "failed", text=found.problem))
        elif (row := self._lookups.stored(request, found)) is not None:
            text = f"In the store already as review {row.id}."
            self._end(number, Outcome(request, "there", row.exercise_id, row.id, row.complete_reps, text))
        else:
            self._open_once(number, request)

    def _open_once(self, number: int, request: ClipRequest) -> None:
        first = self._first.setdefault(key_of(request, self._found[number]), number)
        if first == number:
            self._open[number] = request
        else:
            self._open.pop(number, None)
            self._repeated[number] = first

    def _suggest(self, numbers: list[int]) -> None:
        for number, result in self._run(numbers, lambda number: self._make_task(number, None, SetInfo())):
            request = self._open.pop(number)
            if result.exercise_id is None:
                self._end(number, Outcome(request, "failed", text=result.problem or "", unclear=result.unclear))
            else:
                self._recording_names[number] = [name for name, _ in result.landmarks]
                self._open[number] = replace(request, exercise_id=result.exercise_id)
        for number in numbers:
            if number in self._open:
                self._open_once(number, self._open[number])

    def _review(self, numbers: list[int]) -> None:
        identities = [found.identity for found in self._found]
        set_numbers = self._lookups.number_sets({number: self._open[number] for number in numbers}, identities)

        def make_task(number: int) -> Task:
            request = self._open[number]
            set_info = self._lookups.set_info(request, set_numbers[number])
            return self._make_task(number, self._lookups.exercise(request), set_info)

        for number, result in self._run(numbers, make_task):
            request = self._open[number]
            outcome = Outcome(request, "failed", request.exercise_id, text=result.problem or "")
            if result.review is not None:
                try:
                    outcome = self._store_review(number, request, result.review, set_numbers[number])
                except MemoryError:
                    outcome = replace(outcome, text=NOT_ENOUGH_MEMORY)
            self._end(number, outcome)

    def _run(self, numbers: list[int], make_task: MakeTask) -> Iterator[tuple[int, TaskResult]]:
        """Number and result of each, as they come; landmarks that came along are stored by then."""
        with closing(self._runner.run(numbers, make_task)) as results:
            for number, result in results:
                if result.landmarks:
                    save_recordings(result.landmarks, Path(self._wanted.recordings))
                yield number, result

    def _make_task(self, number: int, exercise: Exercise | None, set_info: SetInfo) -> Task:
        request, wanted = self._open[number], self._wanted
        away = not (self._runner.shares_files or is_url(wanted.recordings))
        names = self._recording_names.get(number, [])
        return Task(
            clip=request.clip,
            exercise=exercise,
            recordings=None if away else wanted.recordings,
            view=request.view,
            set_info=set_info,
            pose_model=None if wanted.pose_model is None else str(wanted.pose_model),
            estimator_factory=wanted.estimator_factory,
            every_picture=wanted.every_picture,
            own_exercises=load_own_exercises(),
            landmarks=read_recordings(names, Path(wanted.recordings)) if away else (),
        )

    def _store_review(self, number: int, request: ClipRequest, document: str, set_number: int) -> Outcome:
        review = decode(document)
        problem = self._find_file_problem(number, request, review)
        if problem is not None:
            return Outcome(request, "failed", request.exercise_id, text=problem)
        review_id = self._store.save_review(
            review,
            created_at=self._wanted.clock(),
            client=request.client,
            clip_path=request.clip if request.is_remote else Path(request.clip).absolute(),
            session_on=self._lookups.day(request),
            set_number=set_number,
            once=True,
        )
        done, problems = review.complete_reps, review.quality.problems
        return Outcome(request, "reviewed", review.exercise.id, review_id, done, summarise(review), problems)

    def _find_file_problem(self, number: int, request: ClipRequest, review: Review) -> str | None:
        """Why a review is not stored: the file is not the one listed, or a part of it may still be missing."""
        if request.is_remote:
            return None
        if review.clip.sha256 != self._found[number].identity:
            return f"{quote_name(Path(request.clip))} changed while the batch ran; run the batch again."
        damaged = next((item for item in review.quality.problems if item.code == "clip-damaged"), None)
        if damaged is None or not was_written_lately(Path(request.clip), self._wanted.clock().timestamp()):
            return None
        return f"{describe_problem(damaged)} If it is still being copied, run the batch again once it is there in full."

    def _end(self, number: int, outcome: Outcome) -> None:
        self._outcomes[number] = outcome
        self._on_outcome(outcome)
