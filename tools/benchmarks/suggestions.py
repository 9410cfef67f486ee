"""How often formcheck recognises the exercise of a rendered set.

    python tools/benchmarks/suggestions.py [--list]

Over the tuning sets and the part `rests`, in which no exercise is done. Prints what the sets of each exercise looked
most like; how often the first suggestion was right, in all and where formcheck was sure; and how often the right one
was among those it left open. Exercises that differ in what no landmark shows count as one (`wrong_exercise.same`).
"""

import argparse
from collections import Counter, defaultdict

from formcheck.exercises.registry import load_exercises
from formcheck.recognition.suggest import CONFIDENT, suggest
from rendered_sets import RenderedSet, map_sets
from wrong_exercise import same

NONE = "(no exercise)"
Suggested = tuple[str, str, str, float, bool]
"""Set, true exercise, first suggestion, its confidence, whether the true one was left open."""


def suggest_for(one: RenderedSet) -> Suggested:
    """What a set looks like."""
    truth = one.exercise.id if one.planned else NONE
    found = suggest(one.recording, load_exercises().values())
    best, confidence = found.ranked[0] if found.alike else (NONE, 0.0)
    return one.name, truth, best, confidence, any(same(name, truth) for name in (*found.alike, best))


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--list", action="store_true", help="a line for each set that is not recognised")
    show = parser.parse_args().list
    table: dict[str, Counter[str]] = defaultdict(Counter)
    results = [result for part in ("tuning", "rests") for result in map_sets(suggest_for, part)]
    for name, truth, best, confidence, open_ in results:
        table[truth][best] += 1
        if show and not same(best, truth):
            print(f"{name:36}{best:28}{confidence:5.0%}{'' if open_ else '  true one not left open'}")
    print(f"{'exercise':28}sets  looks most like")
    for truth, counts in sorted(table.items()):
        shown = ", ".join(f"{name} {count}" for name, count in counts.most_common())
        print(f"{truth:28}{counts.total():4}  {shown}")
    first = sum(same(best, truth) for _, truth, best, _, _ in results)
    sure = [same(best, truth) for _, truth, best, confidence, _ in results if confidence >= CONFIDENT]
    print(f"\nfirst suggestion right: {first} of {len(results)} sets; ", end="")
    print(f"true exercise left open: {sum(result[-1] for result in results)}")
    print(f"sure (confidence at least {CONFIDENT:.0%}): {len(sure)} sets, right in {sum(sure)}")


if __name__ == "__main__":
    main()
