"""The codes of what makes a review impossible or incomplete, with the parameters each has.

The analysis names a problem by its code; the words for it are made in `formcheck.report.problem_text`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from formcheck.core.model import Quality, QualityProblem
from formcheck.core.vocabulary import read_table
from formcheck.core.vocabulary.messages import MessageTerm


@dataclass(frozen=True, slots=True)
class ProblemTerm(MessageTerm):
    """One code.

    Parameters
    ----------
    blocks_review : True when nothing may be concluded from the clip; False when a part of it still counts.
    """

    blocks_review: bool = False


PROBLEMS: Mapping[str, ProblemTerm] = {
    code: ProblemTerm(code, row["meaning"], tuple(row.get("parameters", ())), row["blocks_review"])
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
