"""How often formcheck recognises the exercise of a set whose exercise is known.

    python tools/benchmarks/suggestions.py [FOLDER ...]        default: clips_demo

Reads the same sets as `tools/benchmarks/accuracy.py`. Prints, for every exercise, what its sets looked most like, then
how often the first suggestion was right among all sets and among those it was sure of, and how often the right one was
among those it could not tell apart.
"""

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

from cases import HERE, load_cases
from formcheck.exercises.registry import load_exercises
from formcheck.recognition import CONFIDENT, suggest

NONE = "(none of them)"


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[HERE.parents[1] / "clips_demo"])
    shelf = load_exercises().values()
    table: dict[str, Counter[str]] = defaultdict(Counter)
    first = among = sure = sure_right = sets = 0
    for folder in parser.parse_args().folders:
        for case in load_cases(folder):
            truth = NONE if case.no_exercise else case.exercise
            found = suggest(case.recording, shelf)
            best, confidence = found.ranked[0] if found.alike else (NONE, 0.0)
            table[truth][best] += 1
            sets += 1
            first += best == truth
            among += truth in found.alike or truth == best
            sure += confidence >= CONFIDENT
            sure_right += confidence >= CONFIDENT and best == truth
            mark = "" if best == truth else "  LEFT OPEN" if truth in found.alike else "  WRONG"
            print(f"{case.name:50}{best:28}{confidence:5.0%}{mark}")
    print(f"\n{'exercise':28}looks most like")
    for truth, counts in sorted(table.items()):
        print(f"{truth:28}{', '.join(f'{name} {count}' for name, count in counts.most_common())}")
    print(f"\nfirst suggestion right: {first} of {sets} sets; right one among those left open: {among} of {sets}")
    print(f"sure (confidence at least {CONFIDENT:.0%}): {sure} sets, right in {sure_right}")
    return 0 if sure == sure_right else 1


if __name__ == "__main__":
    sys.exit(main())
