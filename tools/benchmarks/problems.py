"""How often each problem of a clip is told over recordings of sets that are fine, and of what else is committed.

    python tools/benchmarks/problems.py [FOLDER ...]    default: tuning, plain and breakdown sets and the shipped clips

Reviews every set as what it is and prints the codes of `quality.problems`, one line a set that has any, then how many
of the sets have one though they should have none, and how often each code came among them and among clips of somebody
who does no exercise. A code of a set is right only where the pose model itself went wrong.
"""

import argparse
from collections import Counter
from pathlib import Path

from cases import FOLDERS, HERE, load_cases
from formcheck.analysis import analyse
from formcheck.exercises.registry import get_exercise

USUAL = [FOLDERS["tuning"], FOLDERS["plain"], HERE / "recordings" / "breakdown", FOLDERS["shipped"]]


def main() -> None:
    """Print the sets with problems, then the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=USUAL)
    fine: Counter[str] = Counter()
    other: Counter[str] = Counter()
    sets = {True: 0, False: 0}
    told_of = 0
    for folder in parser.parse_args().folders:
        for case in load_cases(folder):
            is_set = case.no_exercise is None
            sets[is_set] += 1
            review = analyse(case.recording, get_exercise(case.exercise)).review
            codes = [problem.code for problem in review.quality.problems]
            (fine if is_set else other).update(codes)
            if codes and is_set:
                told_of += 1
                told = "; ".join(f"{item.code} {dict(item.parameters)}" for item in review.quality.problems)
                print(f"{case.name:56}{len(review.reps):3} of {len(case.planned)} reps  {told}", flush=True)
    print(
        f"\n{sets[True]} sets that should have no problem: {fine.total()} told in {told_of} of them ({_counts(fine)})"
    )
    print(f"{sets[False]} clips of something else: {_counts(other)}")


def _counts(found: Counter[str]) -> str:
    return ", ".join(f"{code} {count}" for code, count in found.most_common()) or "none"


if __name__ == "__main__":
    main()
