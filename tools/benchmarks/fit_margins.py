"""The margins table, fitted to rendered sets whose joint angles are known exactly; never to the second tuning part.

    python tools/benchmarks/fit_margins.py                     prints each margin, what it rests on and how it holds up
    python tools/benchmarks/fit_margins.py --write             puts the margins into formcheck/measures/margins.toml

Two kinds of sets are used: those of the tuning part, in which something or other makes the picture hard, and 80 sets
of other bodies and cameras in plain conditions (tools/benchmarks/recordings/plain). A row is the half-width which, with
what `margin_for` adds by itself for the value, the camera's yaw and the frame rate, holds 95 % of the errors of a
measure in a plane, cameras behind the lifter (``behind``, ``oblique_behind``) apart from those in front; a tuning set
counts as much as `TUNING_COUNTS` plain ones. It is then widened: by 1/k for k sets, since few say little of others, and
by `REAL_BODIES`. Where the sets of the newer exercises (docs/accuracy.md, from `tools/benchmarks/shelf.py`) show larger
errors, the row is as wide as these ask, and one ending in ``_known`` stays with what the exercises of the benchmark
need; those with halts (`NEVER_BELOW`) widen both. Rows of the file for which there are no sets here stay as they are.

What `formcheck.signals.remainder` takes off was fitted to the same sets, so each is measured here with coefficients
from which it was left out (`fit_remainder.without_each`): a fit flatters the sets it was made from.

``left out`` is the share of truths inside the margin in tuning sets which the row was not fitted to (each left out in
turn): what is to be expected of sets of the same kind.
"""

import argparse
import math
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import numpy as np

import formcheck.measures
from cases import FOLDERS, HERE, Case, load_cases
from fit_remainder import all_curves, without_each
from formcheck.analysis import analyse_camera
from formcheck.core.model import CameraView, Quality
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import get_exercise
from formcheck.measures import across_reps
from formcheck.measures.margins import KNOWN, ORIGIN, compute_shaking, list_row_keys, read_share, widen_margin
from formcheck.signals import remainder
from true_values import Truth

TABLE = Path(formcheck.measures.__file__).parent / "margins.toml"
PAGE = HERE.parents[1] / "docs" / "accuracy.md"
COVERED = 0.95
TUNING_COUNTS = 2.0
REAL_BODIES = 1.1
"""Every fitted margin is this much wider: sets left out of the fit would else be held less often than is wanted, and
real bodies differ from rendered ones by an unknown amount. A judgement."""
BY_SHARE: Mapping[str, float] = {"peak_speed": 10.0, "mean_concentric_speed": 5.0}
"""Measures whose errors grow with the value: the row keeps this width, and the share of the value is fitted."""
NEVER_BELOW: Mapping[str, Mapping[str, float]] = {
    "concentric_smoothness": {"frontal": 0.35, "oblique": 0.6},
    "eccentric_smoothness": {"frontal": 0.45, "oblique": 0.6},
    "path_deviation": {"frontal": 2.0},
    "top_drift": {"frontal": 1.6, "oblique": 2.0},
    "torso_lead": {"sagittal": 0.2},
}
"""What 23 sets with halts, sinking pauses and a leading torso asked for; the sets used here move smoothly."""
SHELF_PLANES = {
    "frontal": ("frontal",),
    "behind": ("frontal",),
    "oblique": ("oblique",),
    "oblique_behind": ("oblique",),
    "sagittal": ("sagittal", "sagittal in plane"),
}
ROW = re.compile(r"^(?P<key>[a-z_]+) = (?P<value>[0-9.]+)(?P<rest>.*)$")


@dataclass(frozen=True)
class Residual:
    """One value's error, and everything its margin may depend on."""

    clip: str
    tuning: bool
    measure: str
    key: str
    """Row's key in the table, such as ``frontal``."""
    value: float
    error: float
    view: CameraView
    quality: Quality

    def needed(self, share: float, row: Mapping[str, float]) -> float:
        """Row that would just hold this error."""
        beyond = math.sqrt(max(self.error**2 - self.added(share, row) ** 2, 0.0))
        return beyond / compute_shaking(row, self.quality, known=True)

    def added(self, share: float, row: Mapping[str, float], base: float = 0.0) -> float:
        """Margin of a row with this width, and what else the table says of the measure."""
        told = {name: row[name] for name in ("per_yaw_deg", "per_jitter") if name in row}
        mine = {self.key: base, "share": share, **told}
        return widen_margin(self.measure, mine, self.key, self.value, self.view, self.quality, known=True)


def residuals_of(case: Case, *, tuning: bool) -> Iterator[Residual]:
    """Errors of all values a set's review gives: a measure the table has no row for yet needs one set by hand first."""
    exercise, truth = get_exercise(case.exercise), Truth(case)
    seen = analyse_camera(case.recording, exercise)
    if not truth.reps or not seen.reps:
        return
    of_number = {rep.number: rep for rep in seen.reps}
    for reading in seen.readings:
        measure = reading.measure
        if measure.value is None or measure.rep is None:
            continue
        partner = truth.partner(of_number[measure.rep])
        true = None if partner is None else truth.value(measure.name, measure.side, partner)
        if true is not None:
            key, error = list_row_keys(seen.camera)[0], measure.value - true
            yield Residual(case.name, tuning, measure.name, key, measure.value, error, seen.camera, seen.quality)


def quantile(values: Sequence[float], weights: Sequence[float], share: float) -> float:
    """Smallest value with at least this share of the weight at or below it."""
    order = np.argsort(values)
    reached = np.cumsum(np.asarray(weights)[order]) / np.sum(weights)
    return float(np.asarray(values)[order][min(int(np.searchsorted(reached, share - 1e-12)), len(order) - 1)])


def fitted(rows: Sequence[Residual], row: Mapping[str, float], floor: float) -> tuple[float, float]:
    """Width and share of a row; the share is that of the table unless it is the one to be fitted."""
    share = read_share(row, rows[0].key)
    weights = [TUNING_COUNTS if one.tuning else 1.0 for one in rows]
    wider = REAL_BODIES * (1 + 1 / len({one.clip for one in rows}))
    if (base := BY_SHARE.get(rows[0].measure)) is not None:
        parts = [math.sqrt(max(one.error**2 - base**2, 0.0)) / abs(one.value) for one in rows]
        return base, _up(quantile(parts, weights, COVERED) * wider)
    return _up(max(quantile([one.needed(share, row) for one in rows], weights, COVERED) * wider, floor)), share


def _up(value: float) -> float:
    """Two digits, rounded up."""
    step = 10.0 ** (math.floor(math.log10(max(value, 0.001))) - 1)
    return round(math.ceil(value / step - 1e-9) * step, 6)


def shelf_floors(page: str) -> dict[tuple[str, str], float]:
    """95th percentile of the error of each measure and plane in the newer exercises, by the page's table."""
    found: dict[tuple[str, str], float] = {}
    for line in page.splitlines():
        cells = re.split(r"\s{2,}", re.sub(r"(\d)\s+(?=\d|-)", r"\1  ", line.strip()))
        if len(cells) == 9 and cells[0] in MEASURES and cells[2].isdigit():
            found[cells[0], cells[1]] = float(cells[6]) * (1 + 1 / int(cells[2]))
    return found


def floors_of(
    measure: str, key: str, rows: Mapping[str, float], shelf: Mapping[tuple[str, str], float]
) -> tuple[float, float]:
    """What a row must not be below, in the exercises it is fitted to and in the newer ones."""
    planes = SHELF_PLANES[key] if f"{key}_in_plane" not in rows else (key,)
    halts = NEVER_BELOW.get(measure, {}).get({"behind": "frontal", "oblique_behind": "oblique"}.get(key, key), 0.0)
    return halts, max(halts, *(shelf.get((measure, plane), 0.0) for plane in planes), 0.0)


def rewritten(text: str, fits: Mapping[tuple[str, str], tuple[float, float, int]]) -> str:
    """The table's text with the fitted rows in place; other rows stay as they are, marks included."""
    out: list[str] = []
    blocks = re.split(r"(?m)^(?=\[)", text)
    for block in blocks:
        lines = block.rstrip("\n").split("\n")
        name = lines[0].strip("[]")
        mine = {key: fit for (measure, key), fit in fits.items() if measure == name}
        measured = tuple(f"{key}{ORIGIN} = " for key in mine)
        lines = [line for line in lines if not (_is_stale(line, mine) or line.startswith(measured))]
        for key, (base, share, sets) in mine.items():
            _put(lines, key, base, f"  # fitted, {sets} set{'s' * (sets > 1)}")
            if name in BY_SHARE and not key.endswith(KNOWN):
                _put(lines, f"{key}_share", share, "")
        out.append("\n".join(lines) + block[len(block.rstrip("\n")) :])
    return "".join(out)


def _is_stale(line: str, mine: Mapping[str, object]) -> bool:
    """A narrower row for the benchmark's exercises that the fit no longer asks for."""
    match = ROW.match(line)
    return bool(match and match["key"].endswith(KNOWN) and match["key"].removesuffix(KNOWN) in mine
                and match["key"] not in mine)  # fmt: skip


def _put(lines: list[str], key: str, value: float, mark: str) -> None:
    line = f"{key} = {value:g}".rstrip() + mark
    if "." not in line.split("#")[0]:
        line = f"{key} = {value:.1f}{mark}"
    for index, old in enumerate(lines):
        if (match := ROW.match(old)) and match["key"] == key:
            lines[index] = line
            return
    last = max(index for index, old in enumerate(lines) if index == 0 or ROW.match(old))
    lines.insert(last + 1, line)


def main() -> None:
    """Print the fitted rows, and write them on request."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="put the margins into the table")
    parser.add_argument("--without", action="append", default=[], metavar="CONDITION", help="leave such sets out")
    options = parser.parse_args()
    groups: dict[tuple[str, str], list[Residual]] = defaultdict(list)
    left_over = {name: without_each(curves) for name, curves in all_curves().items()}
    usual = remainder.read_table()
    for part in ("tuning", "plain"):
        for case in load_cases(FOLDERS[part]):
            if case.no_exercise is None and not case.conditions & set(options.without):
                unseen = {name: fits.get(case.name, usual[name]) for name, fits in left_over.items()}
                # What is too unsure to be given counts here all the same: how unsure is what is looked for.
                with (
                    patch.object(remainder, "read_table", return_value=unseen),
                    patch.object(across_reps, "MOST_UNSURE_DEG", math.inf),
                ):
                    for one in residuals_of(case, tuning=part == "tuning"):
                        groups[one.measure, one.key].append(one)
    text = TABLE.read_text(encoding="utf-8")
    table, shelf = tomllib.loads(text), shelf_floors(PAGE.read_text(encoding="utf-8"))
    fits: dict[tuple[str, str], tuple[float, float, int]] = {}
    print(
        f"{'measure':24}{'plane':10}{'sets':>5}{'n':>6}{'was':>8}{'width':>8}{'share':>7}{'inside':>8}{'left out':>10}"
    )
    all_left: list[bool] = []
    for (measure, key), rows in sorted(groups.items()):
        row = table.get(measure, {})
        floor, newer = floors_of(measure, key, row, shelf)
        base, share = fitted(rows, row, floor)
        sets = len({one.clip for one in rows})
        newer = base if measure in BY_SHARE else newer
        fits[measure, key] = max(base, _up(newer)), share, sets
        if base < newer:
            fits[measure, f"{key}{KNOWN}"] = base, share, sets
        tuning = [one for one in rows if one.tuning]
        inside = [abs(one.error) <= one.added(share, row, base) for one in rows]
        left: list[bool] = []
        for clip in sorted({one.clip for one in tuning}):
            others = [one for one in rows if one.clip != clip]
            if others:
                width, part_of = fitted(others, row, floor)
                left += [abs(one.error) <= one.added(part_of, row, width) for one in tuning if one.clip == clip]
        all_left += left
        was, out = row.get(f"{key}{KNOWN}", row.get(key)), f"{np.mean(left):.0%}" if left else "-"
        print(f"{measure:24}{key:10}{sets:5}{len(rows):6}{was or 0:8.2f}{base:8.2f}{share:7.2f}"
              f"{np.mean(inside):8.0%}{out:>10}")  # fmt: skip
    print(f"left out, all measures: {np.mean(all_left):.1%} of {len(all_left)} inside")
    if options.write:
        TABLE.write_text(rewritten(text, fits), encoding="utf-8")


if __name__ == "__main__":
    main()
