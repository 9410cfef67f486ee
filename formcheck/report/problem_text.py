"""The words for what makes a review impossible or incomplete: one sentence a problem, with what to do."""

from collections.abc import Callable, Mapping

from formcheck.model import ProblemValue, QualityProblem, Review

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


def _clip_damaged(given: Parameters) -> str:
    read, length = float(given["read_s"]), float(given["length_s"])
    return (
        f"The clip is damaged: {read:.1f} of {length:.1f} seconds could be read. "
        "Copy it from the phone again and review it anew."
    )


_SENTENCES: Mapping[str, Callable[[Parameters], str]] = {"clip-damaged": _clip_damaged}
