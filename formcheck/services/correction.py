"""A stored review corrected by hand: tried, or kept as the review that holds from now on."""

from datetime import datetime
from pathlib import Path

from formcheck.core.model import Analysis, LandmarkRecording
from formcheck.exercises.registry import list_exercises_with
from formcheck.reps.edits import Edits
from formcheck.services.other_exercise import name_other_exercise
from formcheck.services.stored_analysis import analyse_stored
from formcheck.storage import Store


def analyse_corrected(
    store: Store, review_id: int, edits: Edits, home: Path, *, recording: LandmarkRecording | None = None
) -> Analysis:
    """What the analysis says with these corrections; nothing is stored.

    Parameters
    ----------
    edits : all corrections, those made before included; the empty ones give the machine's result.
    home : the data folder.
    recording : the landmarks, when they are at hand already (`formcheck.services.stored_analysis`).

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
    """`analyse_corrected`, kept as the review that holds from now on; the machine's own stays retrievable."""
    analysis = analyse_corrected(store, review_id, edits, home, recording=recording)
    store.save_revision(review_id, edits, analysis.review, created_at=created_at)
    return analysis
