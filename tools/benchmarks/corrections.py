"""Whether each correction of angles helps bodies of every build, on the rendered tuning sets.

    python tools/benchmarks/corrections.py

Reviews every set with all corrections and with one of them left out in turn, and prints the mean error of each measure
it changes, by build: (mean error without it) - (mean error with all), so more than 0 means that it helps. The offsets
were fitted to the same sets; `fit_correction.py` prints what they do for builds kept out of the fit.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from unittest.mock import patch

import numpy as np

from formcheck.signals import correction
from packed_sets import packed_folder
from rendered_sets import Row, analyse_set, compare, load_set

VARIANTS: Mapping[str, tuple[Mapping[str, tuple[float, ...]], str] | None] = {
    "nothing": None,
    **{
        f"{name}, {where}": (table, name)
        for where, table in (
            ("side", correction.FROM_THE_SIDE),
            ("front", correction.FROM_THE_FRONT),
            ("per yaw", correction.PER_YAW),
        )
        for name in table
    },
}
"""What is left out: a row of a table."""


def rows_of(path: Path) -> dict[str, list[Row]]:
    """Errors of one set in every variant."""
    result: dict[str, list[Row]] = {}
    for one in load_set(path):
        if one.document["sides"] != "both":
            continue
        for label, left_out in VARIANTS.items():
            with ExitStack() as stack:
                if left_out is not None:
                    table, name = left_out
                    stack.enter_context(patch.dict(table, {name: (0.0,) * len(correction.KNOTS_DEG)}))
                result[label] = list(compare(one, analyse_set(one)))
    return result


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    found: dict[str, list[Row]] = defaultdict(list)
    with ProcessPoolExecutor(options.processes) as pool:
        for rows in pool.map(rows_of, sorted(packed_folder("tuning").glob("*.truth.npz.xz"))):
            for name, mine in rows.items():
                found[name] += mine
    builds = sorted({row.build for row in found["nothing"]})
    print(f"{'left out':24}{'measure':26}{'n':>6}" + "".join(f"{build:>20}" for build in builds))
    for name in VARIANTS:
        if name == "nothing":
            continue
        for measure in sorted({row.measure for row in found[name]}):
            both = paired(found["nothing"], found[name], measure)
            changed = [(build, size) for build, size in both if size != 0.0]
            if changed:
                gains = [np.mean([size for build, size in changed if build == each] or [np.nan]) for each in builds]
                print(f"{name:24}{measure:26}{len(changed):6}" + "".join(f"{gain:20.2f}" for gain in gains))


def paired(first: list[Row], second: list[Row], measure: str) -> list[tuple[str, float]]:
    """Build, and by how much the error is larger in the second, of values both have."""
    known = {(row.set_name, row.rep, row.truth): abs(row.error) for row in first if row.measure == measure}
    return [
        (row.build, abs(row.error) - known[row.set_name, row.rep, row.truth])
        for row in second
        if row.measure == measure and (row.set_name, row.rep, row.truth) in known
    ]


if __name__ == "__main__":
    main()
