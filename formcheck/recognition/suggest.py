"""Which exercise a recording probably shows: how well it fits what each exercise's own file says of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from formcheck.core.model import Array, CameraView, LandmarkRecording, QualityProblem, Rep, Settings, Signals
from formcheck.core.vocabulary.problems import blocks_review
from formcheck.exercises.schema import Exercise
from formcheck.measures.window import get_bottom_moment
from formcheck.recognition.posture import BLIND_AT_ENDS, Features, compute_features, list_posture_limits
from formcheck.recognition.template import Template, make_template
from formcheck.reps.find import find_reps
from formcheck.signals.angles import compute_driver, compute_signals
from formcheck.signals.camera import estimate_view, get_plane
from formcheck.signals.usable import find_clip_problems, find_damage_problems

CONFIDENT = 0.8
"""From here on a suggestion may be used without asking."""
NOTHING_FITS = 10.0
"""Sum of squared standard deviations at which "none of these" is as likely as the exercise."""
MOST_A_FEATURE = 16.0
"""One feature counts this much at most: landmarks may be wrong."""
DEEP = ("elbow.", "out.", "ahead.")
MOST_FROM_DEPTH = 4.0
"""From the side, an arm that points at the camera is known by its depth alone, which is not good: it counts less."""
SINGLE_REP = 8.0
"""What a single rep counts against an exercise."""
ALIKE = 4.0
"""Exercises whose sums are no further apart than this cannot be told apart."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """What a recording probably shows."""

    ranked: tuple[tuple[str, float], ...]
    """(exercise id, confidence 0..1), the likeliest first; what is missing from 1 is "none of these"."""
    view: CameraView
    alike: tuple[str, ...]
    """Exercises the landmarks cannot tell apart, the likeliest first; one when it is clear, none when none fits."""
    reasons: tuple[str, ...]
    """What in the movement speaks for the first, as codes (`formcheck.report.words`)."""
    problems: tuple[QualityProblem, ...] = ()
    """What makes it impossible or less sure to tell from this clip, the gravest first."""

    @property
    def usable(self) -> bool:
        """Whether anything can be told from the clip."""
        return not any(blocks_review(problem.code) for problem in self.problems)

    @property
    def exercise_id(self) -> str | None:
        """The likeliest, when it is likely enough to be used without asking."""
        sure = bool(self.ranked) and self.ranked[0][1] >= CONFIDENT
        return self.ranked[0][0] if sure else None


def suggest(
    recording: LandmarkRecording, exercises: Iterable[Exercise], *, settings: Settings | None = None
) -> Suggestion:
    """The exercises a recording may show, with a confidence each, and where the camera stood.

    Each exercise's own driver signal looks for reps; at their ends the body's coarse features are held against
    what the exercise's file says. Nothing is learned from examples.
    """
    settings = settings or Settings()
    camera = estimate_view(recording, "auto")
    unusable, damage = find_clip_problems(recording), find_damage_problems(recording)
    problems = (*damage, *unusable)
    if unusable or len(recording.t) < 2:
        return Suggestion((), replace(camera, known=False), (), (), problems)
    signals = compute_signals(recording, camera, settings, masked=False)
    seen = dict(compute_features(recording, signals.t, settings))
    beside = get_plane(camera) == "sagittal"
    against: dict[str, float] = {}
    found: dict[str, tuple[Template, dict[str, float]]] = {}
    for exercise in exercises:
        reps = _find_reps(recording, exercise, signals, camera, settings)
        if not reps:
            continue
        template, values = make_template(exercise), measure_ends(seen, signals.t, reps)
        found[exercise.id] = (template, values)
        total = sum(
            min(value, MOST_FROM_DEPTH) if beside and name.startswith(DEEP) else value
            for name, value in compute_misfits(template, values).items()
        )
        against[exercise.id] = total + (SINGLE_REP if len(reps) == 1 else 0.0)
    order = sorted(against, key=lambda name: against[name])
    weights = {name: float(np.exp(-0.5 * against[name])) for name in order}
    whole = sum(weights.values()) + float(np.exp(-0.5 * NOTHING_FITS))
    ranked = tuple((name, weights[name] / whole) for name in order)
    alike = tuple(name for name in order if against[name] <= min(against[order[0]] + ALIKE, NOTHING_FITS))
    reasons: tuple[str, ...] = ()
    if alike:
        template, values = found[alike[0]]
        misfits = compute_misfits(template, values)
        reasons = tuple(dict.fromkeys(template[name].code for name, value in misfits.items() if value < 1.0))
    return Suggestion(ranked, camera, alike, reasons, problems)


def measure_ends(seen: Features, t: Array, reps: tuple[Rep, ...]) -> dict[str, float]:
    """Medians over the reps of the features of a template; NaN = unseen."""
    tops = np.searchsorted(t, [rep.top_s for rep in reps]).clip(0, len(t) - 1)
    bottoms = np.searchsorted(t, [get_bottom_moment(rep) for rep in reps]).clip(0, len(t) - 1)
    inside = [(t >= rep.start_s) & (t <= rep.end_s) for rep in reps]
    values: dict[str, float] = {}
    for name, curve in seen.items():
        known = [each[np.isfinite(each)] for each in (curve[chosen] for chosen in inside)]
        ends = {
            "top": curve[tops],
            "bottom": curve[bottoms],
            "moves": np.abs(curve[tops] - curve[bottoms]),
            "most": np.array([each.max() for each in known if len(each)]),
            "span": np.array([np.ptp(each) for each in known if len(each)]),
        }
        for key, each in ends.items():
            finite = each[np.isfinite(each)]
            values[f"{name}.{key}"] = float(np.median(finite)) if len(finite) else float("nan")
    return values


def compute_misfits(template: Template, values: Mapping[str, float]) -> dict[str, float]:
    """How far each feature of a template is off, squared standard deviations, `MOST_A_FEATURE` at most."""
    return {
        name: float(min(interval.misfit(values.get(name, float("nan"))), MOST_A_FEATURE))
        for name, interval in template.items()
    }


# ---------------------------------------------------------------- inside


def _find_reps(
    recording: LandmarkRecording, exercise: Exercise, signals: Signals, camera: CameraView, settings: Settings
) -> tuple[Rep, ...]:
    name = exercise.driver.signal_in(get_plane(camera))
    driver = compute_driver(signals, name, camera)
    limits = list_posture_limits(recording, signals.t, camera, exercise)
    return find_reps(signals.t, driver, exercise.driver, settings, **limits, by_height=name in BLIND_AT_ENDS)
