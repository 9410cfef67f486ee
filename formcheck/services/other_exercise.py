"""A set that looks like another exercise than the one it was reviewed as: which one."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from formcheck.analysis import analyse
from formcheck.core.errors import UsageError
from formcheck.core.model import Analysis, LandmarkRecording, QualityProblem, Review, Settings
from formcheck.core.vocabulary.problems import add_problems, rank_problem
from formcheck.exercises.registry import find_exercise
from formcheck.exercises.schema import Exercise
from formcheck.recognition.posture import compute_features
from formcheck.recognition.suggest import CONFIDENT, SINGLE_REP, compute_misfits, measure_ends, suggest
from formcheck.recognition.template import select_constant_features

LIKELY = 0.5
"""From this confidence on another exercise is named where no repetition was found: likelier than not."""
FEWEST_REPS = 2
"""What happens once is as well a gesture of somebody who does not train, such as a hand that goes to the hair."""
REPEATED = 3
"""A single repetition is none of the set in which another movement comes so often."""
SPEAKS_AGAINST = 6.25
"""Squared standard deviations, 2.5 of them, in what no fault changes, from which on repetitions are doubted."""


def name_other_exercise(
    analysis: Analysis, recording: LandmarkRecording, exercises: Iterable[Exercise], *, settings: Settings | None = None
) -> Analysis:
    """The analysis, with the exercise its recording looks like where that is not the one it was reviewed as.

    Where no repetition was found, another exercise is named when it is likelier than not, and repeated. Where some
    were found, they must contradict the exercise in what no fault changes
    (`formcheck.recognition.template.select_constant_features`), and another must fit surely: the review then has no
    number, since each would be one of a movement that was not done. What a person said by hand stands. Every other
    analysis comes back as it is.
    """
    known = {exercise.id: exercise for exercise in exercises}
    settings = replace(settings or Settings(), fit_body=False)  # repetitions are found without the fitted body
    review = analysis.review
    if "no-reps" in [problem.code for problem in review.quality.problems]:
        other = _find_other(review, recording, known, settings, least=LIKELY)
        return analysis if other is None else _remove_numbers(analysis, other[0])
    if not review.reps or review.by_hand:
        return analysis
    against, single = _compute_distance(analysis, recording, known, settings), len(review.reps) == 1
    if against < SPEAKS_AGAINST and not single:
        return analysis
    other = _find_other(review, recording, known, settings, least=CONFIDENT)
    if other is None or against + (SINGLE_REP if single and other[1] >= REPEATED else 0.0) < SPEAKS_AGAINST:
        return analysis
    return _remove_numbers(analysis, other[0])


def _compute_distance(
    analysis: Analysis, recording: LandmarkRecording, known: Mapping[str, Exercise], settings: Settings
) -> float:
    """How far the repetitions are from what the exercise always is, squared standard deviations."""
    try:
        template = select_constant_features(find_exercise(analysis.review.exercise.id, known))
    except UsageError:  # an exercise from elsewhere, of which nothing is known here
        return 0.0
    t = analysis.signals.t
    values = measure_ends(compute_features(recording, t, settings), t, analysis.review.reps)
    return sum(compute_misfits(template, values).values())


def _find_other(
    review: Review, recording: LandmarkRecording, known: Mapping[str, Exercise], settings: Settings, *, least: float
) -> tuple[QualityProblem, int] | None:
    """Which exercise the recording looks like at least so surely, and how many reps of it there are.

    None when that is the exercise it was reviewed as, or none.
    """
    found = suggest(recording, known.values(), settings=settings)
    asked = review.exercise.id.partition("/")[0]
    confidence = sum(share for name, share in found.ranked if name in found.alike)
    if asked in found.alike or not found.alike or confidence < least:
        return None
    reps = {name: len(analyse(recording, known[name], settings=settings).review.reps) for name in found.alike}
    name = max(found.alike, key=lambda one: reps[one])
    if reps[name] < FEWEST_REPS:
        return None
    also = " ".join(one for one in found.alike if one != name and reps[one] == reps[name])
    parameters: dict[str, float | str] = {"exercise": name, "confidence": round(confidence, 4), "also": also}
    return QualityProblem("other-exercise", parameters | {"reps": len(review.reps)}), reps[name]


def _remove_numbers(analysis: Analysis, named: QualityProblem) -> Analysis:
    """The analysis of a set of another exercise: no repetition, number, finding or camera side of the one asked."""
    review = analysis.review
    graver = [item for item in review.quality.problems if rank_problem(item.code) < rank_problem(named.code)]
    quality = replace(review.quality, problems=tuple(graver))
    if review.reps:
        quality = replace(quality, notes=(), notes_coded=())
    quality = add_problems(quality, named)
    view = review.view if review.view.origin == "given" else replace(review.view, known=False)
    review = replace(review, view=view, quality=quality, reps=(), measures=(), findings=(), parts=())
    return replace(analysis, review=review)
