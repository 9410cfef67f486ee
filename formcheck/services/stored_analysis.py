"""A stored review as an analysis again: its landmarks and corrections found, and analysed with the kept curves."""

from dataclasses import dataclass, replace
from pathlib import Path

from formcheck.analysis import analyse
from formcheck.core.errors import RecordingError
from formcheck.core.model import Analysis, CameraView, LandmarkRecording, Review, SecondCamera, ViewHint
from formcheck.exercises.schema import Exercise
from formcheck.pairing.pair_review import review_pair
from formcheck.pose.recording import load_recording
from formcheck.reps.edits import Edits
from formcheck.services.own_limits import exercise_for
from formcheck.storage import Store
from formcheck.storage.curve_cache import CurveCache
from formcheck.storage.data_folder import DataFolder
from formcheck.storage.recording_cache import find_recording


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
    """Fetch a review with its curves and landmarks; quick where the curves are kept (`formcheck.storage.curve_cache`).

    Parameters
    ----------
    home : the data folder.
    recording : its landmarks, when they are at hand already (`load_stored_recording`).

    Of two cameras of which the second one's landmarks are lost, the curves are the first one's. Raises StoreError when
    there is no such review, RecordingError when its landmarks are not kept any more, UsageError when its exercise or a
    correction no longer fits.
    """
    review = store.load_review(review_id)
    if recording is None:
        recording = load_stored_recording(store, review_id, home)
    (row,) = store.list_reviews(review_id=review_id)
    exercise = exercise_for(store, review.exercise.id, row.client_id)
    original, edits = store.load_original(review_id), store.edits_of(review_id)
    try:
        analysis = _analyse(recording, exercise, original, edits, home, second=original.second)
    except RecordingError:
        analysis = _analyse(recording, exercise, original, edits, home, second=None)
    # What was told the lifter then holds, whatever today's limits and code say.
    return StoredAnalysis(replace(analysis, review=review), recording, exercise)


def analyse_stored(
    store: Store, review_id: int, edits: Edits, home: Path, *, recording: LandmarkRecording | None = None
) -> StoredAnalysis:
    """Analyse the landmarks of a stored review anew, as its client's limits are today.

    Parameters
    ----------
    edits : all corrections by hand; the empty ones give the machine's result.
    home, recording : as for `load_stored_analysis`.

    Raises UsageError for a correction that does not fit, StoreError and RecordingError.
    """
    original = store.load_original(review_id)
    if recording is None:
        recording = load_stored_recording(store, review_id, home)
    (row,) = store.list_reviews(review_id=review_id)
    exercise = exercise_for(store, edits.exercise_id or original.exercise.id, row.client_id)
    analysis = _analyse(recording, exercise, original, edits, home, second=original.second)
    return StoredAnalysis(analysis, recording, exercise)


def load_stored_recording(store: Store, review_id: int, home: Path) -> LandmarkRecording:
    """The landmarks a stored review was made from: those it was drawn from, else those kept of the clip.

    Raises StoreError when there is no such review, RecordingError when they are not kept any more or damaged.
    """
    original = store.load_original(review_id)
    wanted = original.clip.sha256, original.pose_model.sha256
    try:
        recording = load_recording(DataFolder(home).artifacts(review_id).recording)
        # What lies there may belong to a review of this number in another store.
        if (recording.clip.sha256, recording.pose_model.sha256) != wanted:
            raise RecordingError("These are the body points of another clip.")
    except RecordingError:
        recording = find_recording(*wanted, DataFolder(home).recordings)
    return _named(recording, original.clip.name)


def _analyse(
    recording: LandmarkRecording,
    exercise: Exercise,
    original: Review,
    edits: Edits,
    home: Path,
    *,
    second: SecondCamera | None,
) -> Analysis:
    recordings, set_info, view = DataFolder(home).recordings, original.set_info, _hint(original.view)
    curves = CurveCache(recordings)
    if second is None:
        return analyse(recording, exercise, view=view, set_info=set_info, edits=edits, curves=curves)
    other = find_recording(second.clip.sha256, original.pose_model.sha256, recordings)
    return review_pair(recording, _named(other, second.clip.name), exercise, views=(view, _hint(second.view)),
                       set_info=set_info, edits=edits, known=second, curves=curves)  # fmt: skip


def _named(recording: LandmarkRecording, name: str) -> LandmarkRecording:
    """The recording of a clip that was reviewed under this name; a stored review has its frame rate rounded."""
    return replace(recording, clip=replace(recording.clip, name=name))


def _hint(view: CameraView) -> ViewHint:
    """The view as it was asked for: one that was estimated is estimated again, so that its curves are found."""
    return view.name if view.origin == "given" else "auto"
