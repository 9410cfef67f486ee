"""The codes of what makes a review impossible or incomplete, with the parameters each has.

The analysis names a problem by its code; the words for it are made in `formcheck.report.problem_text`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from formcheck.core.model import Quality, QualityProblem
from formcheck.core.vocabulary import read_table


@dataclass(frozen=True, slots=True)
class ProblemTerm:
    """One code.

    Parameters
    ----------
    code : lower-case words joined by hyphens; published in the review document, never renamed.
    blocks_review : True when nothing may be concluded from the clip; False when a part of it still counts.
    meaning : what it says, for the documentation.
    parameters : names of its parameters.
    """

    code: str
    blocks_review: bool
    meaning: str
    parameters: tuple[str, ...] = ()


PROBLEMS: Mapping[str, ProblemTerm] = {
    code: ProblemTerm(code, row["blocks_review"], row["meaning"], tuple(row.get("parameters", ())))
    for code, row in read_table("problems").items()
}
"""Code → term, the gravest first."""
_ORDER = list(PROBLEMS)


def blocks_review(code: str) -> bool:
    """Whether nothing may be concluded from a clip with this problem; an unknown code does not say so."""
    return code in PROBLEMS and PROBLEMS[code].blocks_review


def rank_problem(code: str) -> int:
    """Place of a code among all, the gravest first; unknown ones come last."""
    return _ORDER.index(code) if code in PROBLEMS else len(_ORDER)


def add_problems(quality: Quality, *problems: QualityProblem) -> Quality:
    """The quality with more problems, of each code the first one, the gravest code first."""
    of_each: dict[str, QualityProblem] = {}
    for item in (*quality.problems, *problems):
        of_each.setdefault(item.code, item)
    return replace(quality, problems=tuple(sorted(of_each.values(), key=lambda item: rank_problem(item.code))))
