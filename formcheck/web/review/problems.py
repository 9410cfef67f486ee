"""Part of a review: what makes it impossible or incomplete, said first, and the one step that may mend it."""

import streamlit as st

from formcheck.core.model import Review
from formcheck.report.problem_text import (
    describe_problems,
    exercise_name,
    likely_exercise,
    problem_heading,
    reps_doubted,
)
from formcheck.reps.edits import as_exercise
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.web import layout
from formcheck.web.components import review_html
from formcheck.web.correction.save import save_correction


def show(review_id: int, review: Review) -> None:
    """Say every problem; where the clip looks like another exercise, offer to review it as that, or as it was asked."""
    sentences = describe_problems(review)
    if not sentences:
        return
    st.html(review_html.render_problems(problem_heading(review), sentences))
    other = likely_exercise(review)
    if other is None:
        return
    with st.container(horizontal=True):
        if st.button(f"Review it as {exercise_name(other)}", type="primary", key="review_as_other"):
            _review_as(review_id, other)
        if reps_doubted(review) and st.button(f"It is {review.exercise.name}", key="review_as_asked"):
            _review_as(review_id, review.exercise.id)


def _review_as(review_id: int, exercise_id: str) -> None:
    with layout.show_errors():
        with Store.open(default_store()) as store:
            edits = store.edits_of(review_id)
        save_correction(review_id, as_exercise(edits, exercise_id))
