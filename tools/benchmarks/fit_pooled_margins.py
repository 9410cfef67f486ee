"""The margins table, fitted to the rendered tuning sets of all 13 exercises (and pairs straight from behind).

Never to a reporting part.

    python tools/benchmarks/fit_pooled_margins.py            each margin, what it rests on, and how it holds up
    python tools/benchmarks/fit_pooled_margins.py --write    puts the margins into formcheck/measures/margins.toml
    python tools/benchmarks/fit_pooled_margins.py --measures arm_raise_peak ... [--write]     of some measures alone

A measure that has no row yet, such as a new one, gets its rows like any other, if an exercise uses it and the true
curves have what it is read from.

A row is the half-width that, with what `margin_for` adds by itself for the value, the camera's yaw and the frame rate,
holds 95 % of the errors of a measure in a plane, every set counting alike. Fewer than `ENOUGH` sets are pooled with
those of the plane they are nearest to, and the wider of both rows counts; where that gives no more sets, the row is
called an analogy. `kept out` is the share of truths inside the margin in the sets of one build of bodies, with a row
fitted to the others, over all builds in turn: what is to be expected of bodies that were not rendered. A row with
`ENOUGH` sets of its own is widened until this share reaches `COVERED`; an analogy by `FEW_SETS`. What a row adds for
each degree of the camera's yaw, where the table says that it does, is that with which the margins of its measure are
smallest in the mean; a row's own `KEY_per_yaw_deg` is set by the projection and stays.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import tomllib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np

import formcheck.measures
from formcheck.core.model import CameraView, Quality
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import get_exercise
from formcheck.measures import across_reps
from formcheck.measures.margins import (
    PER_YAW,
    Kind,
    compute_margin,
    compute_shaking,
    find_kind,
    list_row_keys,
    read_share,
    widen_margin,
)
from rendered_sets import RenderedSet, Row, analyse_set, compare, map_sets

TABLE = Path(formcheck.measures.__file__).parent / "margins.toml"
PARTS = ("tuning", "tuning-half", "pairs")
"""The part of half angles counts in the rows of half angles alone, for which it was drawn (`counts_for`). Of the pairs
only the cameras straight behind count, from where the tuning part has four sets: the others hold what was fitted to the
tuning sets against what was not."""
COVERED = 0.95
ENOUGH = 30
"""Sets behind a row, so that it stands by itself."""
FEW_SETS = 1.05
"""An analogy is this much wider: what so few sets show is not the whole of what may be. A judgement. Widened for builds
kept out as well, rows of few sets grow by up to twice, though without that they hold 96 % of the pairs, unfitted."""
STEP, MOST_WIDER = 0.05, 2.0
"""Rows are widened by such steps up to so many times."""
BY_SHARE: Mapping[str, float] = {"peak_speed": 10.0, "mean_concentric_speed": 5.0}
"""Measures whose errors grow with the value: the row keeps this width, and the share of the value is fitted."""
BENT_APART = frozenset({"arm_line_raise_peak", "arm_line_difference", "elbow_flexion_min"})
"""Measures of which lifts with a bent trunk have rows of their own: those that need to know whether the camera looks
up, and the straightest elbow, whose arm hangs towards a camera in front."""
PER_DEGREE = "per_yaw_deg"
"""Key of what a measure's margins grow by for each degree of the camera's yaw."""
YAW_STEPS_DEG = tuple(0.05 * step for step in range(13))
"""What a measure whose margin grows with the camera's yaw may add for each degree of it."""
NEXT = {
    "oblique_behind": "oblique",
    "behind": "frontal",
    "sagittal_in_plane": "sagittal",
    "sagittal": "sagittal_in_plane",
    "sagittal_compound": "sagittal",
    "sagittal_out_of_plane": "sagittal",
    "oblique": "frontal",
    "oblique_behind_out_of_plane": "oblique_out_of_plane",
    "behind_out_of_plane": "frontal_out_of_plane",
    "oblique_out_of_plane": "frontal_out_of_plane",
    "frontal_out_of_plane": "oblique_out_of_plane",
    "oblique_behind_bent": "oblique_bent",
    "behind_bent": "frontal_bent",
    "oblique_bent": "frontal_bent",
    "frontal_bent": "frontal",
    "oblique_behind_compound": "oblique_compound",
    "behind_compound": "frontal_compound",
    "oblique_compound": "frontal_compound",
    "frontal_compound": "frontal",
    "frontal": "frontal_compound",
}
"""The plane, or kind of lift, whose sets are added where one has too few."""
PLANES = frozenset({*NEXT, *NEXT.values()})
"""Keys of rows."""


Groups = Mapping[tuple[str, str], Sequence[Row]]
"""Measure and row's key → errors."""


def rows_of(one: RenderedSet, measures: frozenset[str]) -> list[tuple[str, Row]]:
    """Part and errors of a set in some measures, or in all; what is too unsure to be given counts all the same."""
    used = {use.name for use in one.exercise.measures}
    if one.document["sides"] != "both" or (measures and not used & measures):
        return []
    with (
        patch.object(across_reps, "MOST_UNSURE_DEG", math.inf),
        patch.object(across_reps, "compute_margin", margin_or_endless),
    ):
        found = list(compare(one, analyse_set(one)))
    return [(one.document["part"], row) for row in found if not measures or row.measure in measures]


def margin_or_endless(measure: str, value: float, view: CameraView, quality: Quality, kind: Kind) -> float:
    """The margin of the table, and of a measure without a row one that hides nothing."""
    margin = compute_margin(measure, value, view, quality, kind)
    return math.inf if margin is None else margin


def counts_for(part: str, key: str) -> bool:
    """Whether the sets of a part count for a row."""
    only = {"tuning-half": "oblique", "pairs": "behind"}
    return key.startswith(only.get(part, ""))


def key_of(row: Row) -> str:
    """The row of the table a value's margin comes from."""
    kind = find_kind(get_exercise(row.exercise), row.camera)
    return list_row_keys(row.camera, "" if kind == "bent" and row.measure not in BENT_APART else kind)[0]


def needed(row: Row, entry: Mapping[str, float], key: str) -> float:
    """Width that would just hold this error."""
    beyond = math.sqrt(max(row.error**2 - added(row, entry, key, 0.0) ** 2, 0.0))
    return beyond / compute_shaking(entry, row.quality)


def added(row: Row, entry: Mapping[str, float], key: str, width: float) -> float:
    """Margin of a width, with what else the table says of the measure."""
    more = {name: entry[name] for name in (PER_DEGREE, f"{key}{PER_YAW}", "per_jitter") if name in entry}
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


def fit_width(rows: Sequence[Row], entry: Mapping[str, float], key: str, wider: float = 1.0) -> float:
    """Width of a row, or of a measure of `BY_SHARE` the share of the value, times ``wider``."""
    weights = set_weights(rows)
    base = BY_SHARE.get(rows[0].measure)
    if base is not None:
        parts = [math.sqrt(max(row.error**2 - base**2, 0.0)) / max(abs(row.value), 1e-9) for row in rows]
        return round_up(quantile(parts, weights, COVERED) * wider)
    return round_up(quantile([needed(row, entry, key) for row in rows], weights, COVERED) * wider)


def holds(row: Row, entry: Mapping[str, float], key: str, width: float) -> bool:
    """Whether the truth lies inside a margin of this width."""
    base = BY_SHARE.get(row.measure)
    margin = math.hypot(base, width * row.value) if base is not None else added(row, entry, key, width)
    return abs(row.error) <= margin


def round_up(value: float) -> float:
    """Three digits, rounded up: two made margins up to a tenth too wide."""
    step = 10.0 ** (math.floor(math.log10(max(value, 0.001))) - 2)
    return round(math.ceil(value / step - 1e-9) * step, 6)


def count_sets(rows: Sequence[Row]) -> int:
    """Different sets among rows."""
    return len({row.set_name for row in rows})


def pooled(groups: Groups, measure: str, key: str) -> list[Row]:
    """A row's errors, with those of the nearest plane where there are too few sets."""
    rows = list(groups[measure, key])
    if count_sets(rows) < ENOUGH and key in NEXT:
        rows += groups.get((measure, NEXT[key]), [])
    return rows


@dataclass(frozen=True)
class Fit:
    """A fitted row."""

    width: float
    sets: int
    """Sets behind it, those of the nearest plane or kind of lift included."""
    wider: float
    kept_out: Mapping[str, Sequence[bool]]
    """Build → whether each truth lies inside a row fitted to the other builds; builds without others are left out."""

    @property
    def held(self) -> float:
        """Share of truths inside in the builds kept out; NaN with a single build."""
        each = [inside for build in self.kept_out.values() for inside in build]
        return float(np.mean(each)) if each else math.nan


def fit_row(groups: Groups, measure: str, key: str, entry: Mapping[str, float]) -> Fit:
    """A row, never below what its own sets ask for."""
    both, few = pooled(groups, measure, key), count_sets(groups[measure, key]) < ENOUGH
    wider = FEW_SETS if count_sets(both) < ENOUGH else 1.0
    while True:
        width = max(fit_width(rows, entry, key, wider) for rows in (groups[measure, key], both))
        fit = Fit(width, count_sets(both), wider, kept_out(groups, measure, key, entry, wider))
        if few or not fit.held < COVERED or wider > MOST_WIDER - STEP / 2:
            return fit
        wider += STEP


def fit_per_yaw(groups: Groups, measure: str, entry: Mapping[str, float]) -> float:
    """What a measure's margin grows by for each degree of yaw: that with which its margins are smallest in the mean."""

    def mean_margin(per_yaw: float) -> float:
        tried = {**entry, PER_DEGREE: per_yaw}
        rows = [(row, key) for name, key in groups if name == measure for row in groups[name, key]]
        widths = {key: fit_row(groups, measure, key, tried).width for key in {key for _, key in rows}}
        margins = [added(row, tried, key, widths[key]) for row, key in rows]
        return float(np.average(margins, weights=set_weights([row for row, _ in rows])))

    return min(YAW_STEPS_DEG, key=mean_margin)


def kept_out(
    groups: Groups, measure: str, key: str, entry: Mapping[str, float], wider: float = 1.0
) -> dict[str, list[bool]]:
    """Build → whether each truth lies inside a row fitted to the other builds; builds without others are left out."""
    result: dict[str, list[bool]] = {}
    known = [where for where in ((measure, key), (measure, NEXT.get(key, ""))) if where in groups]
    for build in sorted({row.build for row in groups[measure, key]}):
        others = {where: [row for row in groups[where] if row.build != build] for where in known}
        if fitted_to := pooled(others, measure, key):
            own = others[measure, key] or fitted_to
            width = max(fit_width(rows, entry, key, wider) for rows in (own, fitted_to))
            mine = [row for row in groups[measure, key] if row.build == build]
            result[build] = [holds(row, entry, key, width) for row in mine]
    return result


Entries = dict[str, dict[str, float]]
"""Measure → the numbers of its table."""


def fit_rows(groups: Groups) -> tuple[Entries, dict[tuple[str, str], Fit]]:
    """Today's entries of these measures, with what is added for yaw fitted anew; and every row fitted with it."""
    rows = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    table: Entries = {
        measure: {key: value for key, value in rows.get(measure, {}).items() if not isinstance(value, str)}
        for measure in sorted({name for name, _ in groups})
    }
    for measure, entry in table.items():
        if PER_DEGREE in entry:
            entry[PER_DEGREE] = round(fit_per_yaw(groups, measure, entry), 2)
    return table, {(measure, key): fit_row(groups, measure, key, table[measure]) for measure, key in sorted(groups)}


def write_rows(table: Entries, fits: Mapping[tuple[str, str], Fit]) -> None:
    """Put fitted rows into the margins table."""
    lines: dict[str, list[str]] = defaultdict(list)
    few: dict[str, list[str]] = defaultdict(list)
    for measure, entry in table.items():
        if PER_DEGREE in entry:
            lines[measure].append(f"{PER_DEGREE} = {entry[PER_DEGREE]}  # fitted")
    for (measure, key), fit in fits.items():
        lines[measure] += lines_of(measure, key, fit.width, fit.sets)
        few[measure] += [key] if fit.sets < ENOUGH else []
    TABLE.write_text(rewritten(TABLE.read_text(encoding="utf-8"), lines, few), encoding="utf-8")


def main() -> None:
    """Print the fitted rows, and write them on request."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="put the margins into the table")
    parser.add_argument("--measures", nargs="+", default=[], choices=MEASURES, metavar="MEASURE")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    read = partial(rows_of, measures=frozenset(options.measures))
    for rows in (rows for part in PARTS for rows in map_sets(read, part, processes=options.processes)):
        for part, row in rows:
            if counts_for(part, key := key_of(row)):
                groups[row.measure, key].append(row)
    table, fits = fit_rows(groups)
    print(
        f"{'measure':26}{'plane':25}{'sets':>5}{'pooled':>7}{'n':>6}{'was':>8}{'wider':>8}{'width':>8}{'inside':>8}"
        f"{'kept out':>10}"
    )
    for measure, entry in table.items():
        if PER_DEGREE in entry:
            print(f"{measure:26}degrees for each degree of yaw: {entry[PER_DEGREE]}")
    by_build: dict[str, list[bool]] = defaultdict(list)
    for (measure, key), fit in fits.items():
        mine = groups[measure, key]
        inside = np.mean([holds(row, table[measure], key, fit.width) for row in mine])
        for build, each in fit.kept_out.items():
            by_build[build] += each
        share = "-" if math.isnan(fit.held) else f"{fit.held:.0%}"
        was = table[measure].get(f"{key}_share" if measure in BY_SHARE else key, 0.0)
        print(
            f"{measure:26}{key:25}{count_sets(mine):5}{fit.sets:7}{len(mine):6}{was:8.2f}{fit.wider:8.1f}"
            f"{fit.width:8.2f}{inside:8.0%}{share:>10}"
        )
    print("\ntruths inside margins fitted to the other builds:")
    for build, each in sorted(by_build.items()):
        print(f"{build:26}{np.mean(each):8.1%} of {len(each)}")
    if options.write:
        write_rows(table, fits)


def lines_of(measure: str, key: str, width: float, sets: int) -> list[str]:
    """The table's lines of a row."""
    if measure in BY_SHARE:
        return [f"{key} = {BY_SHARE[measure]:.1f}", f"{key}_share = {width:g}  # fitted, {sets} sets"]
    return [f"{key} = {float(width)!r}  # fitted, {sets} sets"]


def rewritten(text: str, fits: Mapping[str, Sequence[str]], few: Mapping[str, Sequence[str]]) -> str:
    """The table with the fitted rows, in the vocabulary's order; ``few`` : the keys of those that are an analogy.

    How a row depends on value and shaking stays, and so does a measure that is not fitted. A row without sets here
    stays as an analogy.
    """
    head, *blocks = re.split(r"(?m)^(?=\[)", text)
    old = {block[1 : block.index("]")]: block.rstrip("\n") for block in blocks}
    entries = tomllib.loads(text)
    for measure, fitted in fits.items():
        keys = {line.split(" = ")[0] for line in fitted}
        entry = entries.get(measure, {})
        rest = {name: value for name, value in entry.items() if name not in keys and not isinstance(value, list)}
        hand = [name for name in entry.get("hand", ()) if name in rest]
        analogy = [*few.get(measure, ()), *(name for name in rest if name in PLANES and name not in hand)]
        lines = [*fitted, *(f"{name} = {value!r}" for name, value in rest.items())]
        lines += [f"{name} = {json.dumps(rows)}" for name, rows in (("analogy", analogy), ("hand", hand)) if rows]
        old[measure] = "\n".join([f"[{measure}]", *lines])
    return head + "\n".join(old[measure] for measure in MEASURES if measure in old) + "\n"


if __name__ == "__main__":
    main()
