"""How much of a measure's margin differs from rep to rep of a set, on rendered sets whose angles are known exactly.

    python tools/benchmarks/repeatability.py [FOLDER ...] [--table]        default: the tuning part and the plain sets

The error of a value against its truth has a part common to all reps of a set (same body, same camera) and one that
scatters. Prints, for every measure and plane: sets, degrees of freedom, the scatter pooled over sets (standard
deviation within a set), and the same with each error taken in units of its own margin / 1.96: the share.
``--table`` prints formcheck/statistics/repeatability.toml instead: the shares with at least 30 degrees of freedom,
rounded up to a twentieth. Sets with planted faults are in on purpose: an error that follows the value is error between
reps too.
"""

import argparse
import math
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from cases import FOLDERS, Case, load_cases
from formcheck.analysis import analyse
from formcheck.core.model import Array
from formcheck.exercises.registry import get_exercise
from formcheck.signals.camera import get_plane
from true_values import Truth

FEWEST_REPS = 3
FEWEST_DEGREES = 30
HEAD = """\
# Share of a measure's margin that differs from rep to rep of one set (same body, same camera); the rest is common
# to all its reps and cancels between them. From rendered sets whose angles are known exactly, rounded up:
#   python tools/benchmarks/repeatability.py --table
# A plane not listed takes the measure's largest share, a measure not listed the largest of all.
"""


def errors_of(case: Case) -> Iterator[tuple[str, str, Array]]:
    """Measure, plane, and (reps, 2) error and margin, for every measure and side of one set."""
    review = analyse(case.recording, get_exercise(case.exercise)).review
    truth = Truth(case)
    if len(review.reps) != len(truth.reps):
        return
    found: dict[tuple[str, str | None], list[tuple[float, float]]] = defaultdict(list)
    for measure in review.measures:
        if measure.value is None or measure.margin is None:
            continue
        rep = next(item for item in review.reps if item.number == measure.rep)
        partner = truth.partner(rep)
        value = None if partner is None else truth.value(measure.name, measure.side, partner)
        if value is not None:
            found[measure.name, measure.side].append((measure.value - value, measure.margin))
    for (name, _), pairs in found.items():
        if len(pairs) >= FEWEST_REPS:
            yield name, get_plane(review.view), np.array(pairs)


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[FOLDERS["tuning"], FOLDERS["plain"]])
    parser.add_argument("--table", action="store_true", help="print the TOML table")
    arguments = parser.parse_args()
    groups: dict[tuple[str, str], list[Array]] = defaultdict(list)
    for folder in arguments.folders:
        for case in load_cases(folder):
            for name, plane, pairs in errors_of(case):
                groups[name, plane].append(pairs)
    if arguments.table:
        print(HEAD, end="")
    else:
        print(f"{'measure':26}{'plane':11}{'sets':>5}{'df':>5}{'scatter':>10}{'share':>8}")
    heading = ""
    for (name, plane), sets in sorted(groups.items()):
        degrees = sum(len(pairs) - 1 for pairs in sets)
        scatter = math.sqrt(sum(float(((e := pairs[:, 0]) - e.mean()) @ (e - e.mean())) for pairs in sets) / degrees)
        share = math.sqrt(sum(_relative(pairs) for pairs in sets) / degrees)
        if not arguments.table:
            print(f"{name:26}{plane:11}{len(sets):5}{degrees:5}{scatter:10.3f}{share:8.2f}")
        elif degrees >= FEWEST_DEGREES:
            print(f"[{name}]\n" if heading != name else "", end="")
            heading = name
            print(f"{plane} = {min(math.ceil(20 * share - 1e-9) / 20, 1.0):.2f}")
    return 0


def _relative(pairs: Array) -> float:
    """Sum of squared deviations of a set's errors, each in units of its margin / 1.96."""
    return float(np.sum(((pairs[:, 0] - pairs[:, 0].mean()) / (pairs[:, 1] / 1.96)) ** 2))


if __name__ == "__main__":
    sys.exit(main())
