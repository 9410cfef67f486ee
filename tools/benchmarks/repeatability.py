"""How much of a margin differs from rep to rep of a set, on the rendered tuning sets; used by `fit_tables.py`.

The error of a value against its truth has a part common to all reps of a set (same body, same camera) and one that
scatters: its standard deviation within a set, each error taken in units of its own margin / 1.96, is the share. The
table holds the shares with at least 30 degrees of freedom, rounded up to a twentieth. Sets with planted faults are in
on purpose: an error that follows the value is error between reps too.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from formcheck.analysis import CameraAnalysis
from formcheck.core.model import Array
from formcheck.signals.camera import get_plane
from rendered_sets import RenderedSet, compare, load_fitted

FEWEST_REPS = 3
FEWEST_DEGREES = 30
HEAD = """\
# Share of a measure's margin that differs from rep to rep of one set (same body, same camera); the rest is common
# to all its reps and cancels between them. From rendered sets whose angles are known exactly, rounded up:
#   python tools/benchmarks/fit_tables.py --write
# A plane not listed takes the measure's largest share, a measure not listed the largest of all.
"""


def errors_of(path: Path) -> list[tuple[str, str, Array]]:
    """The errors of a set's file (`errors_in`)."""
    seen = load_fitted(path)
    return [] if seen is None else errors_in(*seen)


def errors_in(one: RenderedSet, look: CameraAnalysis) -> list[tuple[str, str, Array]]:
    """Measure, plane, and (reps, 2) error and margin, for every measure and side of a set whose reps were all found."""
    found: dict[tuple[str, str, str | None], list[tuple[float, float]]] = defaultdict(list)
    if one.document["sides"] == "both" and len(look.reps) == len(one.true_reps(look)):
        for row in compare(one, look):
            found[row.measure, get_plane(row.camera), row.side].append((row.error, row.margin))
    return [(name, plane, np.array(pairs)) for (name, plane, _), pairs in found.items() if len(pairs) >= FEWEST_REPS]


def toml_lines(groups: Mapping[tuple[str, str], Sequence[Array]]) -> list[str]:
    """The table as it ships, without its head; by measure and plane, the errors of each set and side."""
    lines: list[str] = []
    heading = ""
    for (name, plane), sets in sorted(groups.items()):
        if sum(len(pairs) - 1 for pairs in sets) >= FEWEST_DEGREES:
            lines += [f"[{name}]"] if heading != name else []
            heading = name
            lines.append(f"{plane} = {min(math.ceil(20 * _share(sets) - 1e-9) / 20, 1.0):.2f}")
    return lines


def _share(sets: Sequence[Array]) -> float:
    return math.sqrt(sum(_relative(pairs) for pairs in sets) / sum(len(pairs) - 1 for pairs in sets))


def _relative(pairs: Array) -> float:
    """Sum of squared deviations of a set's errors, each in units of its margin / 1.96."""
    return float(np.sum(((pairs[:, 0] - pairs[:, 0].mean()) / (pairs[:, 1] / 1.96)) ** 2))
