"""The pure composition of a review from two cameras: two landmark recordings and an exercise in, one review out."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np

from formcheck.analysis import CameraAnalysis, Curves, add_damage, analyse_camera
from formcheck.core.errors import PairingError, UsageError
from formcheck.core.model import (
    MEASURES_VERSION,
    Analysis,
    Array,
    ExerciseRef,
    LandmarkRecording,
    Message,
    QualityProblem,
    Rep,
    Review,
    SecondCamera,
    SetInfo,
    Settings,
    SignalKey,
    Signals,
    ViewHint,
)
from formcheck.core.rep_sides import tell_sides
from formcheck.core.vocabulary.problems import add_problems
from formcheck.exercises.registry import list_cautions
from formcheck.exercises.schema import Exercise
from formcheck.measures.across_reps import Reading
from formcheck.measures.margins import TIME_MEASURES, compute_margin, find_kind
from formcheck.pairing.alignment import Alignment, align
from formcheck.pairing.decision import ACCEPTED, check_same_set, compute_confidence
from formcheck.pairing.merging import CAMERAS, CameraReadings, judge_merged, merge_readings
from formcheck.pairing.movement import SpeedCurves, compute_movement
from formcheck.pairing.reps import CameraReps, Which, list_single_reps, merge_reps, shift_rep
from formcheck.reps.by_hand import list_corrections
from formcheck.reps.edits import Edits, shift_edits
from formcheck.review_text import add_words
from formcheck.signals.angles import compute_signals
from formcheck.signals.parts import find_longest, split_at_cuts

Sounds = tuple[SpeedCurves, SpeedCurves]
"""How the loudness of the first and the second clip rises."""

LONGEST_PART_ONLY = Message("longest-part-only")
SOUND_LEAST_CORRELATION, SOUND_LEAST_LEAD = 0.3, 4.6
"""So much alike, and so many times likelier than at any other offset (e^4.6 = 99)."""
SOUND_AGREES_S = 0.25
"""Movement is looked for this near to where the sound puts it."""
SOUND_LAG_S = 0.04
"""A phone's sound may run this far ahead of or behind its pictures (common practice: up to about a frame)."""


def align_recordings(
    first: SpeedCurves, second: SpeedCurves, sounds: Sounds | None = None, *, same_set: bool = False
) -> Alignment:
    """How two recordings of one set lie on one clock, from the movement, and from the sound where both have it.

    Parameters
    ----------
    sounds : decides between offsets the movement cannot tell apart, and gives the offset where it is the more exact; a
        sound the movement contradicts is left aside.
    same_set : a person said that the clips show the same set, so what is unclear is taken.

    Raises PairingError when the clips do not show the same set, UnclearPairError when that is not clear.
    """
    heard = align(*sounds) if sounds else None
    if heard is not None and heard.correlation >= SOUND_LEAST_CORRELATION and heard.lead >= SOUND_LEAST_LEAD:
        near = align(first, second, near=(heard.offset_s - SOUND_AGREES_S, heard.offset_s + SOUND_AGREES_S))
        if near is not None:
            near = replace(near, lead=heard.lead, share=1.0)  # of a sound, a part is enough
            if compute_confidence(near) >= ACCEPTED:
                margin = float(np.hypot(heard.margin_s, SOUND_LAG_S))
                if margin < near.margin_s:
                    return replace(near, offset_s=heard.offset_s, margin_s=margin, found_by="sound")
                return near
    return check_same_set(align(first, second), same_set=same_set)


def review_pair(
    first: LandmarkRecording,
    second: LandmarkRecording,
    exercise: Exercise,
    *,
    settings: Settings | None = None,
    views: tuple[ViewHint, ViewHint] = ("auto", "auto"),
    set_info: SetInfo | None = None,
    sounds: Sounds | None = None,
    same_set: bool = False,
    edits: Edits | None = None,
    known: SecondCamera | None = None,
    curves: Curves = compute_signals,
) -> Analysis:
    """Review one set from two recordings of it; every time is in seconds of the first.

    The reps come from the camera whose driver signal times them best, every measure from the camera that sees it
    best, or from both where they see it equally well. Curves are the first camera's, and the second's where the
    first has none. Raises PairingError when the two do not show the same set, UnclearPairError when that is not clear.

    Parameters
    ----------
    edits : what a person corrected about the reps (UsageError when it fits neither clip).
    same_set : a person said that the clips show the same set (`align_recordings`).
    known : how the clips were laid over one another before, to be kept.
    curves : as for `formcheck.analysis.analyse_camera`.
    """
    edits = edits or Edits()
    # After a cut the clips lie otherwise on one clock, so of each its longest part is taken.
    cut = [bool(recording.scene.cuts) for recording in (first, second)]
    recordings = first, second = (find_longest(split_at_cuts(first)), find_longest(split_at_cuts(second)))
    if min(len(recording.t) for recording in recordings) < 2:
        raise PairingError("One of the two clips is too short to be laid over the other.")

    def analyse_both(name: str, *each: object) -> list[CameraAnalysis]:
        more: list[dict[str, Any]] = [{"view": view, name: own} for view, own in zip(views, each, strict=True)]
        return [
            analyse_camera(recording, exercise, settings=settings, curves=curves, **own)
            for recording, own in zip(recordings, more, strict=True)
        ]

    found = analyse_both("edits", None, None)
    if known is None:
        one, other = (
            compute_movement(recording, seen.signals.t, seen.driver)
            for recording, seen in zip(recordings, found, strict=True)
        )
        at = align_recordings(one, other, sounds, same_set=same_set)
        seen = found[1]
        offset = (at.offset_s, at.margin_s, compute_confidence(at), at.found_by)
        known = SecondCamera(second.clip, seen.camera, seen.quality, *offset, reps_from="first")
    begins = (0.0, known.offset_s)
    if edits:
        found = analyse_both("edits", *_split_edits(edits, recordings, begins))
    margins = [_compute_timing_margin(seen, exercise) for seen in found]
    lead: Which = "second" if margins[1] < margins[0] else "first"
    if not found[CAMERAS.index(lead)].reps:
        lead = "second" if lead == "first" else "first"
    in_turn = [tell_sides(seen.reps) == "alternating" for seen in found]
    if in_turn[0] != in_turn[1]:  # the other camera, as from the side, does not see both arms
        lead = "first" if in_turn[0] else "second"
    films = []
    for begin_s, recording, seen in zip(begins, recordings, found, strict=True):
        shifted = tuple(shift_rep(rep, begin_s) for rep in seen.reps)
        films.append(CameraReps(begin_s + float(recording.t[0]), begin_s + float(recording.t[-1]), shifted))
    reps, found_by = merge_reps(films[0], films[1], lead)
    analyses = analyse_both("reps", reps, tuple(shift_rep(rep, -begins[1]) for rep in reps))
    cameras = (
        _read_camera(analyses[0], films[0], reps, found_by, "first", 0.0),
        _read_camera(analyses[1], films[1], reps, found_by, "second", begins[1]),
    )
    merged = merge_readings(exercise, cameras)
    judged = judge_merged(exercise, cameras, merged, reps)
    quality = []
    for seen, recording, was_cut in zip(analyses, recordings, cut, strict=True):
        notes = (*seen.quality.notes_coded, *((LONGEST_PART_ONLY,) if was_cut else ()))
        quality.append(add_damage(replace(seen.quality, notes_coded=notes), recording))
    single = list_single_reps(reps, films[0], films[1]).items()
    notes = tuple(Message("reps-of-one-camera", {"camera": which, "reps": numbers}) for which, numbers in single)
    quality[0] = replace(quality[0], notes_coded=(*quality[0].notes_coded, *notes))
    quality[0] = add_damage(quality[0], second, camera="second")  # as far as the first is whole
    if not reps:
        quality[0] = add_problems(quality[0], QualityProblem("no-reps"))
    review = Review(
        clip=first.clip,
        pose_model=first.pose_model,
        exercise=ExerciseRef(exercise.id, exercise.name),
        set_info=set_info or SetInfo(),
        view=analyses[0].camera,
        quality=quality[0],
        reps=reps,
        measures=tuple(reading.measure for reading in merged),
        findings=judged.findings,
        points=judged.points,
        cautions=list_cautions(exercise),
        second=replace(known, clip=second.clip, view=analyses[1].camera, quality=quality[1], reps_from=lead),
        by_hand_coded=list_corrections(edits, reps),
        measures_version=MEASURES_VERSION,
        sides=tell_sides(reps),
    )
    return _add_curves(add_words(review), analyses, lead, begins[1])


# ---------------------------------------------------------------- inside


def _split_edits(
    edits: Edits, recordings: tuple[LandmarkRecording, LandmarkRecording], begins: tuple[float, float]
) -> list[Edits]:
    """The corrections in seconds of each clip; a rep set by hand must lie in one of them whole."""
    films = [(begin_s, float(recording.t[-1])) for begin_s, recording in zip(begins, recordings, strict=True)]
    for item in edits.placed:
        if not any(begin_s <= item.start_s and item.end_s <= begin_s + length_s for begin_s, length_s in films):
            raise UsageError(f"The rep from {item.start_s:.2f} to {item.end_s:.2f} s lies outside both clips.")
    return [shift_edits(edits, *film) for film in films]


def _compute_timing_margin(seen: CameraAnalysis, exercise: Exercise) -> float:
    """How exactly this camera times a stroke of this exercise, seconds."""
    margin = compute_margin("concentric_time", 1.0, seen.camera, seen.quality, find_kind(exercise, seen.camera))
    return float("inf") if margin is None else margin


def _read_camera(
    seen: CameraAnalysis,
    film: CameraReps,
    reps: tuple[Rep, ...],
    found_by: tuple[Which, ...],
    camera: Which,
    offset: float,
) -> CameraReadings:
    """A camera's readings, on the first clip's clock, without what it did not film or did not time itself."""
    inside = {rep.number for rep in reps if film.contains(rep)}
    timed = {rep.number for rep, which in zip(reps, found_by, strict=True) if which == camera}
    readings = []
    for reading in seen.readings:
        measure, at_s = reading.measure, reading.at_s
        if measure.name in TIME_MEASURES and measure.rep not in timed:
            continue
        if measure.rep is not None and measure.rep not in inside and measure.name not in TIME_MEASURES:
            reason = measure.missing_reason_coded or Message("not-in-clip")
            readings.append(Reading(replace(measure, value=None, margin=None, missing_reason_coded=reason), None))
            continue
        readings.append(Reading(measure, None if at_s is None else max(at_s + offset, 0.0)))
    return CameraReadings(seen.camera.name, readings)


def _add_curves(
    review: Review, analyses: Sequence[CameraAnalysis], lead: Literal["first", "second"], offset: float
) -> Analysis:
    """The review with the curves of both cameras on the first clip's grid."""
    grid = analyses[0].signals.t

    def moved(values: Array) -> Array:
        return np.asarray(np.interp(grid - offset, analyses[1].signals.t, values, left=np.nan, right=np.nan))

    leading = analyses[0] if lead == "first" else analyses[1]
    series: dict[SignalKey, Array] = dict(analyses[0].signals.series)
    for key, values in analyses[1].signals.series.items():
        seen = key in series and np.isfinite(series[key]).any()
        if not seen or (lead == "second" and key[0] == leading.driver_name):
            series[key] = moved(values)
    driver = analyses[0].driver if lead == "first" else moved(analyses[1].driver)
    return Analysis(review, Signals(grid, series), driver, leading.driver_name)
