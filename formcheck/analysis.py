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
    MEASURES_VERSION,
    SIDES,
    Analysis,
    Array,
    CameraView,
    ClipPart,
    ExerciseRef,
    LandmarkRecording,
    Message,
    Quality,
    QualityProblem,
    Rep,
    Review,
    SetInfo,
    Settings,
    Side,
    Sides,
    Signals,
    ViewHint,
)
from formcheck.core.rep_sides import ARM_DRIVERS, get_other_side, tell_sides
from formcheck.core.vocabulary.problems import add_problems, blocks_review
from formcheck.exercises.registry import list_cautions
from formcheck.exercises.schema import Exercise
from formcheck.findings import judge_set, list_views
from formcheck.measures.across_reps import Reading, measure_set
from formcheck.measures.withheld import (
    SIDES_SWAPPED,
    find_hidden_arms,
    find_hidden_strokes,
    make_swap_problem,
    withhold,
    withhold_times,
    withhold_without_body,
)
from formcheck.recognition.movement_match import Unlike, note_unlike, select_like
from formcheck.recognition.posture import BLIND_AT_ENDS, HANG_AT_REST, compute_body_curves, list_posture_limits
from formcheck.recognition.working_arms import (
    WorkingArms,
    admit_turns,
    find_working_arms,
    make_one_arm,
    note_hidden_arms,
    note_sides,
    take_known_arms,
)
from formcheck.reps.by_hand import list_corrections
from formcheck.reps.driver_side import choose_clearer_side
from formcheck.reps.edits import Edits, select_part
from formcheck.reps.find import drop_cut_reps, find_reps
from formcheck.reps.set_bounds import note_set_bounds
from formcheck.reps.strokes import Excursion
from formcheck.review_text import add_words
from formcheck.signals.angles import compute_driver, compute_signals
from formcheck.signals.camera import assess_quality, estimate_camera_pitch, estimate_view, get_plane
from formcheck.signals.filtering import make_uniform_grid, mark_inside
from formcheck.signals.parts import find_longest, split_at_cuts
from formcheck.signals.plausible import drop_jumping_arms, find_jumping_arms, list_spans, note_jumps
from formcheck.signals.roll import estimate_roll, level_recording, note_roll, note_turned
from formcheck.signals.steady import (
    drop_stretches,
    find_swapped_stretches,
    fold_to_one_side,
    note_parts,
    note_scene,
    remove_sway,
    restore_sides,
    swap_back,
)
from formcheck.signals.usable import find_clip_problems, find_damage_problems


class Curves(Protocol):
    """Reads the curves from landmarks: `compute_signals` itself, or what knows its answers from before."""

    def __call__(
        self, recording: LandmarkRecording, view: CameraView, settings: Settings, *, masked: bool = True
    ) -> Signals:
        """As `compute_signals`, to the bit."""


@dataclass(frozen=True, eq=False)
class CameraAnalysis:
    """What one camera's recording shows of a set, before any limit is applied."""

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
    driver_side: Side | None = None
    """The arm whose curve alone is the driver, where the other is seen far worse."""
    sides: Sides = "both"


def analyse_camera(
    recording: LandmarkRecording,
    exercise: Exercise,
    *,
    settings: Settings | None = None,
    view: ViewHint = "auto",
    reps: tuple[Rep, ...] | None = None,
    edits: Edits | None = None,
    curves: Curves = compute_signals,
) -> CameraAnalysis:
    """View, quality, curves, reps and numbers of a landmark recording.

    A recording with cuts is analysed part by part: where the camera stands, the body and what its best range is are
    found for each anew. View, driver and quality are then those of the part with most reps.

    Parameters
    ----------
    reps : repetitions known from elsewhere, in seconds of this clip; found in this recording when not given. Of a
        recording with cuts the longest part is then taken.
    edits : what a person corrected about the repetitions found here.
    curves : what reads the curves; neither limits nor corrections change them.
    """
    settings, edits = settings or Settings(), edits or Edits()
    notes = (*note_scene(recording), *note_turned(recording, exercise.position))
    problems = find_clip_problems(recording)
    recording = restore_sides(remove_sway(recording))
    if reps is None and not edits.placed and any(blocks_review(item.code) for item in problems):
        return _make_unusable(recording, exercise, settings, view, notes, problems)
    parts = split_at_cuts(recording, [(item.start_s, item.end_s) for item in edits.placed])
    if reps is not None:
        parts = (find_longest(parts),)
    if len(parts) == 1:
        seen = _analyse_part(parts[0], exercise, settings, view, reps, edits, curves, (False, False), notes)
        if reps is not None:
            return seen
        bounds = note_set_bounds(seen.reps, seen.signals.t)
        quality = replace(seen.quality, notes_coded=(*seen.quality.notes_coded, *bounds))
        return _add_problems(replace(seen, quality=quality), problems)
    # A correction belongs to the part it begins in; what lies in none of them is for the last to refuse.
    begins = [-np.inf, *(float(part.t[0]) for part in parts[1:]), np.inf]
    analyses = []
    for part, (start, end) in zip(parts, pairwise(begins), strict=True):
        own, ends = select_part(edits, start, end), (part is not parts[0], part is not parts[-1])
        analyses.append(_analyse_part(part, exercise, settings, view, None, own, curves, ends))
    return _add_problems(_join_parts(analyses, parts, recording, settings, notes), problems)


def _add_problems(seen: CameraAnalysis, problems: Sequence[QualityProblem]) -> CameraAnalysis:
    """The analysis with the clip's own problems, and that of a set without repetitions."""
    none = () if seen.reps else (QualityProblem("no-reps"),)
    return replace(seen, quality=add_problems(seen.quality, *problems, *none))


def _make_unusable(
    recording: LandmarkRecording,
    exercise: Exercise,
    settings: Settings,
    view: ViewHint,
    notes: tuple[Message, ...],
    problems: tuple[QualityProblem, ...],
) -> CameraAnalysis:
    """The analysis of a recording that holds nothing to be measured: no camera side, no curve, no number."""
    camera = _mark_known(estimate_view(recording, view), ())
    quality = assess_quality(recording, camera, settings)
    quality = Quality(quality.tracked_share, quality.frame_rate, None, {}, {}, problems=problems, notes_coded=notes)
    nothing = np.full(len(recording.t), np.nan)
    return CameraAnalysis(camera, quality, Signals(recording.t, {}), nothing, exercise.driver.frontal, (), ())


def _mark_known(camera: CameraView, reps: Sequence[Rep]) -> CameraView:
    """The view, not known where it is an estimate without reps: it is one of how the lifter stands in them."""
    return camera if reps or camera.origin == "given" else replace(camera, known=False)


def _analyse_part(
    recording: LandmarkRecording,
    exercise: Exercise,
    settings: Settings,
    view: ViewHint,
    known: tuple[Rep, ...] | None,
    edits: Edits,
    curves: Curves,
    cut: tuple[bool, bool],
    notes: tuple[Message, ...] = (),
) -> CameraAnalysis:
    """As `analyse_camera`, for a steady recording without a cut; `cut`: whether there is one before and after it."""
    swapped = find_swapped_stretches(recording)
    recording = swap_back(recording, swapped)  # good enough to count by, not to measure
    camera = estimate_view(recording, view)
    quality = assess_quality(recording, camera, settings)
    quality = replace(quality, notes_coded=(*quality.notes_coded, *notes))
    roll = estimate_roll(recording, camera) if settings.level_picture else None
    if roll is not None:
        recording = level_recording(recording, roll)
    guessed = curves(recording, camera, settings, masked=False)
    driver_name = exercise.driver.signal_in(get_plane(camera))
    sagittal = get_plane(camera) == "sagittal"
    side = choose_clearer_side(guessed, driver_name, camera)
    driver = compute_driver(guessed, driver_name, camera, side)
    if driver_name == "arm_raise":
        driver = fold_to_one_side(driver, guessed.t, swapped)
    other: list[Unlike] = []
    body = compute_body_curves(recording, guessed.t, settings)
    limits = list_posture_limits(recording, guessed.t, camera, exercise)
    pitch = estimate_camera_pitch(recording, camera) if _towards_camera(exercise, driver_name, camera) else 0.0

    def find_in(
        driver: Array, edits: Edits, arms: WorkingArms | None = None, in_turn_with: Sequence[Rep] = ()
    ) -> tuple[Rep, ...]:
        def select_alike(found: list[Excursion]) -> list[Excursion]:
            strokes = found if arms is None else [item for item in found if arms.holds(item)]
            if arms is not None and arms.found:
                return strokes
            unclear = side is not None
            alike, other[:] = select_like(
                strokes, guessed.t, body, exercise, camera, one_arm_unclear=unclear, arms=arms
            )
            return admit_turns(strokes, alike, in_turn_with, exercise.driver.minimum_range)

        found = find_reps(
            guessed.t,
            driver,
            exercise.driver,
            settings,
            **limits,
            by_height=driver_name in BLIND_AT_ENDS,
            hangs=driver_name in HANG_AT_REST,
            camera_pitch=pitch,
            like=select_alike,
            edits=edits,
        )
        return drop_cut_reps(found, guessed.t, *cut)

    arms = None if known is None else take_known_arms(known)
    of_arms = {each: compute_driver(guessed, driver_name, camera, each) for each in SIDES}
    if known is None and driver_name in ARM_DRIVERS:
        inside, alone, doubtful = Edits(outside=edits.outside), {}, []
        for each in SIDES:
            alone[each] = find_in(of_arms[each], inside, make_one_arm(each))
            doubtful += [each] if other else []
        for each in doubtful:
            alone[each] = find_in(of_arms[each], inside, make_one_arm(each), alone[get_other_side(each)])
        arms = find_working_arms(alone, guessed.t, of_arms, body.reach, exercise.sides)
    if arms is not None:
        driver, side = arms.join_curves(guessed.t, of_arms), None
    other.clear()

    # In the other lifts an arm may point at the camera: its direction in the picture turns round, its landmarks do not
    # jump.
    sideways = exercise.driver.frontal == "arm_raise" and not sagittal
    reps = find_in(driver, edits, arms) if known is None else known
    if arms is not None:
        reps = tuple(replace(rep, side=arms.find_side((rep.start_s + rep.end_s) / 2)) for rep in reps)
    jumping = find_jumping_arms(guessed, list_spans(reps)) if sideways else {}
    if len(jumping) == 1 and arms is None:
        # The other arm tells the reps better than the mean of both.
        side = "right" if "left" in jumping else "left"
        driver = compute_driver(guessed, driver_name, camera, side)
        reps = find_in(driver, edits) if known is None else known
        jumping = find_jumping_arms(guessed, list_spans(reps))
    signals = curves(drop_stretches(recording, swapped), camera, settings)
    tilted = note_roll(roll) if roll is not None else None
    notes = (*quality.notes_coded, *((tilted,) if tilted else ()), *note_jumps(jumping))
    if not any(note.code == "turned" for note in notes):  # of a turned film the posture says nothing
        notes = (*notes, *note_unlike(other, reps, exercise))
    quality = replace(quality, notes_coded=notes)
    sides = tell_sides(reps)
    quality = replace(quality, notes_coded=(*quality.notes_coded, *note_sides(exercise, sides, reps)))
    measured = drop_jumping_arms(signals, list_spans(reps), jumping)
    # With one arm jumping the driver is the other; with both, nothing read from it is sure.
    unsure = set.union(*(set(indices) for indices in jumping.values())) if len(jumping) == 2 else set()
    mirrored = mark_inside(signals.t, swapped)
    turned = [rep for rep in reps if mirrored[mark_inside(signals.t, [(rep.start_s, rep.end_s)])].any()]
    hidden = find_hidden_strokes(reps, signals, driver_name)
    if driver_name in ARM_DRIVERS:
        unseen = find_hidden_arms(reps, signals, driver_name)
        quality = replace(quality, notes_coded=(*quality.notes_coded, *note_hidden_arms(unseen)))
    unsure |= {reps.index(rep) for rep in reps if rep in turned or rep.number in hidden}
    gone = mark_inside(signals.t, [span for index, span in enumerate(list_spans(reps)) if index in unsure])
    sure = np.where(gone, np.nan, driver)
    readings = measure_set(reps, measured, sure, exercise, camera, quality)
    readings = withhold(withhold_times(readings, hidden), {rep.number for rep in turned}, SIDES_SWAPPED)
    readings, unfitted = withhold_without_body(readings, camera) if signals.body_missing else (readings, False)
    problems = [make_swap_problem(swapped, turned)] if turned else []
    problems += [QualityProblem("body-not-fitted")] if unfitted else []
    quality = replace(quality, problems=tuple(problems))
    return CameraAnalysis(
        _mark_known(camera, reps),
        quality,
        signals,
        driver,
        driver_name,
        reps,
        readings,
        driver_side=side,
        sides=sides,
    )


def _join_parts(
    analyses: Sequence[CameraAnalysis],
    parts: Sequence[LandmarkRecording],
    whole: LandmarkRecording,
    settings: Settings,
    notes: tuple[Message, ...],
) -> CameraAnalysis:
    """The analyses of a clip's parts as one; curves on the whole clip's grid, NaN between the parts."""
    lead = max(analyses, key=lambda seen: (len(seen.reps), float(np.ptp(seen.signals.t))))
    grid = make_uniform_grid(whole.t, rate=whole.clip.frame_rate)
    reps: list[Rep] = []
    readings: list[Reading] = []
    clip_parts: list[ClipPart] = []
    for seen, part in zip(analyses, parts, strict=True):
        before = len(reps)
        own = [replace(rep, number=rep.number + before) for rep in seen.reps]
        reps += own
        readings += [
            replace(reading, measure=replace(reading.measure, rep=reading.measure.rep + before))
            if reading.measure.rep is not None
            else reading
            for reading in seen.readings
        ]
        numbers = tuple(rep.number for rep in own)
        clip_parts.append(ClipPart(float(part.t[0]), float(part.t[-1]), numbers, seen.camera))

    order = {name: at for at, name in enumerate(dict.fromkeys(item.measure.name for item in lead.readings))}

    def resample(values: Sequence[Array]) -> Array:
        line = np.full(grid.shape, np.nan)
        for seen, curve in zip(analyses, values, strict=True):
            inside = (grid >= seen.signals.t[0]) & (grid <= seen.signals.t[-1])
            line[inside] = np.interp(grid[inside], seen.signals.t, curve)
        return line

    series = {key: resample([seen.signals.get(*key) for seen in analyses]) for key in lead.signals.series}
    same = [seen.driver_name == lead.driver_name for seen in analyses]
    driver = resample(
        [seen.driver if one else np.full_like(seen.driver, np.nan) for seen, one in zip(analyses, same, strict=True)]
    )
    quality = assess_quality(whole, lead.camera, settings)
    others = [note for seen in analyses if seen.reps for note in seen.quality.notes_coded]
    distinct: list[Message] = []
    for note in (*lead.quality.notes_coded, *others, *notes, *note_parts(clip_parts)):
        if note not in distinct:
            distinct.append(note)
    quality = replace(quality, notes_coded=tuple(distinct))
    quality = add_problems(quality, *(item for seen in analyses if seen.reps for item in seen.quality.problems))
    return CameraAnalysis(
        _mark_known(lead.camera, reps),
        quality,
        Signals(grid, series),
        driver,
        lead.driver_name,
        tuple(reps),
        tuple(sorted(readings, key=lambda item: order[item.measure.name])),
        tuple(clip_parts),
        lead.driver_side,
        tell_sides(reps),
    )


def add_damage(quality: Quality, recording: LandmarkRecording, **more: str) -> Quality:
    """The quality with the problem that the clip lost something; `more` parameters of it."""
    return add_problems(quality, *find_damage_problems(recording, **more))


def _towards_camera(exercise: Exercise, driver_name: str, camera: CameraView) -> bool:
    """Seen from the side, the nearer arm of a lift to the sides comes towards the camera."""
    sideways = exercise.driver.frontal == "arm_raise" and driver_name == "arm_raise_by_height"
    return sideways and get_plane(camera) == "sagittal"


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
    curves : as for `analyse_camera`.

    Raises UsageError for a correction that does not fit the clip, or names another exercise than the one given.
    """
    edits = edits or Edits()
    if edits.exercise_id not in (None, exercise.id):
        raise UsageError(f"The corrections are for the exercise {edits.exercise_id!r}, not for {exercise.id!r}.")
    seen = analyse_camera(recording, exercise, settings=settings, view=view, edits=edits, curves=curves)
    judged = judge_set(exercise, seen.readings, seen.reps, *list_views(seen.camera, seen.parts))
    review = Review(
        clip=recording.clip,
        pose_model=recording.pose_model,
        exercise=ExerciseRef(exercise.id, exercise.name),
        set_info=set_info or SetInfo(),
        view=seen.camera,
        quality=add_damage(seen.quality, recording),
        reps=seen.reps,
        measures=tuple(reading.measure for reading in seen.readings),
        findings=judged.findings,
        points=judged.points,
        cautions=list_cautions(exercise),
        by_hand_coded=list_corrections(edits, seen.reps),
        parts=seen.parts,
        measures_version=MEASURES_VERSION,
        sides=seen.sides,
    )
    return Analysis(add_words(review), seen.signals, seen.driver, seen.driver_name)
