"""A stored review made anew from its landmarks: with corrections by hand, with own limits."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from formcheck.analysis import analyse
from formcheck.core.model import Analysis, CameraView, LandmarkRecording, ViewHint
from formcheck.exercises.limits import Limits, with_limits
from formcheck.exercises.registry import exercise_of_review, exercises_with, get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.findings import Change, changed_findings
from formcheck.pairing import review_pair
from formcheck.reps.edits import Edits
from formcheck.services.other_exercise import name_other_exercise
from formcheck.storage import Store, StoredReview
from formcheck.storage.curve_cache import KeptCurves
from formcheck.storage.recording_cache import kept_recording

_TOGETHER = 100
"""Reviews held in memory at once where very many are gone through."""


@dataclass(frozen=True, slots=True)
class LimitEffect:
    """One past review whose findings other limits would change."""

    row: StoredReview
    changes: tuple[Change, ...]


def exercise_for(store: Store, exercise_id: str, client: str | int | None = None) -> Exercise:
    """The exercise with the own limits in force for this client (UsageError, StoreError)."""
    own = store.limits_of(exercise_id, client=client)
    return with_limits(exercise_of_review(exercise_id), *(item.changes for item in own), stored=True)


def stored_recording(store: Store, review_id: int, recordings: Path) -> LandmarkRecording:
    """The landmarks a stored review was made from (StoreError, RecordingError when they are not kept any more)."""
    original = store.load_original(review_id)
    recording = kept_recording(original.clip.sha256, original.pose_model.sha256, recordings)
    return replace(recording, clip=original.clip)


def corrected_analysis(
    store: Store, review_id: int, edits: Edits, recordings: Path, *, recording: LandmarkRecording | None = None
) -> Analysis:
    """What the analysis says with these corrections; nothing is stored.

    Parameters
    ----------
    edits : all corrections, those made before included; the empty ones give the machine's result.
    recordings : folder of landmark recordings and the curves read from them.
    recording : the landmarks, when they are at hand already (`stored_recording`).

    Raises UsageError for a correction that does not fit, StoreError and RecordingError.
    """
    original = store.load_original(review_id)
    if recording is None:
        recording = stored_recording(store, review_id, recordings)
    (row,) = store.list_reviews(review_id=review_id)
    exercise = exercise_for(store, edits.exercise_id or original.exercise.id, row.client_id)
    set_info, second, curves = original.set_info, original.second, KeptCurves(recordings)
    if second is None:
        view = _hint(original.view)
        analysis = analyse(recording, exercise, view=view, set_info=set_info, edits=edits, curves=curves)
        return name_other_exercise(analysis, recording, exercises_with(exercise))
    other = kept_recording(second.clip.sha256, original.pose_model.sha256, recordings)
    views = (_hint(original.view), _hint(second.view))
    return review_pair(recording, replace(other, clip=second.clip), exercise, views=views, set_info=set_info,
                       edits=edits, known=second, curves=curves)  # fmt: skip


def _hint(view: CameraView) -> ViewHint:
    return view.name if view.origin == "given" else "auto"


def correct(
    store: Store,
    review_id: int,
    edits: Edits,
    recordings: Path,
    *,
    created_at: datetime,
    recording: LandmarkRecording | None = None,
) -> Analysis:
    """`corrected_analysis`, kept as the review that holds from now on; the machine's own stays retrievable."""
    analysis = corrected_analysis(store, review_id, edits, recordings, recording=recording)
    store.save_revision(review_id, edits, analysis.review, created_at=created_at)
    return analysis


def limit_effects(
    store: Store,
    exercise_id: str,
    changes: Limits,
    *,
    client: str | int | None = None,
    newest: int | None = None,
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
    with_limits(shipped, changes)
    if client is not None:
        client = store.get_client(client).id
    effects = []
    after: dict[int | None, Exercise] = {}
    rows = store.list_reviews(client=client, exercise_id=exercise_id, limit=newest)
    for begin in range(0, len(rows), _TOGETHER):
        some = rows[begin : begin + _TOGETHER]
        reviews = store.load_reviews([row.id for row in some])
        for row in some:
            if row.client_id not in after:
                layers = _layers(store, exercise_id, changes, client, row.client_id)
                after[row.client_id] = with_limits(shipped, *layers, stored=True)
            found = changed_findings(reviews[row.id], after[row.client_id])
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
