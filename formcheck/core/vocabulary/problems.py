"""The codes of what makes a review impossible or incomplete, with the parameters each has.

The analysis names a problem by its code; the words for it are made in `formcheck.report.problem_text`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from formcheck.core.model import Quality, QualityProblem


@dataclass(frozen=True, slots=True)
class ProblemTerm:
    """One code.

    Parameters
    ----------
    code : lower-case words joined by hyphens; published in the review document, never renamed.
    parameters : names of its parameters.
    blocks_review : True when nothing may be concluded from the clip; False when a part of it still counts.
    meaning : what it says, for the documentation.
    """

    code: str
    parameters: tuple[str, ...]
    blocks_review: bool
    meaning: str


def _problems(*terms: ProblemTerm) -> Mapping[str, ProblemTerm]:
    return {term.code: term for term in terms}


PROBLEMS = _problems(
    ProblemTerm("clip-damaged", ("read_s", "length_s"), False, "Only part of the film could be read."),
    ProblemTerm("nobody-found", ("found_share",), True, "Nobody was found in the clip, or not surely."),
    ProblemTerm("clip-too-short", ("length_s", "needed_s"), True, "The film is too short to hold a repetition."),
    ProblemTerm("too-few-pictures", ("rate", "needed_rate"), True, "The film has too few pictures a second."),
    ProblemTerm(
        "other-exercise",
        ("exercise", "confidence", "also", "reps"),
        True,
        "The movement is not the exercise it was reviewed as; it looks like another one.",
    ),
    ProblemTerm("no-reps", (), True, "No repetition of the exercise was found."),
    ProblemTerm(
        "sides-swapped",
        ("from_s", "to_s", "lasting_s"),
        False,
        "For a while the pose model took the lifter's left for the right; nothing is measured there.",
    ),
    ProblemTerm(
        "body-not-fitted",
        (),
        False,
        "How the body stands in space could not be told from this clip; angles that need it are not given.",
    ),
)
"""Code → term, the gravest first; a damaged clip before what may come of it."""
_ORDER = list(PROBLEMS)


def blocks_review(code: str) -> bool:
    """Whether nothing may be concluded from a clip with this problem; an unknown code does not say so."""
    return code in PROBLEMS and PROBLEMS[code].blocks_review


def gravity(code: str) -> int:
    """Place of a code among all, the gravest first; unknown ones come last."""
    return _ORDER.index(code) if code in PROBLEMS else len(_ORDER)


def with_problems(quality: Quality, *problems: QualityProblem) -> Quality:
    """The quality with more problems, of each code the first one, the gravest code first."""
    of_each: dict[str, QualityProblem] = {}
    for item in (*quality.problems, *problems):
        of_each.setdefault(item.code, item)
    return replace(quality, problems=tuple(sorted(of_each.values(), key=lambda item: gravity(item.code))))
