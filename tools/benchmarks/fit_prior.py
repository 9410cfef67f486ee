"""How rare a fault is before a set is seen: the odds that most agree with the truth of the rendered tuning sets.

    python tools/benchmarks/fit_prior.py    the odds, and how they hold for builds kept out; `fit_tables.py` writes them

Each probability that was said, less the prior in it, is weighed by odds of which the truth is most likely (maximum
likelihood: as many are truly beyond as the probabilities add up to). Values and sets are fitted apart; the larger odds,
to a twentieth, are the table's, so that rather too little is praised. `kept out`: of the sets of one build
of bodies, those truly beyond beside the number said with odds fitted to the other builds.
"""

from __future__ import annotations

import argparse
import math
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import formcheck.verdicts
from formcheck.verdicts import get_prior_odds, weigh_prior
from grades import Said, judge_rendered_set
from rendered_sets import RenderedSet, map_sets

TABLE = Path(formcheck.verdicts.__file__).with_name("verdicts.toml")
Pair = tuple[float, bool]
"""Probability by the errors alone, and whether the truth is beyond."""


def fit_odds(pairs: Sequence[Pair]) -> float:
    """The odds that make the truth most likely, by bisection of their logarithm."""
    low, high = math.log(1e-3), math.log(1e3)
    amount = sum(beyond for _, beyond in pairs)
    for _ in range(60):
        middle = (low + high) / 2
        said = sum(weigh_prior(probability, math.exp(middle)) for probability, _ in pairs)
        low, high = (low, middle) if said > amount else (middle, high)
    return math.exp(low)


def pairs_of(said: Sequence[Said]) -> list[Pair]:
    """What was said, without the prior."""
    return [(weigh_prior(item.probability, 1 / get_prior_odds()), item.beyond) for item in said if item.kind == "level"]


def round_odds(odds: float) -> float:
    """The table's odds: the nearest twentieth, at least one."""
    return max(round(odds * 20), 1) / 20


def judge(one: RenderedSet) -> tuple[str, list[Pair], list[Pair]]:
    """Build of a set's body, and what was said of its values and of its points."""
    result = judge_rendered_set(one)
    return str(one.document["build"]), pairs_of(result.reps), pairs_of(result.sets)


def main() -> None:
    """Print the odds."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    groups: dict[str, dict[str, list[Pair]]] = {"values": defaultdict(list), "sets": defaultdict(list)}
    for build, values, sets in map_sets(judge, "tuning", processes=options.processes):
        groups["values"][build] += values
        groups["sets"][build] += sets
    fitted = []
    for name, builds in groups.items():
        odds = fit_odds([pair for pairs in builds.values() for pair in pairs])
        fitted.append(odds)
        print(f"{name}: {odds:.3f}")
        for build, mine in sorted(builds.items()):
            others = fit_odds([pair for other, pairs in builds.items() if other != build for pair in pairs])
            said = sum(weigh_prior(probability, others) for probability, _ in mine)
            truly = sum(beyond for _, beyond in mine)
            print(f"    {build:26} kept out: {others:6.3f}, truly beyond {truly:4} of {len(mine):5}, said {said:6.1f}")
    print(f"table: {round_odds(max(fitted))}")


if __name__ == "__main__":
    main()
