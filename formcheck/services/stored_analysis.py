"""A stored review analysed again, from its landmarks, corrections and cached curves; corrected by hand."""

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from formcheck.analysis import analyse
from formcheck.core.errors import RecordingError
from formcheck.core.model import Analysis, CameraView, LandmarkRecording, ViewHint
from formcheck.exercises.registry import list_exercises_with
from formcheck.exercises.schema import Exercise
from formcheck.pairing.pair_review import review_pair
from formcheck.pose.recording import load_recording
from formcheck.reps.edits import Edits
from formcheck.services.other_exercise import name_other_exercise
from formcheck.services.own_limits import exercise_for
from formcheck.services.reference_rep import attach_reference
from formcheck.storage import Store
from formcheck.storage.curve_cache import CurveCache
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.recording_cache import find_recording, is_same_model


@dataclass(frozen=True, eq=False)
class StoredAnalysis:
    """A stored review as an analysis, with all that it is drawn from."""

    analysis: Analysis
    """The review with the curves of today's code."""
    recording: LandmarkRecording
    """The landmarks; of two cameras, the first one's."""
    exercise: Exercise
    """With the own limits in force today; the findings of the review are those of the limits then."""


def load_stored_analysis(
    store: Store, review_id: int, home: Path, *, recording: LandmarkRecording | None = None
) -> StoredAnalysis:
    """Fetch a review with its curves and landmarks; quick where curves are cached (`formcheck.storage.curve_cache`).

    Parameters
    ----------
    home : the data folder.
    recording : its landmarks, when they are at hand already (`load_stored_recording`).

    Of two cameras of which the second one's landmarks are lost, the curves are the first one's. Raises StoreError when
    there is no such review, RecordingError when its landmarks are not stored any more, UsageError when its exercise or
    a correction no longer fits.
    """
    review = store.load_review(review_id)
    edits = store.edits_of(review_id)
    try:
        found = analyse_stored(store, review_id, edits, home, recording=recording)
    except RecordingError:
        found = analyse_stored(store, review_id, edits, home, recording=recording, both_cameras=False)
    # What was told the lifter then holds, whatever today's limits and code say.
    review = attach_reference(store, review_id, review)
    return replace(found, analysis=replace(found.analysis, review=review))


def analyse_stored(
    store: Store,
    review_id: int,
    edits: Edits,
    home: Path,
    *,
    recording: LandmarkRecording | None = None,
    both_cameras: bool = True,
) -> StoredAnalysis:
    """Analyse the landmarks of a stored review anew, as its client's limits are today.

    Parameters
    ----------
    edits : all corrections by hand; the empty ones give the machine's result.
    home, recording : as for `load_stored_analysis`.
    both_cameras : of two cameras, whether the second one counts.

    Raises UsageError for a correction that does not fit, StoreError and RecordingError.
    """
    original = store.load_original(review_id)
    recording = recording or load_stored_recording(store, review_id, home)
    (row,) = store.list_reviews(review_id=review_id)
    exercise = exercise_for(store, edits.exercise_id or original.exercise.id, row.client_id)
    recordings, set_info, view = DataFolder(home).recordings, original.set_info, _view_hint(original.view)
    curves, second = CurveCache(recordings), original.second if both_cameras else None
    if second is None:
        analysis = analyse(recording, exercise, view=view, set_info=set_info, edits=edits, curves=curves)
    else:
        other = find_recording(second.clip.sha256, original.pose_model, recordings)
        other, views = _rename_clip(other, second.clip.name), (view, _view_hint(second.view))
        analysis = review_pair(recording, other, exercise, views=views, set_info=set_info, edits=edits, known=second,
                               curves=curves)  # fmt: skip
    return StoredAnalysis(analysis, recording, exercise)


def analyse_corrected(
    store: Store, review_id: int, edits: Edits, home: Path, *, recording: LandmarkRecording | None = None
) -> Analysis:
    """What the analysis says with these corrections; nothing is stored.

    Parameters
    ----------
    edits : all corrections, those made before included; the empty ones give the machine's result.
    home : the data folder.
    recording : the landmarks, when they are at hand already.

    Raises UsageError for a correction that does not fit, StoreError and RecordingError.
    """
    found = analyse_stored(store, review_id, edits, home, recording=recording)
    if found.analysis.review.second is not None:
        return found.analysis
    return name_other_exercise(found.analysis, found.recording, list_exercises_with(found.exercise))


def correct(
    store: Store,
    review_id: int,
    edits: Edits,
    home: Path,
    *,
    created_at: datetime,
    recording: LandmarkRecording | None = None,
) -> Analysis:
    """`analyse_corrected`, stored as the review that holds from now on; the machine's own stays retrievable."""
    analysis = analyse_corrected(store, review_id, edits, home, recording=recording)
    store.save_revision(review_id, edits, analysis.review, created_at=created_at)
    return analysis


def renew(store: Store, review_id: int, home: Path, *, created_at: datetime) -> Analysis:
    """A stored review made anew from its landmarks by today's program, with the corrections that hold.

    It holds from now on; the one made first stays retrievable (`Store.load_original`), the one of before is back when
    the newest correction is undone. Raises as `correct`.
    """
    return correct(store, review_id, store.edits_of(review_id), home, created_at=created_at)


def load_stored_recording(store: Store, review_id: int, home: Path) -> LandmarkRecording:
    """The landmarks a stored review was made from: those it was drawn from, else those cached of the clip.

    Raises StoreError when there is no such review, RecordingError when they are not stored any more or damaged.
    """
    original = store.load_original(review_id)
    try:
        recording = load_recording(DataFolder(home).artifacts(review_id).recording)
        # What lies there may belong to a review of this number in another store.
        same = is_same_model(recording.pose_model, original.pose_model)
        if recording.clip.sha256 != original.clip.sha256 or not same:
            raise RecordingError("These are the body points of another clip.")
    except RecordingError:
        recording = find_recording(original.clip.sha256, original.pose_model, DataFolder(home).recordings)
    return _rename_clip(recording, original.clip.name)


def _rename_clip(recording: LandmarkRecording, name: str) -> LandmarkRecording:
    """The recording of a clip that was reviewed under this name; a stored review has its frame rate rounded."""
    return replace(recording, clip=replace(recording.clip, name=name))


def _view_hint(view: CameraView) -> ViewHint:
    """The view as it was asked for: one that was estimated is estimated again, so that its curves are found."""
    return view.name if view.origin == "given" else "auto"
