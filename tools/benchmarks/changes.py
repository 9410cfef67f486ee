"""How exact a change within a set is: each later rep less the mean of the first three, beside the true difference.

    python tools/benchmarks/changes.py

Prints, for every measure and plane that a check with a change is judged by: sets, differences, the mean margin of the
change as it is judged today, the 95th percentile of the error, and truths inside the margin. `fit_tables.py` writes the
share of a value's margin that makes 95 of 100 differences of up to `SMALL` degrees (of ratios: a tenth) lie inside the
margin of the change, and the share of larger differences by which they are off beyond that (1.96 times the root mean
square, each set counted once). Rows of fewer than `FEWEST` values or `FEWEST_SETS` sets are left out.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from formcheck.analysis import CameraAnalysis
from formcheck.core.vocabulary import MEASURES
from formcheck.signals.camera import Plane, get_plane
from formcheck.statistics.change_in_set import FIRST_REPS, compute_change_margin
from grades import pair_reps
from rendered_sets import RenderedSet, list_fitted_paths, load_fitted

SMALL = {"deg": 5.0, "ratio": 0.1}
"""Up to this a difference is one of a rep done the same way."""
FEWEST, FEWEST_SETS = 25, 5
HEAD = """\
# How exact a change within a set is, by measure and plane: the share of a value's margin that is each rep's own, so
# that 95 of 100 differences from the first three reps lie inside their margin, and, of large differences, the share by
# which they are off besides ("_of_change"). From rendered sets whose angles are known exactly, rounded up to 0.05:
#   python tools/benchmarks/fit_tables.py --write
# A plane not listed takes the measure's largest, a measure not listed that of repeatability.toml.
"""


@dataclass(frozen=True)
class Difference:
    """One later rep less the mean of the first three."""

    set_name: str
    measure: str
    plane: Plane
    error: float
    true: float
    of_margins: float
    """Margin of the difference if all of each value's margin were its own."""
    margin: float
    """As it is judged today."""


def list_differences(path: Path) -> list[Difference]:
    """All of one set; empty where it does not count in fits."""
    seen = load_fitted(path)
    return [] if seen is None else list(compare_changes(*seen))


def compare_changes(one: RenderedSet, look: CameraAnalysis) -> Iterator[Difference]:
    """Every difference beside the true one, of measures that a check with a change is judged by."""
    true_reps, truth = one.true_measures(look)
    partners, plane = pair_reps(look.reps, true_reps), get_plane(look.camera)
    first = [rep.number for rep in look.reps if rep.complete][:FIRST_REPS]
    wanted = {
        check.measure
        for check in one.exercise.checks
        if check.change_at_most is not None and look.camera.name in one.exercise.views_for(check)
    }
    found: dict[tuple[str, str | None], dict[int, tuple[float, float, float]]] = defaultdict(dict)
    for item in (reading.measure for reading in look.readings):
        if item.name not in wanted or item.value is None or item.margin is None or item.rep is None:
            continue
        true = truth.get((item.name, item.side, partners.get(item.rep, 0)))
        if true is not None:
            found[item.name, item.side][item.rep] = (item.value, true, item.margin)
    for (measure, _), values in found.items():
        if len(first) < FIRST_REPS or any(rep not in values for rep in first):
            continue
        seen, true = (float(np.mean([values[rep][at] for rep in first])) for at in (0, 1))
        for rep, (value, real, margin) in values.items():
            if rep > max(first):
                whole = math.hypot(margin, math.sqrt(sum(values[r][2] ** 2 for r in first)) / FIRST_REPS)
                change, really = value - seen, real - true
                judged = compute_change_margin(measure, plane, whole, change)
                yield Difference(one.name, measure, plane, change - really, really, whole, judged)


def table_lines(rows: Sequence[Difference]) -> list[str]:
    """What is read today, by measure and plane."""
    lines = [f"{'measure':26}{'plane':10}{'sets':>5}{'n':>6}{'margin':>8}{'95 %':>8}{'inside':>8}"]
    for (measure, plane), mine in group(rows).items():
        errors, margins = (np.array([getattr(row, name) for row in mine]) for name in ("error", "margin"))
        lines.append(
            f"{measure:26}{plane:10}{len({row.set_name for row in mine}):5}{len(mine):6}{margins.mean():8.2f}"
            f"{np.percentile(np.abs(errors), 95):8.2f}{np.mean(np.abs(errors) <= margins):8.0%}"
        )
    return lines


def toml_lines(rows: Sequence[Difference]) -> list[str]:
    """The table as it ships."""
    lines: list[str] = []
    heading = ""
    for (measure, plane), mine in group(rows).items():
        if len(mine) < FEWEST or len({row.set_name for row in mine}) < FEWEST_SETS:
            continue
        small = [row for row in mine if abs(row.true) <= SMALL.get(MEASURES[measure].unit, math.inf)]
        large = [row for row in mine if abs(row.true) > SMALL.get(MEASURES[measure].unit, math.inf)]
        share = float(np.percentile([abs(row.error) / row.of_margins for row in small], 95)) if small else 1.0
        of_sets: dict[str, list[float]] = defaultdict(list)
        for row in large:
            beyond = max(row.error**2 - (share * row.of_margins) ** 2, 0.0)
            of_sets[row.set_name].append(beyond / max(abs(row.true), abs(row.true + row.error)) ** 2)
        of_change = 1.96 * math.sqrt(np.mean([np.mean(some) for some in of_sets.values()])) if of_sets else 0.0
        lines += [f"[{measure}]"] if heading != measure else []
        heading = measure
        lines.append(f"{plane} = {_round_up(share):.2f}")
        if of_change > 0:
            lines.append(f"{plane}_of_change = {_round_up(of_change):.2f}")
    return lines


def group(rows: Sequence[Difference]) -> dict[tuple[str, Plane], list[Difference]]:
    """By measure and plane, in their order."""
    groups: dict[tuple[str, Plane], list[Difference]] = defaultdict(list)
    for row in rows:
        groups[row.measure, row.plane].append(row)
    return dict(sorted(groups.items()))


def _round_up(share: float) -> float:
    return min(math.ceil(20 * share - 1e-9) / 20, 1.0)


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    with ProcessPoolExecutor(options.processes) as pool:
        found = list(pool.map(list_differences, list_fitted_paths()))
    rows = [item for some in found for item in some]
    print("\n".join(table_lines(rows)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
