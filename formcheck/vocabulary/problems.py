"""The codes of what makes a review impossible or incomplete, with the parameters each has.

The analysis names a problem by its code; the words for it are made in `formcheck.report.problem_text`.
"""

from collections.abc import Mapping
from dataclasses import dataclass


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
)
"""Code → term, the gravest first."""
