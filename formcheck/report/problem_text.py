"""The words for what makes a review impossible or incomplete: one sentence a problem, with what to do."""

from collections.abc import Sequence

from formcheck.core.errors import UsageError
from formcheck.core.model import QualityProblem, Review
from formcheck.core.vocabulary.problems import blocks_review
from formcheck.core.vocabulary.sentences import Formats, write_moment, write_sentence
from formcheck.exercises.registry import get_exercise, load_exercises
from formcheck.report.words import WORDS


def describe_problem(problem: QualityProblem) -> str:
    """One sentence that says the problem and what to do; a code from a newer version gets a general one."""
    code, given = problem.code, {"camera": "first", "also": "", **problem.parameters}
    if code == "other-exercise" and not given.get("reps"):
        code = "other-exercise-without-reps"
    try:
        return write_sentence(WORDS["problems"][code], given, _FORMATS)
    except (KeyError, TypeError, ValueError):
        return f"A newer formcheck found a problem with this clip ({problem.code}): do not rely on the numbers below."


def describe_problems(review: Review) -> list[str]:
    """The sentences for a review, the gravest first; empty for a sound clip."""
    return [describe_problem(problem) for problem in review.quality.problems]


def is_review_blocked(review: Review) -> bool:
    """Whether nothing may be concluded from the clip: then no camera side, no number and no verdict is shown."""
    return any(blocks_review(problem.code) for problem in review.quality.problems)


def is_clip_damaged(review: Review) -> bool:
    """Whether a part of a clip could not be read, so that the review is of the rest alone."""
    return any(problem.code == "clip-damaged" for problem in review.quality.problems)


def describe_problem_heading(review: Review) -> str:
    """What stands over the sentences of a review with problems."""
    return "This clip could not be reviewed" if is_review_blocked(review) else "Only part of this set could be measured"


def find_likely_exercise(review: Review) -> str | None:
    """Id of the exercise the clip looks like, where it is another one that is known here; else None."""
    for problem in review.quality.problems:
        if problem.code == "other-exercise":
            wanted = str(problem.parameters.get("exercise", ""))
            return wanted if wanted in load_exercises() else None
    return None


def are_reps_doubted(review: Review) -> bool:
    """Whether repetitions were found, but of another exercise: then the person may know better."""
    return any(
        problem.code == "other-exercise" and problem.parameters.get("reps") for problem in review.quality.problems
    )


def get_exercise_name(exercise: object) -> str:
    """An exercise's name, or its identifier where this formcheck does not know it."""
    try:
        return get_exercise(str(exercise)).name
    except UsageError:
        return str(exercise)


def format_confidence(confidence: float) -> str:
    """A confidence 0..1 in percent; never certain, since it rests on rendered sets."""
    return f"{min(float(confidence), 0.99):.0%}"


def name_problem(code: str) -> str:
    """A problem in a few words, for a list."""
    return WORDS["short_problems"].get(code, "problem with the clip")


def name_problems(codes: Sequence[str]) -> str:
    """The gravest problem of a set in a list, and whether there are more; empty for a sound set."""
    if not codes:
        return ""
    more = f" and {len(codes) - 1} more" if len(codes) > 1 else ""
    words = name_problem(codes[0])
    return words[:1].upper() + words[1:] + more


def is_blocked(codes: Sequence[str]) -> bool:
    """Whether one of the codes says that nothing may be concluded."""
    return any(blocks_review(code) for code in codes)


def _write_alike(exercises: object) -> str:
    """The other exercises that a clip may show as well, from their ids with spaces between."""
    names = " or ".join(map(get_exercise_name, str(exercises).split()))
    return f", or {names}, which this clip does not tell from it" if names else ""


_FORMATS: Formats = {
    "clip": lambda camera: "second clip" if camera == "second" else "clip",
    "name": get_exercise_name,
    "alike": _write_alike,
    "sure": lambda confidence: format_confidence(float(str(confidence))),
    "moment": write_moment,
}
