"""What a worker does beside reviewing: the clip with the skeleton drawn in, and the verdict on a test clip."""

from collections.abc import Callable
from pathlib import Path

from formcheck.errors import StoreError
from formcheck.exercises.registry import get_exercise
from formcheck.page.jobs import JobRequest
from formcheck.page.shelf import artefacts
from formcheck.store import Store
from formcheck.store.home import data_home, default_store

Tell = Callable[[float, float | None], None]
"""Called with seconds of the clip done and in all."""


def draw_film(request: JobRequest, tell: Tell) -> int:
    """Draw the skeleton into the clip of a stored review; the review's number."""
    from formcheck.capture.recording import load_recording
    from formcheck.report.overlay import rep_captions, write_overlay

    if request.review_id is None:
        raise StoreError("The film belongs to no review.")
    with Store.open(default_store()) as store:
        review = store.load_review(request.review_id)
    drawn = artefacts(data_home(), request.review_id)
    write_overlay(
        Path(request.clip_path),
        load_recording(drawn.recording),
        drawn.overlay,
        captions=rep_captions(review.reps, get_exercise(request.exercise).driver.first),
        on_progress=tell,
    )
    return request.review_id
