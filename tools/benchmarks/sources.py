"""Which angle from where: errors of the picture's plane, of the fitted body and of their mean, on the tuning sets.

    python tools/benchmarks/sources.py

`formcheck/signals/sources.toml` is chosen from what this prints: for every curve that an exercise asks for and every
camera angle, the mean error at the reps' highest and lowest values, corrected from landmark to joint, every set and
side counting alike, and what the table says.
"""

from __future__ import annotations

import argparse
from collections import defaultdict

import numpy as np

from formcheck.core.model import SIDES
from formcheck.signals import sources
from formcheck.signals.correction import correct_curves
from raw_curves import HIGHEST, LOWEST, RawSet, all_raw_sets

Errors = dict[tuple[str, sources.Band], dict[tuple[str, bool], list[float]]]
"""Curve and band → source and end of the range → mean error of each set and side."""


def add_errors(one: RawSet, found: Errors) -> None:
    """Put a set's errors to the others, where all three sources have a value."""
    band = sources.find_band(one.camera)
    for name in sources.read_table():
        for key in [(name, side) for side in (*SIDES, None) if (name, side) in one.true]:
            curves = {
                source: correct_curves({key: curve}, one.camera)[key] for source, curve in one.sources(key).items()
            }
            for lowest in [end for end in (HIGHEST, LOWEST) if (name, end) in one.asked]:
                errors = {source: one.extremes(curve, key, lowest=lowest) for source, curve in curves.items()}
                there = np.all([np.isfinite(each) for each in errors.values()], axis=0)
                for source, each in errors.items():
                    if there.any():
                        found[name, band][source, lowest].append(float(np.abs(each[there]).mean()))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    found: Errors = defaultdict(lambda: defaultdict(list))
    for one in all_raw_sets(options.processes):
        add_errors(one, found)
    heads = "".join(f"{f'{source} {end}':>14}" for end in ("high", "low") for source in ("plane", "fit", "both"))
    print(f"{'curve':20}{'camera':14}{'n':>5}{heads}   used")
    for (name, band), errors in sorted(found.items()):
        cells = [errors[source, lowest] for lowest in (HIGHEST, LOWEST) for source in ("plane", "fit", "both")]
        figures = "".join(f"{np.mean(each):14.1f}" if each else f"{'-':>14}" for each in cells)
        used = sources.read_table()[name].get(band, "plane")
        print(f"{name:20}{band:14}{max(len(each) for each in cells):5}{figures}   {used}")


if __name__ == "__main__":
    main()
