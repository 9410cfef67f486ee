"""The pure composition: landmarks, exercise and settings in, review out. No clock, no files, no pose model.

Everything is found, measured and judged in codes; their words are put in last (`formcheck.review_text`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

import numpy as np

from formcheck.core.errors import UsageError
from formcheck.core.model import (
    Analysis,
    Array,
    CameraView,
    ClipPart,
    ExerciseRef,
    LandmarkRecording,
    Mask,
    Message,
    Quality,
    QualityProblem,
    Rep,
    Review,
    SetInfo,
    Settings,
    Signals,
    ViewHint,
)
from formcheck.core.vocabulary.problems import blocks_review, with_problems
from formcheck.exercises.registry import all_cautions
from formcheck.exercises.schema import Exercise
from formcheck.findings import judge_checks, views_of
from formcheck.measures.across_reps import Reading, measure_set
from formcheck.measures.withheld import SIDES_SWAPPED, make_swap_problem, withhold, withhold_without_body
from formcheck.recognition.movement_match import Unlike, note_unlike, select_like
from formcheck.recognition.posture import BLIND_AT_ENDS, compute_body_curves, list_posture_limits
from formcheck.reps import find_reps
from formcheck.reps.by_hand import list_corrections
from formcheck.reps.cut_reps import drop_cut_reps
from formcheck.reps.edits import Edits, select_part
from formcheck.reps.strokes import Excursion
from formcheck.review_text import add_words
from formcheck.signals.angles import compute_signals, driver_curve
from formcheck.signals.camera import camera_view, looks_down, plane_of, quality_of
from formcheck.signals.filtering import uniform_grid
from formcheck.signals.parts import longest, uncut
from formcheck.signals.plausible import drop_jumping_arms, jumping_arms, note_jumps, spans_of, within
from formcheck.signals.roll import estimate_roll, level_recording, note_roll
from formcheck.signals.steady import (
    drop_stretches,
    inside_any,
    note_parts,
    note_scene,
    on_one_side,
    remove_sway,
    restore_sides,
    swap_back,
    swapped_stretches,
)
from formcheck.signals.usable import clip_problems, damage_problems


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
    parts: tuple[ClipPart, ...] = ()
    """The stretches between the cuts of a clip that is cut."""


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

    A recording with cuts is looked at part by part: where the camera stands, the body and what its best range is are
    found for each anew. View, driver and quality are then those of the part with most reps.

    Parameters
    ----------
    reps : repetitions known from elsewhere, in seconds of this clip; found in this recording when not given. Of a
        recording with cuts the longest part is then taken.
    edits : what a person corrected about the repetitions found here.
    curves : what reads the curves; neither limits nor corrections change them.
    """
    settings, edits = settings or Settings(), edits or Edits()
    notes = note_scene(recording)
    problems = clip_problems(recording)
    recording = restore_sides(remove_sway(recording))
    if reps is None and not edits.placed and any(blocks_review(item.code) for item in problems):
        return _unusable(recording, exercise, settings, view, notes, problems)
    parts = uncut(recording, [(item.start_s, item.end_s) for item in edits.placed])
    if reps is not None:
        parts = (longest(parts),)
    if len(parts) == 1:
        look = _look_at_part(parts[0], exercise, settings, view, reps, edits, curves, (False, False), notes)
        return look if reps is not None else _with_problems(look, problems)
    # A correction belongs to the part it begins in; what lies in none of them is for the last to refuse.
    begins = [-np.inf, *(float(part.t[0]) for part in parts[1:]), np.inf]
    looks = []
    for part, (start, end) in zip(parts, pairwise(begins), strict=True):
        own, ends = select_part(edits, start, end), (part is not parts[0], part is not parts[-1])
        looks.append(_look_at_part(part, exercise, settings, view, None, own, curves, ends))
    return _with_problems(_joined(looks, parts, recording, settings, notes), problems)


def _with_problems(look: Look, problems: Sequence[QualityProblem]) -> Look:
    """The look with the clip's own problems, and that of a set without repetitions."""
    none = () if look.reps else (QualityProblem("no-reps"),)
    return replace(look, quality=with_problems(look.quality, *problems, *none))


def _unusable(
    recording: LandmarkRecording,
    exercise: Exercise,
    settings: Settings,
    view: ViewHint,
    notes: tuple[Message, ...],
    problems: tuple[QualityProblem, ...],
) -> Look:
    """What is said of a recording that holds nothing to be measured: no camera side, no curve, no number."""
    camera = _told_camera(camera_view(recording, view), ())
    quality = quality_of(recording, camera, settings)
    quality = Quality(quality.tracked_share, quality.frame_rate, None, {}, {}, problems=problems, notes_coded=notes)
    nothing = np.full(len(recording.t), np.nan)
    return Look(camera, quality, Signals(recording.t, {}), nothing, exercise.driver.frontal, (), ())


def _told_camera(camera: CameraView, reps: Sequence[Rep]) -> CameraView:
    """The view as it may be told: an estimate is one of how the lifter stands in the set, so it needs one."""
    return camera if reps or camera.origin == "given" else replace(camera, known=False)


def _look_at_part(
    recording: LandmarkRecording,
    exercise: Exercise,
    settings: Settings,
    view: ViewHint,
    reps: tuple[Rep, ...] | None,
    edits: Edits,
    curves: Curves,
    cut: tuple[bool, bool],
    notes: tuple[Message, ...] = (),
) -> Look:
    """As `look_at`, for a recording that is steady and without a cut; `cut`: whether one is before and after it."""
    swapped = swapped_stretches(recording)
    recording = swap_back(recording, swapped)  # good enough to count by, not to measure
    camera = camera_view(recording, view)
    quality = quality_of(recording, camera, settings)
    quality = replace(quality, notes_coded=(*quality.notes_coded, *notes))
    roll = estimate_roll(recording, camera) if settings.level_picture else None
    if roll is not None:
        recording = level_recording(recording, roll)
    guessed = curves(recording, camera, settings, masked=False)
    driver_name = exercise.driver.signal_in(plane_of(camera))
    sagittal = plane_of(camera) == "sagittal"
    driver = driver_curve(guessed, driver_name, camera)
    if driver_name == "arm_raise":
        driver = on_one_side(driver, guessed.t, swapped)
    other: list[Unlike] = []

    def like(found: list[Excursion]) -> list[Excursion]:
        if not found:
            return found
        body = compute_body_curves(recording, guessed.t, settings)
        alike, other[:] = select_like(found, guessed.t, body, exercise, camera)
        return alike

    def found_in(driver: Array) -> tuple[Rep, ...]:
        found = find_reps(
            guessed.t,
            driver,
            exercise.driver,
            settings,
            **list_posture_limits(recording, guessed.t, camera, exercise.driver),
            by_height=driver_name in BLIND_AT_ENDS,
            looks_down=looks_down(recording, camera) if _towards_camera(exercise, driver_name, camera) else 0.0,
            like=like,
            edits=edits,
        )
        return drop_cut_reps(found, guessed.t, *cut)

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
    signals = curves(drop_stretches(recording, swapped), camera, settings)
    tilted = note_roll(roll) if roll is not None else None
    notes = (*quality.notes_coded, *((tilted,) if tilted else ()), *note_jumps(jumping))
    quality = replace(quality, notes_coded=(*notes, *note_unlike(other, reps, exercise)))
    measured = drop_jumping_arms(signals, spans_of(reps), jumping)
    # With one arm jumping the driver is the other; with both, nothing read from it is sure.
    unsure = set.union(*(set(indices) for indices in jumping.values())) if len(jumping) == 2 else set()
    turned = [rep for rep in reps if inside_any(signals.t, swapped)[_span(signals.t, rep)].any()]
    unsure |= {reps.index(rep) for rep in turned}
    gone = within(signals.t, [span for index, span in enumerate(spans_of(reps)) if index in unsure])
    sure = np.where(gone > 0, np.nan, driver)
    readings = measure_set(reps, measured, sure, exercise, camera, quality)
    readings = withhold(readings, {rep.number for rep in turned}, SIDES_SWAPPED)
    readings, unfitted = withhold_without_body(readings, camera) if signals.body_missing else (readings, False)
    problems = [make_swap_problem(swapped, turned)] if turned else []
    problems += [QualityProblem("body-not-fitted")] if unfitted else []
    quality = replace(quality, problems=tuple(problems))
    return Look(_told_camera(camera, reps), quality, signals, driver, driver_name, reps, readings)


def _span(t: Array, rep: Rep) -> Mask:
    return np.asarray((t >= rep.start_s) & (t <= rep.end_s))


def _joined(
    looks: Sequence[Look],
    parts: Sequence[LandmarkRecording],
    whole: LandmarkRecording,
    settings: Settings,
    notes: tuple[Message, ...],
) -> Look:
    """The looks at a clip's parts as one; curves on the whole clip's grid, NaN between the parts."""
    lead = max(looks, key=lambda look: (len(look.reps), float(np.ptp(look.signals.t))))
    grid = uniform_grid(whole.t, rate=whole.clip.frame_rate)
    reps: list[Rep] = []
    readings: list[Reading] = []
    told: list[ClipPart] = []
    for look, part in zip(looks, parts, strict=True):
        before = len(reps)
        own = [replace(rep, number=rep.number + before) for rep in look.reps]
        reps += own
        readings += [
            replace(reading, measure=replace(reading.measure, rep=reading.measure.rep + before))
            if reading.measure.rep is not None
            else reading
            for reading in look.readings
        ]
        numbers = tuple(rep.number for rep in own)
        told.append(ClipPart(float(part.t[0]), float(part.t[-1]), numbers, look.camera))

    order = {name: at for at, name in enumerate(dict.fromkeys(item.measure.name for item in lead.readings))}

    def on_grid(values: Sequence[Array]) -> Array:
        line = np.full(grid.shape, np.nan)
        for look, curve in zip(looks, values, strict=True):
            inside = (grid >= look.signals.t[0]) & (grid <= look.signals.t[-1])
            line[inside] = np.interp(grid[inside], look.signals.t, curve)
        return line

    series = {key: on_grid([look.signals.get(*key) for look in looks]) for key in lead.signals.series}
    same = [look.driver_name == lead.driver_name for look in looks]
    driver = on_grid(
        [look.driver if one else np.full_like(look.driver, np.nan) for look, one in zip(looks, same, strict=True)]
    )
    quality = quality_of(whole, lead.camera, settings)
    others = [note for look in looks if look.reps for note in look.quality.notes_coded]
    said: list[Message] = []
    for note in (*lead.quality.notes_coded, *others, *notes, *note_parts(told)):
        if note not in said:
            said.append(note)
    quality = replace(quality, notes_coded=tuple(said))
    quality = with_problems(quality, *(item for look in looks if look.reps for item in look.quality.problems))
    return Look(
        _told_camera(lead.camera, reps),
        quality,
        Signals(grid, series),
        driver,
        lead.driver_name,
        tuple(reps),
        tuple(sorted(readings, key=lambda item: order[item.measure.name])),
        tuple(told),
    )


def with_damage(quality: Quality, recording: LandmarkRecording, **more: str) -> Quality:
    """The quality with the problem that the clip lost something; `more` parameters of it."""
    return with_problems(quality, *damage_problems(recording, **more))


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
    without the exercise, gives a review without reps, and says so in the problems of its quality.

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
        quality=with_damage(look.quality, recording),
        reps=look.reps,
        measures=tuple(reading.measure for reading in look.readings),
        findings=judge_checks(exercise, look.readings, look.reps, *views_of(look.camera, look.parts)),
        cautions=all_cautions(exercise),
        by_hand_coded=list_corrections(edits, look.reps),
        parts=look.parts,
    )
    return Analysis(add_words(review), look.signals, look.driver, look.driver_name)
