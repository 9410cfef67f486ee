"""The margins table, fitted to the rendered tuning sets of all 13 exercises; never to a reporting part.

    python tools/benchmarks/fit_pooled_margins.py            each margin, what it rests on, and how it holds up
    python tools/benchmarks/fit_pooled_margins.py --write    puts the margins into formcheck/measures/margins.toml

A row is the half-width that, with what `margin_for` adds by itself for the value, the camera's yaw and the frame rate,
holds 95 % of the errors of a measure in a plane, every set counting alike. Fewer than `ENOUGH` sets are pooled with the
plane they are nearest to; where that gives no more, the row is called an analogy. Rows are widened by `REAL_BODIES`.
`kept out` is the share of truths inside the margin in the sets of one build of bodies, with a row fitted to the others,
over all builds in turn: what is to be expected of bodies that were not rendered.
"""

from __future__ import annotations

import argparse
import math
import tomllib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from unittest.mock import patch

import numpy as np

import formcheck.measures
from formcheck.core.vocabulary import MEASURES
from formcheck.measures import across_reps
from formcheck.measures.margins import ORIGIN, compute_shaking, list_row_keys, read_share, widen_margin
from packed_sets import packed_folder
from rendered_sets import Row, analyse_set, compare, load_set

TABLE = Path(formcheck.measures.__file__).parent / "margins.toml"
COVERED = 0.95
ENOUGH = 30
"""Sets behind a row, so that it stands by itself."""
REAL_BODIES = 1.1
"""Every margin is this much wider: real bodies differ from rendered ones by an unknown amount. A judgement."""
BY_SHARE: Mapping[str, float] = {"peak_speed": 10.0, "mean_concentric_speed": 5.0}
"""Measures whose errors grow with the value: the row keeps this width, and the share of the value is fitted."""
NEXT = {
    "oblique_behind": "oblique",
    "behind": "frontal",
    "sagittal_in_plane": "sagittal",
    "sagittal": "sagittal_in_plane",
    "oblique": "frontal",
}
"""The plane whose sets are added where a plane has too few."""


def rows_of(path: Path) -> list[Row]:
    """Errors of one set; what is too unsure to be given counts all the same: how unsure is what is looked for."""
    with patch.object(across_reps, "MOST_UNSURE_DEG", math.inf):
        return [
            row for one in load_set(path) if one.document["sides"] == "both" for row in compare(one, analyse_set(one))
        ]


def key_of(row: Row) -> str:
    """The row of the table a value's margin comes from."""
    return list_row_keys(row.camera, in_plane=row.in_plane)[0]


def needed(row: Row, entry: Mapping[str, float], key: str) -> float:
    """Width that would just hold this error."""
    beyond = math.sqrt(max(row.error**2 - added(row, entry, key, 0.0) ** 2, 0.0))
    return beyond / compute_shaking(entry, row.quality)


def added(row: Row, entry: Mapping[str, float], key: str, width: float) -> float:
    """Margin of a width, with what else the table says of the measure."""
    more = {name: entry[name] for name in ("per_yaw_deg", "per_jitter") if name in entry}
    mine = {key: width, "share": read_share(entry, key), **more}
    return widen_margin(row.measure, mine, key, row.value, row.camera, row.quality)


def quantile(values: Sequence[float], weights: Sequence[float], share: float) -> float:
    """Smallest value with at least this share of the weight at or below it."""
    order = np.argsort(values)
    reached = np.cumsum(np.asarray(weights)[order]) / np.sum(weights)
    return float(np.asarray(values)[order][min(int(np.searchsorted(reached, share - 1e-12)), len(order) - 1)])


def set_weights(rows: Sequence[Row]) -> list[float]:
    """Each set counts alike, however many values it has."""
    counts: dict[str, int] = defaultdict(int)
    for row in rows:
        counts[row.set_name] += 1
    return [1.0 / counts[row.set_name] for row in rows]


def fit_width(rows: Sequence[Row], entry: Mapping[str, float], key: str) -> float:
    """Width of a row, or of a measure of `BY_SHARE` the share of the value."""
    weights = set_weights(rows)
    base = BY_SHARE.get(rows[0].measure)
    if base is not None:
        parts = [math.sqrt(max(row.error**2 - base**2, 0.0)) / max(abs(row.value), 1e-9) for row in rows]
        return round_up(quantile(parts, weights, COVERED) * REAL_BODIES)
    return round_up(quantile([needed(row, entry, key) for row in rows], weights, COVERED) * REAL_BODIES)


def holds(row: Row, entry: Mapping[str, float], key: str, width: float) -> bool:
    """Whether the truth lies inside a margin of this width."""
    base = BY_SHARE.get(row.measure)
    margin = math.hypot(base, width * row.value) if base is not None else added(row, entry, key, width)
    return abs(row.error) <= margin


def round_up(value: float) -> float:
    """Two digits, rounded up."""
    step = 10.0 ** (math.floor(math.log10(max(value, 0.001))) - 1)
    return round(math.ceil(value / step - 1e-9) * step, 6)


def count_sets(rows: Sequence[Row]) -> int:
    """Different sets among rows."""
    return len({row.set_name for row in rows})


def pooled(groups: Mapping[tuple[str, str], Sequence[Row]], measure: str, key: str) -> list[Row]:
    """A row's errors, with those of the nearest plane where there are too few sets."""
    rows = list(groups[measure, key])
    if count_sets(rows) < ENOUGH and key in NEXT:
        rows += groups.get((measure, NEXT[key]), [])
    return rows


def kept_out(rows: Sequence[Row], entry: Mapping[str, float], key: str) -> float | None:
    """Share of truths inside in the builds kept out in turn; None with a single build."""
    builds = sorted({row.build for row in rows})
    inside: list[bool] = []
    for build in builds:
        others = [row for row in rows if row.build != build]
        if others:
            width = fit_width(others, entry, key)
            inside += [holds(row, entry, key, width) for row in rows if row.build == build]
    return float(np.mean(inside)) if inside else None


def main() -> None:
    """Print the fitted rows, and write them on request."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="put the margins into the table")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    with ProcessPoolExecutor(options.processes) as pool:
        for rows in pool.map(rows_of, sorted(packed_folder("tuning").glob("*.truth.npz.xz"))):
            for row in rows:
                groups[row.measure, key_of(row)].append(row)
    entries = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    table = {name: {k: v for k, v in row.items() if isinstance(v, int | float)} for name, row in entries.items()}
    print(
        f"{'measure':26}{'plane':18}{'sets':>5}{'pooled':>7}{'n':>6}{'was':>8}{'width':>8}{'inside':>8}{'kept out':>10}"
    )
    fits: dict[str, list[str]] = defaultdict(list)
    every: list[tuple[float, int]] = []
    for measure, key in sorted(groups):
        entry = table.get(measure, {})
        rows = pooled(groups, measure, key)
        width, sets = fit_width(rows, entry, key), count_sets(rows)
        inside = np.mean([holds(row, entry, key, width) for row in groups[measure, key]])
        out = kept_out(rows, entry, key)
        if out is not None:
            every.append((out, len(rows)))
        was = entry.get(key, 0.0)
        print(
            f"{measure:26}{key:18}{count_sets(groups[measure, key]):5}{sets:7}{len(rows):6}{was:8.2f}{width:8.2f}"
            f"{inside:8.0%}{'-' if out is None else f'{out:.0%}':>10}"
        )
        fits[measure] += lines_of(measure, key, width, sets)
    shares, counts = zip(*every, strict=True)
    print(f"builds kept out, all measures: {np.average(shares, weights=counts):.1%} inside")
    if options.write:
        TABLE.write_text(rewritten(TABLE.read_text(encoding="utf-8"), entries, fits), encoding="utf-8")


def lines_of(measure: str, key: str, width: float, sets: int) -> list[str]:
    """The table's lines of a row."""
    if measure in BY_SHARE:
        lines = [f"{key} = {BY_SHARE[measure]:.1f}", f"{key}_share = {width:g}  # fitted, {sets} sets"]
    else:
        lines = [f"{key} = {float(width)!r}  # fitted, {sets} sets"]
    return [*lines, f'{key}{ORIGIN} = "analogy"'] if sets < ENOUGH else lines


def rewritten(text: str, entries: Mapping[str, Mapping[str, object]], fits: Mapping[str, Sequence[str]]) -> str:
    """The table with the fitted rows; how a row depends on value, yaw and shaking stays, and rows without sets stay."""
    head = text[: text.index("[")]
    blocks = []
    for measure in MEASURES:
        entry, fitted = entries.get(measure, {}), fits.get(measure, [])
        keys = {line.split(" = ")[0] for line in fitted}
        rest = [
            f"{name} = {value!r}" if not isinstance(value, str) else f'{name} = "{value}"'
            for name, value in entry.items()
            if name not in keys and not name.endswith("_known") and name.removesuffix(ORIGIN) not in keys
        ]
        if rest or fitted:
            blocks.append("\n".join([f"[{measure}]", *fitted, *rest]))
    return head + "\n".join(blocks) + "\n"


if __name__ == "__main__":
    main()
