"""The pure composition: landmarks, exercise and settings in, review out. No clock, no files, no pose model."""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from formcheck.errors import UsageError
from formcheck.exercises.registry import cautions
from formcheck.exercises.schema import Exercise
from formcheck.findings import find
from formcheck.measures.across_reps import Reading, measure_set
from formcheck.model import (
    Analysis,
    Array,
    CameraView,
    ExerciseRef,
    LandmarkRecording,
    Quality,
    Rep,
    Review,
    SetInfo,
    Settings,
    Signals,
    ViewHint,
)
from formcheck.reps import find_reps
from formcheck.reps.by_hand import told
from formcheck.reps.edits import Edits
from formcheck.reps.kept import without_cut
from formcheck.reps.likeness import Unlike, alike, said
from formcheck.reps.posture import body_course
from formcheck.reps.strokes import Excursion
from formcheck.signals.angles import body_height, compute_signals, driver_curve
from formcheck.signals.camera import camera_view, looks_down, plane_of, quality_of, yaw_course
from formcheck.signals.plausible import jump_notes, jumping_arms, spans_of, within, without_jumping_arms
from formcheck.signals.roll import estimate_roll, levelled, roll_note
from formcheck.signals.steady import scene_notes, sides_kept, steadied
from formcheck.signals.walking import places

OUT_OF_POSITION = 0.6
"""Shoulders this many torso lengths off their usual height: the lifter is not in the set's posture."""
TURNED_AWAY_DEG = 50.0
"""Shoulders turned this far from their usual direction: the lifter is on the way in or out."""

BLIND_AT_ENDS = frozenset(
    {"arm_raise_by_height", "knee_flexion_by_height", "torso_inclination_by_height", "arm_opening"}
)
"""Drivers read from an extent in the picture, which hardly changes with the angle near its ends."""


class Curves(Protocol):
    """Reads the curves from landmarks: `compute_signals` itself, or what knows its answers from before."""

    def __call__(
        self, recording: LandmarkRecording, view: CameraView, settings: Settings, *, masked: bool = True
    ) -> Signals:
        """As `compute_signals`, to the bit."""


@dataclass(frozen=True, eq=False)
class Look:
    """All that one camera's recording tells about a set, before any limit is applied."""

    camera: CameraView
    quality: Quality
    signals: Signals
    driver: Array
    """(m,) on the grid of `signals`."""
    driver_name: str
    reps: tuple[Rep, ...]
    readings: tuple[Reading, ...]


def look_at(
    recording: LandmarkRecording,
    exercise: Exercise,
    *,
    settings: Settings | None = None,
    view: ViewHint = "auto",
    reps: tuple[Rep, ...] | None = None,
    edits: Edits | None = None,
    curves: Curves = compute_signals,
) -> Look:
    """View, quality, curves, reps and numbers of a landmark recording.

    Parameters
    ----------
    reps : repetitions known from elsewhere, in seconds of this clip; found in this recording when not given.
    edits : what a person corrected about the repetitions found here.
    curves : what reads the curves; neither limits nor corrections change them.
    """
    settings = settings or Settings()
    notes = scene_notes(recording)
    cuts = recording.scene.cuts
    recording = sides_kept(steadied(recording))
    camera = camera_view(recording, view)
    quality = quality_of(recording, camera, settings)
    quality = replace(quality, notes=(*quality.notes, *notes))
    roll = estimate_roll(recording, camera) if settings.level_picture else None
    if roll is not None:
        recording = levelled(recording, roll)
    guessed = curves(recording, camera, settings, masked=False)
    driver_name = {
        "frontal": exercise.driver.frontal,
        "sagittal": exercise.driver.sagittal,
        "oblique": exercise.driver.oblique,
    }[plane_of(camera)]
    sagittal = plane_of(camera) == "sagittal"
    driver = driver_curve(guessed, driver_name, camera)
    other: list[Unlike] = []

    def like(found: list[Excursion]) -> list[Excursion]:
        if not found:
            return found
        kept, other[:] = alike(found, guessed.t, body_course(recording, guessed.t, settings), exercise, camera)
        return kept

    def found_in(driver: Array) -> tuple[Rep, ...]:
        posture = [(yaw_course(recording, guessed.t, camera), TURNED_AWAY_DEG)]
        if not exercise.driver.moves_shoulders:
            posture.append((body_height(recording, guessed.t), OUT_OF_POSITION))
        found = find_reps(
            guessed.t,
            driver,
            exercise.driver,
            settings,
            posture=posture,
            places=places(recording, guessed.t, hips_still=not exercise.driver.moves_shoulders),
            by_height=driver_name in BLIND_AT_ENDS,
            looks_down=looks_down(recording, camera) if _towards_camera(exercise, driver_name, camera) else 0.0,
            like=like,
            edits=edits,
        )
        return without_cut(found, cuts)

    # In the other lifts an arm may point at the camera: its direction in the picture turns round, its landmarks do not
    # jump.
    sideways = exercise.driver.frontal == "arm_raise" and not sagittal
    known = reps
    reps = found_in(driver) if known is None else known
    jumping = jumping_arms(guessed, spans_of(reps)) if sideways else {}
    if len(jumping) == 1:
        # The other arm tells the reps better than the mean of both.
        driver = guessed.get(driver_name, "right" if "left" in jumping else "left")
        reps = found_in(driver) if known is None else known
        jumping = jumping_arms(guessed, spans_of(reps))
    signals = curves(recording, camera, settings)
    tilted = roll_note(roll) if roll is not None else None
    notes = (*quality.notes, *((tilted,) if tilted else ()), *signals.notes, *jump_notes(jumping))
    notes = (*notes, *said(other, reps, exercise))
    quality = replace(quality, notes=notes)
    measured = without_jumping_arms(signals, spans_of(reps), jumping)
    # With one arm jumping the driver is the other; with both, nothing read from it is sure.
    unsure = set.union(*(set(indices) for indices in jumping.values())) if len(jumping) == 2 else set()
    gone = within(signals.t, [span for index, span in enumerate(spans_of(reps)) if index in unsure])
    sure = np.where(gone > 0, np.nan, driver)
    readings = measure_set(reps, measured, sure, exercise, camera, quality)
    return Look(camera, quality, signals, driver, driver_name, reps, readings)


def _towards_camera(exercise: Exercise, driver_name: str, camera: CameraView) -> bool:
    """Seen from the side, the nearer arm of a lift to the sides comes towards the camera."""
    sideways = exercise.driver.frontal == "arm_raise" and driver_name == "arm_raise_by_height"
    return sideways and plane_of(camera) == "sagittal"


def analyse(
    recording: LandmarkRecording,
    exercise: Exercise,
    *,
    settings: Settings | None = None,
    view: ViewHint = "auto",
    set_info: SetInfo | None = None,
    edits: Edits | None = None,
    curves: Curves = compute_signals,
) -> Analysis:
    """Review a landmark recording as a set of one exercise.

    The same recording, exercise, settings and corrections always give the same review. A clip with nobody in it, or
    without the exercise, gives a review without reps, and says so in its quality notes.

    Parameters
    ----------
    edits : what a person corrected; every number follows from it, and the review says what was set by hand.
    curves : as for `look_at`.

    Raises UsageError for a correction that does not fit the clip, or names another exercise than the one given.
    """
    edits = edits or Edits()
    if edits.exercise_id not in (None, exercise.id):
        raise UsageError(f"The corrections are for the exercise {edits.exercise_id!r}, not for {exercise.id!r}.")
    look = look_at(recording, exercise, settings=settings, view=view, edits=edits, curves=curves)
    review = Review(
        clip=recording.clip,
        pose_model=recording.pose_model,
        exercise=ExerciseRef(exercise.id, exercise.name),
        set_info=set_info or SetInfo(),
        view=look.camera,
        quality=look.quality,
        reps=look.reps,
        measures=tuple(reading.measure for reading in look.readings),
        findings=find(exercise, look.readings, look.reps, look.camera.name),
        cautions=tuple(cautions()[key].text for key in exercise.cautions),
        by_hand=told(edits, look.reps),
    )
    return Analysis(review, look.signals, look.driver, look.driver_name)
