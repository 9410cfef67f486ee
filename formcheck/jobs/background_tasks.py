"""A worker's tasks beside reviewing: a film with the skeleton, a part of it, the verdict on a test clip, the exercise
of a clip.
"""

import json
import shutil
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from pydantic import TypeAdapter

from formcheck.core.errors import FormcheckError, StoreError
from formcheck.core.model import ProgressReport, Review
from formcheck.exercises.registry import get_exercise
from formcheck.jobs.queue import Job, JobRequest, find_job
from formcheck.report.placement_text import WrittenHint, write_hint
from formcheck.report.problem_text import describe_problem
from formcheck.report.words import describe_reason
from formcheck.sandbox.sandboxed_tracking import PartsReport
from formcheck.services.delete import delete_upload
from formcheck.services.excerpt import ExcerptWish, write_excerpt
from formcheck.services.review_outputs import load_review_outputs
from formcheck.services.thumbnail import make_clip_thumbnail
from formcheck.signals.placement import judge_placement
from formcheck.storage import Store
from formcheck.storage.data_folder import DataFolder, data_home, default_store, recordings_folder

_WISH = TypeAdapter(ExcerptWish)


def draw_film(request: JobRequest, report: ProgressReport) -> int:
    """Draw the skeleton into the clip of a stored review; the review's number."""
    from formcheck.pose.recording import load_recording
    from formcheck.report.overlay import make_captions, write_overlay

    if request.review_id is None:
        raise StoreError("The film belongs to no review.")
    with Store.open(default_store()) as store:
        review = store.load_review(request.review_id)
    drawn = DataFolder(data_home()).artifacts(request.review_id)
    write_overlay(
        Path(request.clip_path),
        load_recording(drawn.recording),
        drawn.covered if request.blur_faces else drawn.overlay,
        captions=make_captions(review.reps, get_exercise(request.exercise).driver.first),
        blur_faces=request.blur_faces,
        faces_file=drawn.faces,
        on_progress=report,
    )
    return request.review_id


def request_excerpt(review_id: int, review: Review, clip_path: str, wish: ExcerptWish) -> JobRequest:
    """What to ask for to have a part cut out of the clip of a review."""
    asked = json.dumps(asdict(wish), sort_keys=True)
    return JobRequest(
        clip_path, review.clip.name, review.exercise.id, "auto", review_id=review_id, kind="excerpt", excerpt=asked
    )


def read_excerpt_wish(request: JobRequest) -> ExcerptWish:
    """What is to be cut out (StoreError when that cannot be read)."""
    try:
        return _WISH.validate_json(request.excerpt or "")
    except ValueError as error:
        raise StoreError("What is to be cut out of the clip cannot be read.") from error


def cut_excerpt(job: Job, report: ProgressReport) -> int:
    """Cut a part out of the clip of a stored review, into the job's folder; the review's number."""
    if job.request.review_id is None:
        raise StoreError("The excerpt belongs to no review.")
    wish = read_excerpt_wish(job.request)
    with Store.open(default_store()) as store:
        made = load_review_outputs(store, job.request.review_id, data_home())
    out = DataFolder(data_home()).excerpt(job.name)
    shutil.rmtree(out.parent, ignore_errors=True)  # of a worker that was killed while it cut
    out.parent.mkdir(parents=True)
    write_excerpt(made, wish, out, on_progress=report)
    return job.request.review_id


def judge_test_clip(request: JobRequest, report: ProgressReport) -> str:
    """What is to be moved before the set is filmed, judged from a short clip; as JSON."""
    from formcheck.pose.estimator import MediaPipeEstimator
    from formcheck.storage.recording_cache import cached_recording
    from formcheck.video.brightness import measure_light

    clip = Path(request.clip_path)
    recording = cached_recording(clip, MediaPipeEstimator, recordings_folder(), on_progress=report)
    wanted = "front" if request.view == "auto" else request.view
    light = measure_light(clip, recording)
    advice = judge_placement(recording, get_exercise(request.exercise), wanted=wanted, light=light)
    return json.dumps([asdict(write_hint(item)) for item in advice])


def read_verdict(result: str | None) -> tuple[WrittenHint, ...]:
    """The verdict on a test clip; empty when it cannot be read."""
    try:
        return tuple(WrittenHint(**item) for item in json.loads(result or ""))
    except (ValueError, TypeError):
        return ()


@dataclass(frozen=True, slots=True)
class ClipSuggestion:
    """What a clip probably shows, to be confirmed by the user."""

    ranked: tuple[tuple[str, float], ...]
    """(exercise id, confidence 0..1), the likeliest first."""
    sure: bool
    """The first is likely enough to be taken unless the user says otherwise."""
    view: str | None
    """Where the camera seems to have stood; None when nobody was found."""
    reasons: tuple[str, ...]
    problem: str = ""
    """What is wrong with the clip, a sentence each; empty for a sound one."""
    usable: bool = True
    """Whether anything can be told from the clip."""


_SUGGESTION = TypeAdapter(ClipSuggestion)


def suggest_for_clip(job: Job, report: ProgressReport, on_parts: PartsReport | None = None) -> str:
    """Find the lifter in a clip, and which exercise it probably shows; as JSON.

    A small picture is drawn for the list of clips, unless the clip was taken from it meanwhile.
    """
    from formcheck.services.pipeline import suggest_exercise

    clip = Path(job.request.clip_path)
    found = suggest_exercise(clip, cache_dir=recordings_folder(), on_progress=report, on_parts=on_parts)
    with suppress(FormcheckError, OSError):  # the list of clips goes on without a picture
        if (listed := find_job(job.name)) is not None and not listed.put_away:
            _draw_clip_thumbnail(clip)
    view = found.view.name if found.ranked and found.view.yaw_deg is not None else None
    problem = " ".join(map(describe_problem, found.problems))
    reasons = tuple(map(describe_reason, found.reasons))
    made = ClipSuggestion(found.ranked[:4], found.exercise_id is not None, view, reasons, problem, found.usable)
    return json.dumps(asdict(made))


def _draw_clip_thumbnail(clip: Path) -> None:
    """Draw the small picture of a clip that was handed in and looked at."""
    from formcheck.pose.recording import load_recording
    from formcheck.storage.recording_cache import recording_files

    data = DataFolder(data_home())
    found = recording_files(clip.name, data.recordings)
    if clip.parent == data.clips and found:
        make_clip_thumbnail(clip, load_recording(found[0]), data.upload_picture(clip.name))


def delete_clip(request: JobRequest) -> None:
    """Delete a clip that was only tracked: a test clip, or one taken away meanwhile."""
    with Store.open(default_store()) as store:
        delete_upload(store, Path(request.clip_path), data_home())


def read_suggestion(result: str | None) -> ClipSuggestion | None:
    """What a clip probably shows; None when there is none yet, or none that can be read."""
    try:
        loaded = json.loads(result or "")
        return _SUGGESTION.validate_python({"usable": not loaded.get("problem"), **loaded})
    except (ValueError, TypeError, AttributeError):
        return None
