"""From a clip to a review and its files: the pure analysis with reading and writing around it."""

import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Required, TypedDict, Unpack

from formcheck.analysis import analyse
from formcheck.core.atomic_write import write_output
from formcheck.core.errors import UsageError
from formcheck.core.model import Analysis, LandmarkRecording, ProgressReport, SetInfo, Settings, ViewHint
from formcheck.exercises.registry import list_exercises_with
from formcheck.exercises.schema import Exercise
from formcheck.formats import encode
from formcheck.services.other_exercise import name_other_exercise
from formcheck.services.review_outputs import ReviewOutputs

if TYPE_CHECKING:
    from formcheck.pose.estimator import PoseEstimator
    from formcheck.recognition.suggest import Suggestion
    from formcheck.sandbox.sandboxed_tracking import PartsReport

EstimatorFactory = Callable[[], "PoseEstimator"]


class TrackingOptions(TypedDict, total=False):
    """How a clip is tracked, or where its landmarks are taken from."""

    cache_dir: Required[Path]
    """Where landmark recordings are stored, and the curves read from them."""
    pose_model: Path | None
    """A model bundle to use instead of the shipped one."""
    estimator_factory: EstimatorFactory | None
    """Makes what finds the landmarks; takes the place of `pose_model`."""
    on_progress: ProgressReport | None
    on_parts: "PartsReport | None"
    """Called with what was tracked so far (`formcheck.sandbox.sandboxed_tracking.track_clip`)."""
    processes: int | None
    """As for `formcheck.storage.recording_cache.cached_recording`; the review does not depend on it."""
    every_picture: bool
    """Track all pictures of a clip, not only as many as a review needs."""


def review_clip(
    clip: Path,
    exercise: Exercise,
    *,
    view: ViewHint = "auto",
    second: Path | None = None,
    second_view: ViewHint = "auto",
    same_set: bool = False,
    set_info: SetInfo | None = None,
    settings: Settings | None = None,
    own_exercises: Iterable[Exercise] = (),
    **tracking: Unpack[TrackingOptions],
) -> tuple[Analysis, LandmarkRecording]:
    """Track a clip, or take its landmarks from the cache, and review it; the recording given back is this clip's.

    Parameters
    ----------
    second : the clip of a second camera that filmed the same set at once.
    same_set : a person said that both clips show one set, so that what is unclear is not asked.
    own_exercises : what the set may be as well, beyond the exercises known in this process.
    tracking : how the clips are tracked (`TrackingOptions`).

    Raises ClipError, PoseModelError or RecordingError, each with a sentence for the user; PairingError when two clips
    do not show the same set, UnclearPairError when that is not clear.
    """
    # Reading video and the pose model take most of a second to import; whoever only asks for help never waits for it.
    from formcheck.pairing.movement import compute_loudness_rise
    from formcheck.pairing.pair_review import review_pair
    from formcheck.storage.curve_cache import CurveCache
    from formcheck.video.sound import RATE_HZ, read_sound

    clips = [clip] if second is None else [clip, second]
    recordings = [_find_landmarks(each, **tracking) for each in clips]
    curves = CurveCache(tracking["cache_dir"])
    if second is None:
        analysis = analyse(recordings[0], exercise, settings=settings, view=view, set_info=set_info, curves=curves)
    else:
        sounds = [read_sound(each) for each in clips]
        heard = [compute_loudness_rise(one.start_s, one.samples, RATE_HZ) for one in sounds if one is not None]
        analysis = review_pair(
            recordings[0],
            recordings[1],
            exercise,
            settings=settings,
            views=(view, second_view),
            set_info=set_info,
            sounds=(heard[0], heard[1]) if len(heard) == 2 else None,
            same_set=same_set,
            curves=curves,
        )
    known = list_exercises_with(exercise, *own_exercises)
    return name_other_exercise(analysis, recordings[0], known, settings=settings), recordings[0]


def suggest_exercise(
    clip: Path, *, own_exercises: Iterable[Exercise] = (), **tracking: Unpack[TrackingOptions]
) -> "Suggestion":
    """Look at a clip, or take its landmarks from an earlier look, and say which exercise it probably shows.

    Parameters are those of `review_clip`.
    """
    from formcheck.recognition.suggest import suggest

    return suggest(_find_landmarks(clip, **tracking), list_exercises_with(*own_exercises))


def _find_landmarks(clip: Path, **tracking: Unpack[TrackingOptions]) -> LandmarkRecording:
    from formcheck.pose.estimator import MediaPipeEstimator
    from formcheck.storage.recording_cache import cached_recording

    make = tracking.get("estimator_factory") or partial(MediaPipeEstimator, tracking.get("pose_model"))
    return cached_recording(
        clip,
        make,
        tracking["cache_dir"],
        on_progress=tracking.get("on_progress"),
        on_parts=tracking.get("on_parts"),
        processes=tracking.get("processes"),
        every_picture=tracking.get("every_picture", False),
    )


# ---------------------------------------------------------------- files

_NAME_ENDINGS = {"report": (".html", ".htm"), "pdf": (".pdf",), "overlay": (".mp4",)}


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
        for name, endings in _NAME_ENDINGS.items():
            path = getattr(self, name)
            if path is not None and path.suffix.lower() not in endings:
                raise UsageError(f"--{name} writes a file whose name ends in {endings[0]}; {str(path)!r} does not.")
        wanted = [path for path in (self.json, self.report, self.pdf, self.overlay) if path is not None]
        targets = [os.path.realpath(path) for path in wanted]
        if len(set(targets)) < len(targets):
            raise UsageError("Two outputs have the same name; each needs its own file.")
        if os.path.realpath(clip) in targets:
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
        on_progress : called for the overlay, the only one that takes long.
        """
        from formcheck.video.clip_file import check_unchanged

        made = ReviewOutputs(analysis, recording, exercise, clip, reviewed_on)
        if self.json is not None:
            with write_output(self.json) as part:
                part.write_text(encode(analysis.review, indent=2) + "\n", encoding="utf-8")
        if self.report is not None or self.pdf is not None:
            made.make_pictures(blur_faces=self.blur_faces)
            check_unchanged(clip, recording.clip.sha256)
        if self.report is not None:
            with write_output(self.report) as part:
                part.write_bytes(made.report_html(blur_faces=self.blur_faces).encode())
        if self.pdf is not None:
            with write_output(self.pdf) as part:
                part.write_bytes(made.report_pdf(blur_faces=self.blur_faces))
        if self.overlay is not None:
            with write_output(self.overlay) as part:
                made.write_film(part, blur_faces=self.blur_faces, on_progress=on_progress)
                check_unchanged(clip, recording.clip.sha256)
