"""How exact a difference between two recordings of one lifter is, and what holding a set against one rep finds.

    python tools/benchmarks/reference_rep.py            every set filmed again, beside the tuning set of its lifter
    python tools/benchmarks/reference_rep.py --table    prints formcheck/statistics/reference_rep.toml instead
    python tools/benchmarks/reference_rep.py --only squat

The part `repeats` films lifters of the tuning part another day: other clothes, room, picture and camera, which stands
within 8° of where it stood. Each whole rep of the first set is taken for the reference in turn and each counts as much
as the set it is of: the error is the difference as formcheck gives it less the true one. Printed by measure and plane:
pairs of sets, the root mean square of the error, mean margin, errors inside the margin (of whole pairs). Then, by the
margins fitted to the other pairs, of sets made equal by taking off the true difference: how many have any difference
told (false alarms), and how often one of `FAULTS` degrees, added to one judged angle, is told in that angle, for all
angles together and by angle, with the size from which on 90 % are. Last, the true differences of 3 to 6 degrees there
are in these sets, which need nothing added.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy.special import ndtr
from scipy.stats import t

from formcheck.analysis import CameraAnalysis
from formcheck.core.model import MEASURES_VERSION, SIDES, ExerciseRef, Review, SetInfo
from formcheck.core.vocabulary import MEASURES
from formcheck.findings import judge_set, list_views
from formcheck.signals.camera import Plane, get_plane
from formcheck.signals.geometry import wrap_degrees
from formcheck.statistics.detectable_change import Z95
from formcheck.statistics.onset import holm
from formcheck.statistics.reference_rep import (
    ALPHA,
    OF_SET,
    compare_with_reference,
    compute_yaw_difference,
    get_difference_share,
)
from grades import pair_reps
from rendered_sets import RenderedSet, analyse_set, list_paths, load_set, map_sets

FAULTS = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0)
"""Degrees."""
REAL = (3.0, 6.0)
WANTED = 0.9
POOLED_SETS = 4.0
"""A measure's own pairs count against the mean of its unit's measures as if that were so many pairs."""
FEWEST_SETS = 2
DAY = date(2026, 3, 1)
HEAD = """\
# How exact a difference between two recordings of one lifter is, by measure and plane, the camera within 10° of where
# it stood: the share of both values' margins, added up as those of a difference, in which 95 of 100 lie; of one rep
# less another, and of the mean of a set's reps less one rep ("_of_set"). From rendered lifters filmed twice; few pairs
# of a measure are drawn towards the mean of its unit, which also holds for measures not listed. Rounded up to 0.05:
#   python tools/benchmarks/reference_rep.py --table
"""


@dataclass(frozen=True)
class Row:
    """One measure of a set less that of one rep of the other recording."""

    pair: str
    rep: int
    """Of the reference."""
    measure: str
    plane: Plane
    unit: str
    error: float
    true: float
    margins: float
    """Of both values, added up as those of a difference."""
    by_rep: tuple[float, ...]
    """Errors of the single reps."""


@dataclass(frozen=True)
class Pair:
    """What two recordings of one lifter give."""

    rows: tuple[Row, ...]
    yaw_error: float | None


def compare_pair(again: RenderedSet) -> Pair | None:
    """A set of `repeats` beside the tuning set of the same lifter; None where they are not seen from one side."""
    number = again.document["repeats"]
    (path,) = list_paths("tuning", [f"{number:03d}_"])
    first = load_set(path)
    looks = [analyse_set(one) for one in (first, again)]
    then, now = (make_review(one, look) for one, look in zip((first, again), looks, strict=True))
    if now.view.name != then.view.name or not now.reps:
        return None
    before, after = (_list_true_values(one, look) for one, look in zip((first, again), looks, strict=True))
    turned = compute_yaw_difference(now.view, then.view)
    really = again.document["camera"]["yaw"] - first.document["camera"]["yaw"]
    whole = [rep.number for rep in then.reps if rep.complete]
    rows = [row for rep in whole for row in _compare(again.name, now, then, rep, before, after)]
    return Pair(tuple(rows), None if turned is None else wrap_degrees(turned - really))


def make_review(one: RenderedSet, look: CameraAnalysis) -> Review:
    """The review of a set that was analysed."""
    judged = judge_set(one.exercise, look.readings, look.reps, *list_views(look.camera, look.parts))
    return Review(
        clip=one.recording.clip,
        pose_model=one.recording.pose_model,
        exercise=ExerciseRef(one.exercise.id, one.exercise.name),
        set_info=SetInfo(),
        view=look.camera,
        quality=look.quality,
        reps=look.reps,
        measures=tuple(reading.measure for reading in look.readings),
        findings=judged.findings,
        points=judged.points,
        cautions=(),
        parts=look.parts,
        measures_version=MEASURES_VERSION,
    )


Truth = Mapping[tuple[str, str | None, int], float]


def _list_true_values(one: RenderedSet, look: CameraAnalysis) -> Truth:
    """Measure, side and number of the rep as found → true value."""
    true_reps, truth = one.true_measures(look)
    partners = pair_reps(look.reps, true_reps)
    return {
        (name, side, rep): value
        for rep, true in partners.items()
        for (name, side, number), value in truth.items()
        if number == true
    }


def _compare(pair: str, now: Review, then: Review, rep: int, before: Truth, after: Truth) -> list[Row]:
    found, plane, rows = compare_with_reference(now, then, rep, session_on=DAY), get_plane(now.view), []
    for item in found.differences:
        one_value = item.side is not None or (item.measure, None, rep) in before
        sides = [item.side] if one_value else list(SIDES)
        if any((item.measure, side, rep) not in before for side in sides):
            continue
        if any((item.measure, side, number) not in after for side in sides for number in item.reps):
            continue
        reference = float(np.mean([before[item.measure, side, rep] for side in sides]))
        true = [
            float(np.mean([after[item.measure, side, number] for side in sides])) - reference for number in item.reps
        ]
        errors = tuple(seen - real for seen, real in zip(item.by_rep, true, strict=True))
        margins = item.margin / get_difference_share(item.measure, item.unit, plane, of_set=True)
        error = item.difference - float(np.mean(true))
        rows.append(Row(pair, rep, item.measure, plane, item.unit, error, float(np.mean(true)), margins, errors))
    return rows


# ---------------------------------------------------------------- the table


Shares = Mapping[tuple[str, str], float]
"""Measure (or unit) and key of the table → share, not rounded."""


def fit_shares(rows: Sequence[Row]) -> dict[tuple[str, str], float]:
    """The shares of a table; each pair of sets counts once, and few of them ask for more (Student's t)."""
    squares: dict[tuple[str, str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for row in rows:
        for key, errors in ((row.plane + OF_SET, (row.error,)), (row.plane, row.by_rep)):
            relative = [(error / row.margins) ** 2 for error in errors]
            squares[row.measure, key][row.pair] += relative
    of_pairs = {key: [float(np.mean(some)) for some in pairs.values()] for key, pairs in squares.items()}
    units = {row.measure: row.unit for row in rows}
    pooled: dict[tuple[str, str], list[float]] = defaultdict(list)
    for (measure, key), values in of_pairs.items():
        pooled[units[measure], key].append(float(np.mean(values)))
    found = {key: 1.96 * math.sqrt(np.mean(values)) for key, values in pooled.items()}
    for (measure, key), values in of_pairs.items():
        if len(values) >= FEWEST_SETS:
            usual = float(np.mean(pooled[units[measure], key]))
            mean = (sum(values) + POOLED_SETS * usual) / (len(values) + POOLED_SETS)
            found[measure, key] = float(t.ppf(0.975, len(values) + POOLED_SETS - 1)) * math.sqrt(mean)
    return found


def find_share(shares: Shares, row: Row, *, of_set: bool) -> float:
    """The share that holds for a row, as the program looks it up."""
    key = row.plane + (OF_SET if of_set else "")
    return shares.get((row.measure, key), shares.get((row.unit, key), 1.0))


def toml_lines(shares: Shares) -> list[str]:
    """The table as it ships: units first."""
    lines: list[str] = []
    heading = ""
    for (name, key), share in sorted(shares.items(), key=lambda item: (item[0][0] in MEASURES, item[0])):
        lines += [f"[{name}]"] if heading != name else []
        heading = name
        lines.append(f"{key} = {min(math.ceil(20 * share - 1e-9) / 20, 1.0):.2f}")
    return lines


# ---------------------------------------------------------------- what it finds


@dataclass(frozen=True)
class Found:
    """What is told of sets that are equal, and of one angle in them that is not."""

    pair: str
    alarm: bool
    told: Mapping[str, Mapping[float, float]]
    """Angle → degrees that it differs by → share of both directions in which it is told in that angle."""


def judge(rows: Sequence[Row], shares: Shares) -> Found:
    """Of the rows of one set and reference rep."""
    errors, told = [row.error for row in rows], {}
    for at, row in enumerate(rows):
        if row.unit == "deg":
            told[row.measure] = {
                size: float(
                    np.mean(
                        [
                            tell(rows, shares, [*errors[:at], errors[at] + off, *errors[at + 1 :]])[at]
                            for off in (size, -size)
                        ]
                    )
                )
                for size in FAULTS
            }
    return Found(rows[0].pair, any(tell(rows, shares, errors)), told)


def tell(rows: Sequence[Row], shares: Shares, values: Sequence[float]) -> list[bool]:
    """Which of a set's differences are told, as `compare_with_reference` tells them."""
    sds = [find_share(shares, row, of_set=True) * row.margins / Z95 for row in rows]
    chances = [float(2 * ndtr(-abs(value) / sd)) for value, sd in zip(values, sds, strict=True)]
    return [chance <= ALPHA for chance in holm(chances)]


def report_lines(pairs: Sequence[Pair]) -> list[str]:
    """All that is printed."""
    rows = [row for pair in pairs for row in pair.rows]
    yaws = [abs(pair.yaw_error) for pair in pairs if pair.yaw_error is not None]
    lines = [
        f"lifters filmed twice: {len(pairs)}, cameras seen alike: {len({row.pair for row in rows})}",
        f"difference of the cameras' yaw: 95 % within {np.percentile(yaws, 95):.1f}° of the truth",
        "",
        f"{'measure':28}{'plane':10}{'pairs':>6}{'rms':>8}{'margin':>8}{'inside':>8}",
    ]
    for (measure, plane), mine in _group(rows).items():
        own = fit_shares(rows)
        margins = [find_share(own, row, of_set=True) * row.margins for row in mine]
        inside = _mean_by_pair(
            [(row.pair, abs(row.error) <= margin) for row, margin in zip(mine, margins, strict=True)]
        )
        rms = math.sqrt(_mean_by_pair([(row.pair, row.error**2) for row in mine]))
        lines.append(
            f"{measure:28}{plane:10}{len({row.pair for row in mine}):6}{rms:8.2f}{np.mean(margins):8.2f}{inside:8.0%}"
        )
    return [*lines, "", *found_lines(rows)]


def found_lines(rows: Sequence[Row]) -> list[str]:
    """False alarms, and what is found of each size."""
    judged: list[Found] = []
    real: list[tuple[str, bool]] = []
    for pair in sorted({row.pair for row in rows}):
        shares = fit_shares([row for row in rows if row.pair != pair])
        mine = [row for row in rows if row.pair == pair]
        for rep in sorted({row.rep for row in mine}):
            of_rep = [row for row in mine if row.rep == rep]
            judged.append(judge(of_rep, shares))
            told = tell(of_rep, shares, [row.error + row.true for row in of_rep])
            real += [
                (pair, one)
                for row, one in zip(of_rep, told, strict=True)
                if row.unit == "deg" and REAL[0] <= abs(row.true) <= REAL[1]
            ]
    alarms = _mean_by_pair([(one.pair, float(one.alarm)) for one in judged])
    lines = [f"equal sets with any difference told: {alarms:.0%} of {len({one.pair for one in judged})}"]
    lines.append(
        f"{'told of an angle that differs by':34}" + "".join(f"{size:>6.0f}°" for size in FAULTS) + "   90 % from"
    )
    angles = sorted({name for one in judged for name in one.told})
    for name in ("all angles", *angles):
        shares_found = [
            _mean_by_pair(
                [
                    (one.pair, told[size])
                    for one in judged
                    for key, told in one.told.items()
                    if name in (key, "all angles")
                ]
            )
            for size in FAULTS
        ]
        count = len({one.pair for one in judged if name == "all angles" or name in one.told})
        least = next((f"{size:.0f}°" for size, share in zip(FAULTS, shares_found, strict=True) if share >= WANTED), "-")
        words = f"{name} ({count})"
        lines.append(f"{words:34}" + "".join(f"{share:>7.0%}" for share in shares_found) + f"{least:>12}")
    if real:
        share = _mean_by_pair([(pair, float(one)) for pair, one in real])
        pairs = len({pair for pair, _ in real})
        lines.append(f"true differences of {REAL[0]:.0f} to {REAL[1]:.0f}° told: {share:.0%} (in {pairs} sets)")
    return lines


def _mean_by_pair(values: Sequence[tuple[str, float]]) -> float:
    """The mean in which each pair of sets counts once."""
    of_pairs: dict[str, list[float]] = defaultdict(list)
    for pair, value in values:
        of_pairs[pair].append(value)
    return float(np.mean([np.mean(some) for some in of_pairs.values()]))


def _group(rows: Sequence[Row]) -> dict[tuple[str, Plane], list[Row]]:
    groups: dict[tuple[str, Plane], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row.measure, row.plane].append(row)
    return dict(sorted(groups.items()))


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--table", action="store_true", help="print the TOML table")
    parser.add_argument(
        "--only", nargs="+", default=[""], metavar="WORD", help="sets whose names hold one of the words"
    )
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    pairs = [one for one in map_sets(compare_pair, "repeats", options.only, processes=options.processes) if one]
    rows = [row for pair in pairs for row in pair.rows]
    print(HEAD + "\n".join(toml_lines(fit_shares(rows))) if options.table else "\n".join(report_lines(pairs)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
