"""What a worker does beside reviewing: the clip with the skeleton drawn in, and the verdict on a test clip."""

import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

from formcheck.errors import StoreError
from formcheck.exercises.registry import get_exercise
from formcheck.page.jobs import JobRequest, replace_file
from formcheck.page.shelf import artefacts
from formcheck.signals.placement import Advice, judge_placement
from formcheck.store import Store
from formcheck.store.home import data_home, default_store, recordings_folder

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


def judge_test_clip(folder: Path, request: JobRequest, tell: Tell) -> None:
    """Look at a short clip and write into the job's folder what is to be moved before the set is filmed."""
    from formcheck.capture.light import measure_light
    from formcheck.capture.pose import MediaPipeEstimator
    from formcheck.capture.recording import cached_recording

    clip = Path(request.clip_path)
    recording = cached_recording(clip, MediaPipeEstimator, recordings_folder(), on_progress=tell)
    wanted = "front" if request.view == "auto" else request.view
    light = measure_light(clip, recording)
    advice = judge_placement(recording, get_exercise(request.exercise), wanted=wanted, light=light)
    replace_file(folder / "placement.json", json.dumps([asdict(item) for item in advice]))


def read_verdict(folder: Path) -> tuple[Advice, ...]:
    """What the look at a test clip said; empty when it cannot be read."""
    try:
        loaded = json.loads((folder / "placement.json").read_text(encoding="utf-8"))
        return tuple(Advice(**item) for item in loaded)
    except (OSError, ValueError, TypeError):
        return ()
