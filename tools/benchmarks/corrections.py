"""Whether each correction of angles helps bodies of every build, on the rendered tuning sets.

    python tools/benchmarks/corrections.py

Reviews every set with all corrections and with one of them left out in turn, and prints the mean error of each measure
they change, by build. A correction stays only where it helps the bodies of every build: those it was fitted to were
others. What is printed is (mean error without it) - (mean error with all), so more than 0 means that it helps.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import AbstractContextManager, ExitStack
from pathlib import Path
from unittest.mock import patch

import numpy as np

from formcheck.analysis import analyse_camera
from formcheck.core.model import Settings
from formcheck.signals import correction, remainder
from packed_sets import packed_folder
from rendered_sets import Row, compare, load_set

MEASURES = (
    *("arm_elevation_peak", "arm_elevation_low", "arm_raise_peak", "arm_raise_low", "range_of_motion"),
    *("elbow_flexion_min", "elbow_flexion_max", "elbow_flexion_bottom", "torso_inclination_mean"),
    *("torso_inclination_range", "arm_peak_difference"),
)


VARIANTS: Mapping[str, tuple[AbstractContextManager[object], ...]] = {
    "all": (),
    "remainder": (patch.object(remainder, "TAKEN", 0.0),),
    "side of the model": (patch.object(correction, "SEEN_LEFT_MORE", (0.0,) * len(correction.KNOTS_DEG)),),
    "yaw": (patch.object(correction, "SEEN_OFFSET_PER_YAW", (0.0,) * len(correction.KNOTS_DEG)),),
    **{f"offset {group}": (patch.dict(correction.TAKEN, {group: 0.0}),) for group in correction.TAKEN},
}
"""What is left out, and how."""


def rows_of(path: Path) -> dict[str, list[Row]]:
    """Errors of one set in every variant."""
    result: dict[str, list[Row]] = {}
    for one in load_set(path):
        if one.document["sides"] != "both":
            continue
        for name, changes in VARIANTS.items():
            with ExitStack() as stack:
                for change in changes:
                    stack.enter_context(change)
                seen = analyse_camera(one.recording, one.exercise, settings=Settings())
                result[name] = [row for row in compare(one, seen) if row.measure in MEASURES]
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
    builds = sorted({row.build for row in found["all"]})
    print(f"{'left out':24}{'measure':26}{'n':>6}" + "".join(f"{build:>20}" for build in builds))
    for name in VARIANTS:
        if name == "all":
            continue
        for measure in MEASURES:
            both = paired(found["all"], found[name], measure)
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
