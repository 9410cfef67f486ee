"""From a clip to a review and its files: the pure analysis with reading and writing around it."""

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from formcheck.analysis import analyse
from formcheck.core.atomic_write import write_output
from formcheck.core.errors import UsageError
from formcheck.core.model import Analysis, LandmarkRecording, SetInfo, Settings, ViewHint
from formcheck.exercises.registry import list_exercises_with
from formcheck.exercises.schema import Exercise
from formcheck.formats import encode
from formcheck.services.other_exercise import name_other_exercise

if TYPE_CHECKING:
    from formcheck.pose.estimator import PoseEstimator
    from formcheck.recognition import Suggestion

EstimatorFactory = Callable[[], "PoseEstimator"]
ProgressReport = Callable[[float, float | None], None]
"""Called with the seconds of the clip done and the clip's length (None while unknown)."""


def review_clip(
    clip: Path,
    exercise: Exercise,
    *,
    view: ViewHint = "auto",
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
    pose_model: Path | None = None,
    estimator_factory: EstimatorFactory | None = None,
    cache_dir: Path,
    on_progress: ProgressReport | None = None,
    processes: int | None = None,
    own_exercises: Iterable[Exercise] = (),
) -> tuple[Analysis, LandmarkRecording]:
    """Look at a clip, or take its landmarks from an earlier look, and review it.

    Parameters
    ----------
    pose_model : a model bundle to use instead of the shipped one.
    estimator_factory : makes what finds the landmarks; takes the place of `pose_model`.
    cache_dir : where landmark recordings are kept, and the curves read from them.
    processes : as for `formcheck.storage.recording_cache.cached_recording`; the review does not depend on it.
    own_exercises : what the set may be as well, beyond the exercises known in this process.

    Raises ClipError, PoseModelError or RecordingError, each with a sentence for the user.
    """
    # Reading video and the pose model take most of a second to import; whoever only asks for help never waits for it.
    from formcheck.storage.curve_cache import CurveCache

    recording = _landmarks(clip, pose_model, estimator_factory, cache_dir, on_progress, processes)
    curves = CurveCache(cache_dir)
    analysis = analyse(recording, exercise, settings=settings, view=view, set_info=set_info, curves=curves)
    known = list_exercises_with(exercise, *own_exercises)
    return name_other_exercise(analysis, recording, known, settings=settings), recording


def review_two_clips(
    clips: tuple[Path, Path],
    exercise: Exercise,
    *,
    views: tuple[ViewHint, ViewHint] = ("auto", "auto"),
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
    pose_model: Path | None = None,
    estimator_factory: EstimatorFactory | None = None,
    cache_dir: Path,
    on_progress: ProgressReport | None = None,
) -> tuple[Analysis, LandmarkRecording]:
    """Review one set from two clips filmed at once; the recording given back is the first clip's.

    Parameters are those of `review_clip`. Raises PairingError when the clips do not show the same set, and what
    `review_clip` raises.
    """
    from formcheck.pairing.alignment import compute_loudness_rise
    from formcheck.pairing.pair_review import review_pair
    from formcheck.storage.curve_cache import CurveCache
    from formcheck.video.sound import RATE_HZ, read_sound

    first, second = (_landmarks(clip, pose_model, estimator_factory, cache_dir, on_progress) for clip in clips)
    heard = [read_sound(clip) for clip in clips]
    courses = [compute_loudness_rise(one.start_s, one.samples, RATE_HZ) for one in heard if one is not None]
    analysis = review_pair(
        first,
        second,
        exercise,
        settings=settings,
        views=views,
        set_info=set_info,
        sounds=(courses[0], courses[1]) if len(courses) == 2 else None,
        curves=CurveCache(cache_dir),
    )
    return name_other_exercise(analysis, first, list_exercises_with(exercise), settings=settings), first


def suggest_exercise(
    clip: Path,
    *,
    pose_model: Path | None = None,
    estimator_factory: EstimatorFactory | None = None,
    cache_dir: Path,
    on_progress: ProgressReport | None = None,
    processes: int | None = None,
    own_exercises: Iterable[Exercise] = (),
) -> "Suggestion":
    """Look at a clip, or take its landmarks from an earlier look, and say which exercise it probably shows.

    Parameters are those of `review_clip`.
    """
    from formcheck.recognition import suggest

    recording = _landmarks(clip, pose_model, estimator_factory, cache_dir, on_progress, processes)
    return suggest(recording, list_exercises_with(*own_exercises))


def _landmarks(
    clip: Path,
    pose_model: Path | None,
    estimator_factory: EstimatorFactory | None,
    cache_dir: Path,
    on_progress: ProgressReport | None,
    processes: int | None = None,
) -> LandmarkRecording:
    from formcheck.pose.estimator import MediaPipeEstimator
    from formcheck.storage.recording_cache import cached_recording

    make = estimator_factory or partial(MediaPipeEstimator, pose_model)
    return cached_recording(clip, make, cache_dir, on_progress=on_progress, processes=processes)


# ---------------------------------------------------------------- files


@dataclass(frozen=True, slots=True)
class Outputs:
    """The files asked for; None for what was not."""

    json: Path | None = None
    report: Path | None = None
    overlay: Path | None = None
    pdf: Path | None = None
    blur_faces: bool = False
    """Make the lifter's head, and every other face found, unrecognisable in the pictures of all of them."""

    def check(self, clip: Path) -> None:
        """Find out before the long work whether the files can be written.

        Raises UsageError when two of them are the same, one is the clip, or a name has the wrong ending;
        OutputError when a file cannot be made where it should be.
        """
        for option, path, endings in (
            ("--report", self.report, (".html", ".htm")),
            ("--pdf", self.pdf, (".pdf",)),
            ("--overlay", self.overlay, (".mp4",)),
        ):
            if path is not None and path.suffix.lower() not in endings:
                raise UsageError(f"{option} writes a file whose name ends in {endings[0]}; {str(path)!r} does not.")
        wanted = [path for path in (self.json, self.report, self.pdf, self.overlay) if path is not None]
        places = [os.path.realpath(path) for path in wanted]
        if len(set(places)) < len(places):
            raise UsageError("Two outputs have the same name; each needs its own file.")
        if os.path.realpath(clip) in places:
            raise UsageError("An output has the name of the clip itself, which would be lost; choose another.")
        for path in wanted:
            with write_output(path, trial=True):
                pass

    def write(
        self,
        analysis: Analysis,
        recording: LandmarkRecording,
        clip: Path,
        exercise: Exercise,
        *,
        reviewed_on: date | None = None,
        on_progress: ProgressReport | None = None,
    ) -> None:
        """Write every file asked for; each appears whole or not at all (OutputError).

        The pictures of a clip that is no longer the one reviewed are not written (ClipError).

        Parameters
        ----------
        reviewed_on : the day to print in the report.
        on_progress : told of the overlay, the only one that takes long.
        """
        from formcheck.video.clip_file import check_unchanged

        if self.json is not None:
            with write_output(self.json) as part:
                part.write_text(encode(analysis.review, indent=2) + "\n", encoding="utf-8")
        if self.report is not None or self.pdf is not None:
            from formcheck.report.figures import key_pictures

            pictures = key_pictures(clip, recording, analysis.review.reps, blur_faces=self.blur_faces)
            check_unchanged(clip, recording.clip.sha256)
        if self.report is not None:
            from formcheck.report.html_report import write_report

            with write_output(self.report) as part:
                write_report(analysis, recording, clip, part, exercise, pictures=pictures, reviewed_on=reviewed_on)
        if self.pdf is not None:
            from formcheck.report.pdf_report import write_pdf

            with write_output(self.pdf) as part:
                write_pdf(analysis, exercise, pictures, part, reviewed_on=reviewed_on)
        if self.overlay is not None:
            from formcheck.report.overlay import rep_captions, write_overlay

            captions = rep_captions(analysis.review.reps, exercise.driver.first)
            with write_output(self.overlay) as part:
                write_overlay(
                    clip, recording, part, captions=captions, blur_faces=self.blur_faces, on_progress=on_progress
                )
                check_unchanged(clip, recording.clip.sha256)
