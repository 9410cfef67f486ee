"""Every fitted table from one look at the rendered tuning sets: margins first, then what rests on them.

    python tools/benchmarks/fit_tables.py --write

Writes formcheck/measures/margins.toml (`fit_pooled_margins.py`), then with those margins
formcheck/statistics/repeatability.toml (`repeatability.py`) and changes.toml (`changes.py`), then with all three
formcheck/verdicts.toml (`fit_prior.py`), and prints what grades come to with them (`grades.py`). Each of these modules
says more of its own table. Without `--write` nothing is done but this being said.
"""

from __future__ import annotations

import argparse
import math
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any
from unittest.mock import patch

import changes
import fit_pooled_margins as pooled
import fit_prior
import formcheck.statistics
import grades
import repeatability
from formcheck import verdicts
from formcheck.core.model import CameraView, Quality, Rep
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.measures import across_reps, margins
from formcheck.measures.across_reps import Reading
from formcheck.statistics import change_in_set, detectable_change
from rendered_sets import Key, RenderedSet, Row, analyse_set, compare, counts_in_fit, map_sets

STATISTICS = Path(formcheck.statistics.__file__).parent


@dataclass(frozen=True)
class SeenSet:
    """What was seen of a set and what is true, small enough to be handed between processes.

    It stands for a `RenderedSet` and for the analysis of it where only these parts are asked for.
    """

    name: str
    document: dict[str, Any]
    readings: tuple[Reading, ...]
    reps: tuple[Rep, ...]
    camera: CameraView
    quality: Quality
    truth: tuple[tuple[Rep, ...], dict[Key, float]]

    @cached_property
    def exercise(self) -> Exercise:
        """The exercise that is done."""
        return get_exercise(self.document["exercise"])

    def true_reps(self, _look: object) -> tuple[Rep, ...]:
        """As `RenderedSet.true_reps`."""
        return self.truth[0]

    def true_measures(self, _look: object) -> tuple[tuple[Rep, ...], dict[Key, float]]:
        """As `RenderedSet.true_measures`."""
        return self.truth


def look_at(one: RenderedSet) -> SeenSet:
    """A set with every value that can be read, however unsure."""
    with (
        patch.object(across_reps, "MOST_UNSURE_DEG", math.inf),
        patch.object(across_reps, "compute_margin", pooled.margin_or_endless),
    ):
        look = analyse_set(one)
        truth = one.true_measures(look)
    return SeenSet(one.name, one.document, look.readings, look.reps, look.camera, look.quality, truth)


def judge_by_table(seen: SeenSet) -> SeenSet:
    """The set with today's margins; what is too unsure by them is not given."""
    kind = margins.find_kind(seen.exercise, seen.camera)
    readings = []
    for reading in seen.readings:
        item = reading.measure
        if item.value is not None:
            margin = margins.compute_margin(item.name, item.value, seen.camera, seen.quality, kind)
            unsure = margin is None or (item.unit == "deg" and margin > across_reps.MOST_UNSURE_DEG)
            item = replace(item, value=None if unsure else item.value, margin=None if unsure else margin)
        readings.append(replace(reading, measure=item))
    return replace(seen, readings=tuple(readings))


def write_margins(sets: Sequence[SeenSet]) -> None:
    """Fit and write the margins."""
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for seen in sets:
        if seen.document["sides"] == "both":
            for row in compare(seen, seen):  # type: ignore[arg-type]
                if pooled.counts_for(seen.document["part"], key := pooled.key_of(row)):
                    groups[row.measure, key].append(row)
    table, fits = pooled.fit_rows(groups)
    pooled.write_rows(table, fits)
    held = [inside for fit in fits.values() for each in fit.kept_out.values() for inside in each]
    print(f"truths inside margins fitted to the other builds: {sum(held) / len(held):.1%} of {len(held)}\n")


def write_what_rests_on_them(sets: Sequence[SeenSet]) -> None:
    """Fit and write the share of a rep's own error, changes and odds; print what grades come to in the tuning part."""
    judged = [judge_by_table(seen) for seen in sets]
    errors: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for seen in judged:
        for name, plane, pairs in repeatability.errors_in(seen, seen):  # type: ignore[arg-type]
            errors[name, plane].append(pairs)
    _write(STATISTICS / "repeatability.toml", repeatability.HEAD, repeatability.toml_lines(errors))
    differences = [row for seen in judged for row in changes.compare_changes(seen, seen)]  # type: ignore[arg-type]
    _write(STATISTICS / "changes.toml", changes.HEAD, changes.toml_lines(differences))
    judged = [seen for seen in judged if seen.document["part"] == "tuning"]
    results = [grades.hold(seen, seen) for seen in judged]  # type: ignore[arg-type]
    of_values = [pair for one in results for pair in fit_prior.pairs_of(one.reps)]
    of_sets = [pair for one in results for pair in fit_prior.pairs_of(one.sets)]
    odds = fit_prior.round_odds(max(fit_prior.fit_odds(of_values), fit_prior.fit_odds(of_sets)))
    text = fit_prior.TABLE.read_text(encoding="utf-8")
    fit_prior.TABLE.write_text(re.sub(r"(?m)^prior_odds = .*$", f"prior_odds = {odds}", text), encoding="utf-8")
    verdicts.get_prior_odds.cache_clear()
    print("\n".join(grades.table([grades.hold(seen, seen) for seen in judged])))  # type: ignore[arg-type]


def _write(path: Path, head: str, lines: Sequence[str]) -> None:
    path.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")
    detectable_change._read_table.cache_clear()
    change_in_set._read_table.cache_clear()


def main() -> None:
    """Fit all tables, each with those before it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", required=True, help="write the four tables")
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    sets = [seen for part in pooled.PARTS for seen in map_sets(look_at, part, processes=options.processes)]
    write_margins(sets)
    margins._read_entries.cache_clear()
    margins._read_table.cache_clear()
    write_what_rests_on_them([seen for seen in sets if counts_in_fit(seen.document["part"], seen.camera)])


if __name__ == "__main__":
    main()
