"""How often each problem of a clip is reported of rendered sets that are fine, and of clips with no exercise.

    python tools/benchmarks/problems.py

Reviews every tuning set as what it is, and every clip of the part `rests`. Prints the codes of `quality.problems`, one
line for each set that has any, then how many sets have one and how often each code came.
"""

import argparse
from collections import Counter
from collections.abc import Sequence

from formcheck.analysis import analyse
from formcheck.core.model import QualityProblem
from rendered_sets import RenderedSet, map_sets

Reviewed = tuple[str, int, int, tuple[QualityProblem, ...]]
"""Set, its reps, reps found, problems."""


def review_set(one: RenderedSet) -> Reviewed:
    """What a review says of a set."""
    review = analyse(one.recording, one.exercise).review
    return one.name, len(one.planned), len(review.reps), review.quality.problems


def count_codes(results: Sequence[Reviewed]) -> str:
    """How often each code came, in words."""
    codes = Counter(problem.code for _, _, _, problems in results for problem in problems)
    return ", ".join(f"{code} {count}" for code, count in codes.most_common()) or "none"


def main() -> None:
    """Print the sets with problems, then the counts."""
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter).parse_args()
    sets, rests = (list(map_sets(review_set, part)) for part in ("tuning", "rests"))
    having = [result for result in sets if result[-1]]
    for name, planned, found, problems in having:
        said = "; ".join(f"{item.code} {dict(item.parameters)}" for item in problems)
        print(f"{name:36}{found:3} of {planned:2} reps  {said}")
    print(f"\n{len(sets)} sets that should have no problem: {len(having)} have one ({count_codes(sets)})")
    print(f"{len(rests)} clips with no exercise: {count_codes(rests)}")


if __name__ == "__main__":
    main()
