"""A made-up set with curves of known shape, for tests that need a whole analysis but no clip."""

from dataclasses import replace

import numpy as np

from formcheck.core.model import (
    SIDES,
    Analysis,
    Array,
    CameraView,
    ClipInfo,
    ExerciseRef,
    Finding,
    LandmarkRecording,
    Measure,
    PoseModelInfo,
    Quality,
    QualityProblem,
    Rep,
    Review,
    SetInfo,
    Signals,
    Tempo,
)
from formcheck.exercises.registry import get_exercise, list_cautions

PEAKS = (92.0, 91.0, 90.0, 88.0, 79.0, 71.0)
LOW = 10.0
START, UP, HOLD, DOWN, REST = 1.0, 1.2, 0.4, 2.0, 0.5
RATE = 30.0


def minimum_jerk(share: Array) -> Array:
    """Position of a point-to-point movement of least jerk (Flash & Hogan 1985, J Neurosci 5:1688)."""
    x = np.clip(share, 0.0, 1.0)
    return np.asarray(x**3 * (10 - 15 * x + 6 * x**2))


def rep_curve(t: Array, peaks: tuple[float, ...] = PEAKS) -> Array:
    """Arm elevation over time: up, hold, down, rest for each peak."""
    angle = np.full(t.shape, LOW)
    begin = START
    for peak in peaks:
        rise = minimum_jerk((t - begin) / UP) - minimum_jerk((t - begin - UP - HOLD) / DOWN)
        angle = angle + (peak - LOW) * rise
        begin += UP + HOLD + DOWN + REST
    return angle


def synthetic_analysis(name: str = "set.mp4", exercise_id: str = "lateral-raise") -> Analysis:
    """Six raises whose last two lose range, with one finding of each verdict."""
    exercise = get_exercise(exercise_id)
    cycle = UP + HOLD + DOWN + REST
    duration = START + len(PEAKS) * cycle + 1.0
    t = np.arange(0.0, duration, 1 / RATE)
    left = rep_curve(t)
    right = rep_curve(t, tuple(peak - 3 for peak in PEAKS))
    reps, measures = [], []
    for index, peak in enumerate(PEAKS):
        begin = START + index * cycle
        reps.append(
            Rep(index + 1, begin, begin + UP + HOLD / 2, begin + UP + HOLD + DOWN, True, Tempo(DOWN, REST, UP, HOLD))
        )
        for side in SIDES:
            top = peak if side == "left" else peak - 3
            measures.append(Measure("arm_line_raise_peak", side, index + 1, top, 3.6, "deg"))
            measures.append(Measure("range_of_motion", side, index + 1, top - LOW, 4.2, "deg"))
        measures.append(Measure("range_share", None, index + 1, (peak - LOW) / 81.0, 0.04, "ratio"))
        measures.append(Measure("arm_line_difference", None, index + 1, 3.0, 2.8, "deg"))
        measures.append(Measure("eccentric_time", None, index + 1, DOWN, 0.06, "s"))
        measures.append(
            Measure(
                "torso_inclination_range", None, index + 1, None, None, "deg", "The front does not show forward lean."
            )
        )
    height, even, swing, lowering = (
        next(check for check in exercise.checks if check.id == key)
        for key in ("height", "even-sides", "no-swing", "lowering")
    )
    findings = (
        Finding(
            "height",
            "not_met",
            (5, 6),
            height.measure,
            68.0,
            height.limit,
            reps[5].top_s,
            height.cue,
            "common practice",
        ),
        Finding(
            "even-sides",
            "met",
            (1, 2, 3, 4, 5, 6),
            even.measure,
            3.0,
            even.limit,
            reps[2].top_s,
            even.title,
            "common practice",
        ),
        Finding(
            "lowering",
            "met",
            (1, 2, 3, 4, 5, 6),
            lowering.measure,
            2.0,
            lowering.limit,
            reps[0].end_s,
            lowering.title,
            "ACSM",
        ),
        Finding(
            "no-swing",
            "undecided",
            (),
            swing.measure,
            None,
            swing.limit,
            None,
            "The front does not show forward lean.",
            "common practice",
        ),
    )
    review = Review(
        clip=ClipInfo(name, "0" * 64, 608, 1080, duration, len(t), RATE, False, "h264"),
        pose_model=PoseModelInfo("full", "1" * 64),
        exercise=ExerciseRef(exercise.id, exercise.name),
        set_info=SetInfo(8.0, 8),
        view=CameraView("front", 4.0, 6.0, "estimated"),
        quality=Quality(
            0.99, RATE, 760.0, {}, {"left_wrist": 0.25}, ("The left wrist is often hidden; film with more light.",)
        ),
        reps=tuple(reps),
        measures=tuple(measures),
        findings=findings,
        cautions=list_cautions(exercise),
    )
    series = {
        ("arm_elevation", "left"): left,
        ("arm_elevation", "right"): right,
        ("torso_inclination", None): np.full(t.shape, 2.0),
    }
    series[("elbow_flexion", "left")] = np.where((t > 6) & (t < 7), np.nan, 15 + 3 * np.sin(t))
    return Analysis(review, Signals(t, series), left, "arm_elevation")


def without_reps(analysis: Analysis) -> Analysis:
    """The same clip with no rep of the exercise found in it."""
    return with_problem(analysis, QualityProblem("no-reps"))


def with_problem(analysis: Analysis, problem: QualityProblem) -> Analysis:
    """The same clip with a problem from which nothing may be concluded, as the analysis gives it."""
    review = analysis.review
    view = replace(review.view, known=review.view.origin == "given")
    quality = replace(review.quality, problems=(problem,))
    return replace(analysis, review=replace(review, reps=(), measures=(), findings=(), view=view, quality=quality))


def synthetic_recording(analysis: Analysis) -> LandmarkRecording:
    """Landmarks of a stick figure whose arms follow the curves, in the clip's pixels."""
    t = analysis.signals.t
    n = len(t)
    pixels = np.full((n, 33, 2), 0.0)
    anchor = {
        11: (360, 300),
        12: (248, 300),
        23: (340, 560),
        24: (268, 560),
        25: (345, 740),
        26: (262, 740),
        27: (350, 920),
        28: (258, 920),
    }
    for index in range(33):
        pixels[:, index] = anchor.get(index, (304, 180))
    for shoulder, elbow, wrist, sign, side in ((11, 13, 15, 1, "left"), (12, 14, 16, -1, "right")):
        angle = np.radians(analysis.signals.get("arm_elevation", "left" if side == "left" else "right"))
        direction = np.stack([sign * np.sin(angle), np.cos(angle)], axis=1)
        pixels[:, elbow] = pixels[:, shoulder] + 130 * direction
        pixels[:, wrist] = pixels[:, shoulder] + 250 * direction
    return LandmarkRecording(
        analysis.review.clip,
        analysis.review.pose_model,
        t,
        pixels,
        np.dstack([pixels / 480, np.zeros((n, 33))]),
        np.ones((n, 33)),
    )
