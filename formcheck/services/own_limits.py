"""A coach's own limits: the exercise they give, and what they would change in past reviews."""

from collections.abc import Sequence
from dataclasses import dataclass

from formcheck.core.model import Finding, Review
from formcheck.exercises.limits import Limits, apply_limits, note_measures
from formcheck.exercises.registry import get_exercise, get_reviewed_exercise
from formcheck.exercises.schema import Exercise
from formcheck.findings import judge_again
from formcheck.report.wording import ShownGrade
from formcheck.storage import Store, StoredReview
from formcheck.storage.database import in_batches
from formcheck.verdicts import get_judged_check

_LOADED_AT_ONCE = 100
"""Reviews held in memory at once where very many are gone through."""


@dataclass(frozen=True, slots=True)
class GradeChange:
    """What other limits would make of some reps; None where there was, or would be, no finding."""

    check: str
    title: str
    reps: tuple[int, ...]
    before: ShownGrade | None
    after: ShownGrade | None


@dataclass(frozen=True, slots=True)
class LimitEffect:
    """One past review whose findings other limits would change."""

    row: StoredReview
    changes: tuple[GradeChange, ...]


def exercise_for(store: Store, exercise_id: str, client: str | int | None = None) -> Exercise:
    """The exercise with the own limits in force for this client (UsageError, StoreError)."""
    own = store.limits_of(exercise_id, client=client)
    return apply_limits(get_reviewed_exercise(exercise_id), *(item.changes for item in own), stored=True)


def find_limit_effects(
    store: Store, exercise_id: str, changes: Limits, *, client: str | int | None = None, newest: int | None = None
) -> list[LimitEffect]:
    """Which findings of past reviews would change if these own limits replaced those in force; nothing is stored.

    Parameters
    ----------
    changes : the own limits to try, for the client, or for all clients when `client` is None.
    newest : how many reviews to look at; all when not given (a few milliseconds each).

    Re-evaluated from the stored numbers, so it needs no landmarks. The newest review comes first. With `client` None,
    clients with own limits of their own keep them on top. Raises UsageError for limits that do not fit the exercise.
    """
    shipped = get_exercise(exercise_id)
    apply_limits(shipped, changes)
    changes = note_measures(shipped, changes)
    if client is not None:
        client = store.get_client(client).id
    effects = []
    after: dict[int | None, Exercise] = {}
    rows = store.list_reviews(client=client, exercise_id=exercise_id, limit=newest)
    for some in in_batches(rows, _LOADED_AT_ONCE):
        reviews = store.load_reviews([row.id for row in some])
        for row in some:
            if row.client_id not in after:
                layers = _layers(store, exercise_id, changes, client, row.client_id)
                after[row.client_id] = apply_limits(shipped, *layers, stored=True)
            found = find_grade_changes(reviews[row.id], after[row.client_id])
            if found:
                effects.append(LimitEffect(row, found))
    return effects


def _layers(
    store: Store, exercise_id: str, changes: Limits, client: str | int | None, whose: int | None
) -> Sequence[Limits]:
    """Own limits that would hold for a review of `whose`: those for all clients, and the client's over them."""
    if client is not None:
        return [*(item.changes for item in store.limits_of(exercise_id)), changes]
    own = store.limits_of(exercise_id, client=whose) if whose is not None else []
    return [changes, *(item.changes for item in own if item.client_id is not None)]


def find_grade_changes(review: Review, exercise: Exercise) -> tuple[GradeChange, ...]:
    """Where the exercise's limits would grade the reps of a stored review otherwise than they were."""
    # What was found before there were grades is graded by today's rule under the limits of then: only limits differ.
    then = review.findings if review.points else judge_again(review, _restore_limits(review, exercise)).findings
    before, after = _map_by_rep(then), _map_by_rep(judge_again(review, exercise).findings)
    titles = {check.id: check.title for check in exercise.checks}
    grouped: dict[tuple[str, ShownGrade | None, ShownGrade | None], list[int]] = {}
    for key in sorted(before.keys() | after.keys()):
        if before.get(key) != after.get(key):
            grouped.setdefault((key[0], before.get(key), after.get(key)), []).append(key[1])
    return tuple(
        GradeChange(check, titles.get(check, check), tuple(reps), was, becomes)
        for (check, was, becomes), reps in grouped.items()
    )


def _restore_limits(review: Review, exercise: Exercise) -> Exercise:
    """The exercise with the limits a stored review was judged by."""
    found = {item.check: item for item in review.findings if item.kind == "level"}
    checks = [get_judged_check(item, found[item.id]) if item.id in found else item for item in exercise.checks]
    return exercise.model_copy(update={"checks": tuple(checks)})


def _map_by_rep(findings: Sequence[Finding]) -> dict[tuple[str, int], ShownGrade]:
    levels = [item for item in findings if item.kind == "level"]
    return {(item.check, rep): item.grade or "unseen" for item in levels for rep in item.reps}
