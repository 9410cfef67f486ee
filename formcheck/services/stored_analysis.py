"""A stored review with its curves and landmarks, for pages that hold several side by side."""

from dataclasses import dataclass, replace

import streamlit as st

from formcheck.analysis import analyse
from formcheck.core.errors import FormcheckError
from formcheck.core.model import Analysis, LandmarkRecording, Review
from formcheck.exercises.schema import Exercise
from formcheck.services.correction import exercise_for
from formcheck.storage import Store
from formcheck.storage.data_folder import data_home, default_store, recordings_folder
from formcheck.storage.media_files import artefacts


@dataclass(frozen=True, eq=False)
class Material:
    """What a comparison is drawn from; curves and landmarks are None where they are kept no more."""

    review: Review
    exercise: Exercise | None
    analysis: Analysis | None = None
    recording: LandmarkRecording | None = None
    problem: str | None = None
    """Why there are none, in a sentence."""


def material(review_id: int) -> Material:
    """Fetch a review and what is kept of its landmarks (StoreError when there is no such review)."""
    with Store.open(default_store()) as store:
        review = store.load_review(review_id)
        (row,) = store.list_reviews(review_id=review_id)
        exercise = None
        try:
            exercise = exercise_for(store, review.exercise.id, row.client_id)
            original = store.load_original(review_id)
            analysis, recording = _analysed(
                review_id, original.clip.sha256, original.pose_model.sha256, exercise.id, review.view.name, exercise
            )
        except FormcheckError as error:
            return Material(review, exercise, problem=str(error))
    # The numbers shown are the stored ones, with what was corrected by hand.
    return Material(review, exercise, replace(analysis, review=review), recording)


@st.cache_resource(max_entries=8, show_spinner=False)
def _analysed(
    review_id: int, clip: str, model: str, exercise_id: str, view: str, _exercise: Exercise
) -> tuple[Analysis, LandmarkRecording]:
    from formcheck.pose.recording import load_recording
    from formcheck.storage.curve_cache import KeptCurves
    from formcheck.storage.recording_cache import kept_recording

    drawn = artefacts(data_home(), review_id).recording
    recording = load_recording(drawn) if drawn.is_file() else kept_recording(clip, model, recordings_folder())
    curves = KeptCurves(recordings_folder())
    return analyse(recording, _exercise, view=view, curves=curves), recording  # type: ignore[arg-type]  # stored
