"""A batch from its orders to its summary. Only this process writes the store; whatever runs the tasks only answers."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import overload

from formcheck.batch.growing_files import was_written_lately
from formcheck.batch.local import Runner
from formcheck.batch.planning import Key, StoreLookups, find_clips, key_of
from formcheck.batch.remote_files import is_url, read_recordings, save_recordings
from formcheck.batch.requests import AUTO, ClipRequest, Outcome, State, Summary
from formcheck.batch.task import Task, TaskResult
from formcheck.core.errors import NOT_ENOUGH_MEMORY
from formcheck.core.model import Review, SetInfo
from formcheck.exercises.registry import own_exercises
from formcheck.exercises.schema import Exercise
from formcheck.formats import decode
from formcheck.report.problem_text import describe_problem
from formcheck.report.wording import in_short
from formcheck.services.pipeline import EstimatorFactory
from formcheck.storage import Store
from formcheck.video.clip_file import quote_name


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class BatchRequest:
    """A batch.

    Attributes
    ----------
    recordings : where landmarks are kept: a folder, or a URL that every worker can reach.
    pose_model : a model bundle to use instead of the shipped one.
    estimator_factory : makes what finds the landmarks; takes the place of `pose_model`.
    clock : the time now, with time zone.
    """

    orders: Sequence[ClipRequest]
    recordings: str
    pose_model: Path | None = None
    estimator_factory: EstimatorFactory | None = None
    clock: Callable[[], datetime] = _now


def run(
    wanted: BatchRequest, store: Store, runner: Runner, *, on_outcome: Callable[[Outcome], None] | None = None
) -> Summary:
    """Review what is missing and keep it.

    A review that `on_outcome` was told of is on disk. A clip that cannot be reviewed becomes an outcome like any
    other; only what is wrong with the store or with the runner ends the batch (StoreError, UsageError). Run again, it
    does what is missing: a clip, client and exercise have one review however often this was interrupted.
    """
    return _Batch(wanted, store, runner, on_outcome or (lambda _: None)).done()


class _Batch:
    def __init__(self, wanted: BatchRequest, store: Store, runner: Runner, tell: Callable[[Outcome], None]) -> None:
        self._wanted, self._store, self._runner, self._tell = wanted, store, runner, tell
        self._desk = StoreLookups(store, wanted.clock().astimezone().date())
        self._known = find_clips(wanted.orders)
        self._open: dict[int, ClipRequest] = {}
        """What is still to be done, by the place in the list."""
        self._first: dict[Key, int] = {}
        self._same: dict[int, int] = {}
        """Place of a clip → place of the same one earlier in the list."""
        self._outcomes: dict[int, Outcome] = {}
        self._names: dict[int, tuple[str, ...]] = {}
        """Files of landmarks that came with a suggestion."""

    def done(self) -> Summary:
        for place, order in enumerate(self._wanted.orders):
            self._sort_out(place, order)
        self._suggest([place for place, order in self._open.items() if order.exercise_id == AUTO])
        self._review(sorted(self._open))
        for place, first in self._same.items():
            there = self._outcomes[first]
            state: State = "failed" if there.state == "failed" else "again"
            self._end(place, replace(there, order=self._wanted.orders[place], state=state))
        return Summary(tuple(self._outcomes[place] for place in range(len(self._wanted.orders))))

    def _sort_out(self, place: int, order: ClipRequest) -> None:
        known = self._known[place]
        if known.problem is not None:
            self._end(place, Outcome(order, "failed", text=known.problem))
            return
        row = self._desk.stored(order, known)
        if row is not None:
            text = f"In the store already as review {row.id}."
            self._end(place, Outcome(order, "there", row.exercise_id, row.id, row.complete_reps, text))
        else:
            self._take_up(place, order)

    def _take_up(self, place: int, order: ClipRequest) -> None:
        first = self._first.setdefault(key_of(order, self._known[place]), place)
        if first == place:
            self._open[place] = order
        else:
            self._open.pop(place, None)
            self._same[place] = first

    def _suggest(self, places: list[int]) -> None:
        for place, answer in self._answers(places, lambda place: self._task(place, None, SetInfo())):
            if answer.exercise_id is None:
                self._end(place, Outcome(self._open.pop(place), "failed", text=answer.problem or ""))
                continue
            self._names[place] = tuple(name for name, _ in answer.landmarks)
            self._open[place] = replace(self._open[place], exercise_id=answer.exercise_id)
        for place in places:
            if place in self._open:
                self._take_up(place, self._open[place])

    def _review(self, places: list[int]) -> None:
        marks = {place: known.mark for place, known in enumerate(self._known)}
        numbers = self._desk.numbers({place: self._open[place] for place in places}, marks)

        def task(place: int) -> Task:
            order = self._open[place]
            return self._task(place, self._desk.exercise(order), self._desk.set_info(order, numbers[place]))

        for place, answer in self._answers(places, task):
            order = self._open[place]
            problem = answer.problem or ""
            if answer.review is not None:
                try:
                    self._keep(place, order, answer.review, numbers[place])
                except MemoryError:
                    problem = NOT_ENOUGH_MEMORY
            if place not in self._outcomes:
                self._end(place, Outcome(order, "failed", order.exercise_id, text=problem))

    def _answers(self, places: list[int], make: Callable[[int], Task]) -> Iterator[tuple[int, TaskResult]]:
        """Place in the list and answer of each, as they come; landmarks that came along are kept by then."""
        tasks = _Tasks(places, make)
        with closing(self._runner.run(tasks)) as answers:
            for number, answer in answers:
                if answer.landmarks:
                    save_recordings(answer.landmarks, Path(self._wanted.recordings))
                yield places[number], answer

    def _task(self, place: int, exercise: Exercise | None, set_info: SetInfo) -> Task:
        order, wanted = self._open[place], self._wanted
        away = not (self._runner.shares_files or is_url(wanted.recordings))
        return Task(
            clip=order.clip,
            exercise=exercise,
            recordings=None if away else wanted.recordings,
            view=order.view,
            set_info=set_info,
            pose_model=None if wanted.pose_model is None else str(wanted.pose_model),
            estimator_factory=wanted.estimator_factory,
            own_exercises=own_exercises(),
            landmarks=read_recordings(self._names.get(place, ()), Path(wanted.recordings)) if away else (),
        )

    def _keep(self, place: int, order: ClipRequest, document: str, number: int) -> None:
        review = decode(document)
        problem = self._not_there_in_full(place, order, review)
        if problem is not None:
            self._end(place, Outcome(order, "failed", order.exercise_id, text=problem))
            return
        review_id = self._store.save_review(
            review,
            created_at=self._wanted.clock(),
            client=order.client,
            clip_path=order.clip if order.is_remote else Path(order.clip).absolute(),
            session_on=self._desk.day(order),
            set_number=number,
            once=True,
        )
        reps = sum(rep.complete for rep in review.reps)
        problems = review.quality.problems
        self._end(place, Outcome(order, "reviewed", review.exercise.id, review_id, reps, in_short(review), problems))

    def _not_there_in_full(self, place: int, order: ClipRequest, review: Review) -> str | None:
        """Why a review is not kept: the file is not the one that was listed, or a part of it may still be coming."""
        if order.is_remote:
            return None
        if review.clip.sha256 != self._known[place].mark:
            return f"{quote_name(Path(order.clip))} changed while the batch ran; run the batch again."
        damaged = next((item for item in review.quality.problems if item.code == "clip-damaged"), None)
        if damaged is None or not was_written_lately(Path(order.clip), self._wanted.clock().timestamp()):
            return None
        return f"{describe_problem(damaged)} If it is still being copied, run the batch again once it is there in full."

    def _end(self, place: int, outcome: Outcome) -> None:
        self._outcomes[place] = outcome
        self._tell(outcome)


class _Tasks(Sequence[Task]):
    """Made one by one, since each may hold a clip's landmarks."""

    def __init__(self, places: list[int], make: Callable[[int], Task]) -> None:
        self._places, self._make = places, make

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, number: int) -> Task: ...

    @overload
    def __getitem__(self, number: slice) -> Sequence[Task]: ...

    def __getitem__(self, number: int | slice) -> Task | Sequence[Task]:
        if isinstance(number, slice):
            return _Tasks(self._places[number], self._make)
        return self._make(self._places[number])
