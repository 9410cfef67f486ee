"""The words for what makes a review impossible or incomplete: one sentence a problem, with what to do."""

from collections.abc import Callable, Mapping, Sequence

from formcheck.core.errors import UsageError
from formcheck.core.model import ProblemValue, QualityProblem, Review
from formcheck.core.vocabulary.numbers import moment
from formcheck.core.vocabulary.problems import blocks_review
from formcheck.exercises.registry import get_exercise, load_exercises

Parameters = Mapping[str, ProblemValue]


def describe_problem(problem: QualityProblem) -> str:
    """One sentence that says the problem and what to do; a code from a newer version gets a general one."""
    write = _SENTENCES.get(problem.code)
    if write is not None:
        try:
            return write(problem.parameters)
        except (KeyError, TypeError, ValueError):
            pass
    return f"A newer formcheck found a problem with this clip ({problem.code}): do not rely on the numbers below."


def describe_problems(review: Review) -> list[str]:
    """The sentences for a review, the gravest first; empty for a sound clip."""
    return [describe_problem(problem) for problem in review.quality.problems]


def review_blocked(review: Review) -> bool:
    """Whether nothing may be concluded from the clip: then no camera side, no number and no verdict is shown."""
    return any(blocks_review(problem.code) for problem in review.quality.problems)


def problem_heading(review: Review) -> str:
    """What stands over the sentences of a review with problems."""
    return "This clip could not be reviewed" if review_blocked(review) else "Only part of this set could be measured"


def likely_exercise(review: Review) -> str | None:
    """Id of the exercise the clip looks like, where it is another one that is known here; else None."""
    for problem in review.quality.problems:
        if problem.code == "other-exercise":
            wanted = str(problem.parameters.get("exercise", ""))
            return wanted if wanted in load_exercises() else None
    return None


def reps_doubted(review: Review) -> bool:
    """Whether repetitions were found, but of another exercise: then the person may know better."""
    return any(
        problem.code == "other-exercise" and problem.parameters.get("reps") for problem in review.quality.problems
    )


def _clip_damaged(given: Parameters) -> str:
    read, length = float(given["read_s"]), float(given["length_s"])
    which = "second clip" if given.get("camera") == "second" else "clip"
    return (
        f"The {which} is damaged: {read:.1f} of {length:.1f} seconds could be read. "
        "Copy it from the phone again and review it anew."
    )


def _nobody_found(given: Parameters) -> str:
    return "Nobody was found in this clip: film one lifter, the whole body in the picture, in good light."


def _clip_too_short(given: Parameters) -> str:
    return (
        f"The clip is too short to hold a rep ({float(given['length_s']):.1f} seconds): "
        "film the whole set, from just before the first rep to just after the last."
    )


def _too_few_pictures(given: Parameters) -> str:
    return (
        f"The clip has too few pictures to follow a lift ({float(given['rate']):.0f} a second): "
        "film with 30 a second, as phones do by themselves."
    )


def _other_exercise(given: Parameters) -> str:
    names = [exercise_name(name) for name in (given["exercise"], *str(given.get("also", "")).split())]
    alike = f", or {' or '.join(names[1:])}, which this clip does not tell from it" if len(names) > 1 else ""
    first = (
        "This looks like another exercise than the one it was reviewed as"
        if given.get("reps")
        else "No rep of this exercise was found, and the movement looks like another"
    )
    return f"{first}: {names[0]}{alike} ({shown_confidence(given['confidence'])} sure). Review it as that."


def exercise_name(exercise: ProblemValue) -> str:
    """An exercise's name, or its identifier where this formcheck does not know it."""
    try:
        return get_exercise(str(exercise)).name
    except UsageError:
        return str(exercise)


def shown_confidence(confidence: ProblemValue) -> str:
    """A confidence 0..1 in percent; never certain, since it rests on rendered sets."""
    return f"{min(float(confidence), 0.99):.0%}"


def _no_reps(given: Parameters) -> str:
    return (
        "No rep of this exercise was found in the clip: check that it is the right exercise, "
        "and film the whole set with nothing cut off."
    )


def _sides_swapped(given: Parameters) -> str:
    return (
        f"Left and right could not be told apart between {moment(float(given['from_s']))} and "
        f"{moment(float(given['to_s']))}, so the reps done there are not measured: "
        "film with more light, in clothes that stand out from the background."
    )


def _body_not_fitted(given: Parameters) -> str:
    return (
        "How the body stands in space could not be told from this clip, so the angles that need it are not given: "
        "film the whole set square to the body, with nothing in front of it."
    )


_SENTENCES: Mapping[str, Callable[[Parameters], str]] = {
    "nobody-found": _nobody_found,
    "clip-too-short": _clip_too_short,
    "too-few-pictures": _too_few_pictures,
    "other-exercise": _other_exercise,
    "no-reps": _no_reps,
    "clip-damaged": _clip_damaged,
    "sides-swapped": _sides_swapped,
    "body-not-fitted": _body_not_fitted,
}

_SHORT: Mapping[str, str] = {
    "nobody-found": "nobody found",
    "clip-too-short": "clip too short",
    "too-few-pictures": "too few pictures a second",
    "other-exercise": "another exercise?",
    "no-reps": "no reps found",
    "clip-damaged": "clip damaged",
    "sides-swapped": "left and right mixed up",
    "body-not-fitted": "not all angles could be told",
}
"""The same in two or three words, for a list."""


def short_problem(code: str) -> str:
    """A problem in a few words, for a list."""
    return _SHORT.get(code, "problem with the clip")


def list_text(codes: Sequence[str]) -> str:
    """The gravest problem of a set in a list, and whether there are more; empty for a sound set."""
    if not codes:
        return ""
    more = f" and {len(codes) - 1} more" if len(codes) > 1 else ""
    words = short_problem(codes[0])
    return words[:1].upper() + words[1:] + more


def is_blocked(codes: Sequence[str]) -> bool:
    """Whether one of the codes says that nothing may be concluded."""
    return any(blocks_review(code) for code in codes)
