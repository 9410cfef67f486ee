"""A set without repetitions of the exercise it was reviewed as: which exercise it looks like instead."""

from collections.abc import Iterable
from dataclasses import replace

from formcheck.analysis import analyse
from formcheck.exercises.schema import Exercise
from formcheck.model import Analysis, LandmarkRecording, Quality, QualityProblem, Settings
from formcheck.suggestion.suggest import suggest
from formcheck.vocabulary.problems import with_problems

LIKELY = 0.5
"""From this confidence on another exercise is named: likelier than not."""
FEWEST_REPS = 2
"""What happens once is as well a gesture of somebody who does not train, such as a hand that goes to the hair."""


def name_other_exercise(
    analysis: Analysis,
    recording: LandmarkRecording,
    exercises: Iterable[Exercise],
    *,
    settings: Settings | None = None,
) -> Analysis:
    """The analysis, with the exercise its recording looks like where no repetition of the one asked for was found.

    What is not likelier than not is not named, nor what is not repeated in the recording either. A review with
    repetitions comes back as it is.
    """
    known = {exercise.id: exercise for exercise in exercises}
    codes = [problem.code for problem in analysis.review.quality.problems]
    if "no-reps" not in codes:
        return analysis
    found = suggest(recording, known.values(), settings=settings)
    asked = analysis.review.exercise.id.partition("/")[0]
    if not found.ranked or found.ranked[0][1] < LIKELY or found.ranked[0][0] == asked:
        return analysis
    name, confidence = found.ranked[0]
    counting = replace(settings or Settings(), fit_body=False)  # repetitions are found without the fitted body
    if len(analyse(recording, known[name], settings=counting).review.reps) < FEWEST_REPS:
        return analysis
    named = QualityProblem("other-exercise", {"exercise": name, "confidence": round(confidence, 4)})
    quality = _instead_of(analysis.review.quality, "no-reps", named)
    return replace(analysis, review=replace(analysis.review, quality=quality))


def _instead_of(quality: Quality, code: str, problem: QualityProblem) -> Quality:
    """The quality with one problem in the place of another."""
    rest = tuple(item for item in quality.problems if item.code != code)
    return with_problems(replace(quality, problems=rest), problem)
