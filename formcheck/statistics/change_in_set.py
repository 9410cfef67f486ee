"""How much worse each repetition is than the first ones of its set, with the margin of that difference.

The error that all repetitions share (`formcheck.statistics.detectable_change`) is in both and cancels, so a change is
known several times better than the level. `changes.toml` holds how well, by measure and plane.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from formcheck.core.model import Rep, Side
from formcheck.signals.camera import Plane
from formcheck.statistics.detectable_change import Z95, get_random_share

FIRST_REPS = 3
"""A set's first whole repetitions, whose mean the later ones are held against."""
LEAST_REPS = 5
"""A set of fewer repetitions is not looked at."""
MOST_SCATTER = 3.314
"""Range of three values with one standard deviation that 5 % exceed by chance, in standard deviations: the studentized
range, q(0.05; 3, ∞), as tabled in Harter 1960, Ann Math Stat 31:1122 (from memory)."""
OUTGROWN = 4.0
"""A change that is so many times as large as the range of the first ones stands out from how they go to and fro."""
MOST_OF_REPS = 2 / 3
"""A change holds from a repetition on when so many of those from there on have it."""


@dataclass(frozen=True, slots=True)
class RepChange:
    """One later repetition beside the mean of the first ones, all in the measure's unit."""

    rep: int
    worse: float
    """How much worse it is; negative: better."""
    own: float
    """Standard deviation of this repetition's own error."""
    shared: float
    """Standard deviation of the error of the first ones' mean, which is the same for every later repetition."""

    @property
    def margin(self) -> float:
        """Half-width of the 95 % interval of the change: 1.96·o·√(1 + 1/3) with equal errors o."""
        return Z95 * math.hypot(self.own, self.shared)


@cache
def _read_table() -> Mapping[str, Mapping[str, float]]:
    return tomllib.loads((Path(__file__).parent / "changes.toml").read_text(encoding="utf-8"))


def _get_shares(measure: str, plane: Plane) -> tuple[float, float]:
    """Share of a value's margin that is each repetition's own, and of the change by which it is off besides."""
    row = _read_table().get(measure)
    if row is None:
        return get_random_share(measure, plane), 0.0
    of_change = {key.removesuffix(_OF_CHANGE): share for key, share in row.items() if key.endswith(_OF_CHANGE)}
    shares = {key: share for key, share in row.items() if not key.endswith(_OF_CHANGE)}
    if plane in shares:
        return shares[plane], of_change.get(plane, 0.0)
    return max(shares.values()), max(of_change.values(), default=0.0)


_OF_CHANGE = "_of_change"


def compute_change_margin(measure: str, plane: Plane, margins: float, change: float) -> float:
    """Half-width of the 95 % interval of a change, in the measure's unit.

    Parameters
    ----------
    margins : those of the values, added up as those of a difference: √(m² + (m₁² + m₂² + m₃²)/9).
    change : value less the mean of the first ones.
    """
    share, of_change = _get_shares(measure, plane)
    return math.hypot(share * margins, of_change * change)


def compute_changes(
    badness: Mapping[int, float],
    margins: Mapping[int, float],
    first: Sequence[int],
    limit: float,
    measure: str,
    plane: Plane,
) -> list[RepChange]:
    """How much worse each later repetition is; nothing where the first ones are no measure for the others.

    Parameters
    ----------
    badness : repetition → value, larger when worse.
    margins : repetition → half-width of the 95 % interval of its value.
    first : the first whole repetitions; all of them must have a value.
    limit : change that may be.

    The first ones are no measure where they go to and fro by more than half the limit and more than their errors
    explain while no later one goes far beyond that (`OUTGROWN`), or where they are worse than the later ones, as when
    a set is begun carelessly.
    """
    if len(first) < FIRST_REPS or any(rep not in badness for rep in first):
        return []
    later = [rep for rep in sorted(badness) if rep > max(first)]
    if len(later) + len(first) < LEAST_REPS:
        return []
    share, of_change = _get_shares(measure, plane)
    own = {rep: share * margin / Z95 for rep, margin in margins.items()}
    begun = [badness[rep] for rep in first]
    error = math.hypot(*(own[rep] for rep in first)) / len(first)
    usual = error * math.sqrt(len(first))
    # A set that gets worse from its first rep on scatters there too; its own mean then is on the mild side.
    worsens = begun == sorted(begun)
    spread = max(begun) - min(begun)
    mean = sum(begun) / len(begun)
    outgrown = max(badness[rep] for rep in later) - mean >= OUTGROWN * spread
    if not worsens and not outgrown and spread > max(limit / 2, MOST_SCATTER * usual):
        return []
    changes = []
    for rep in later:
        worse = badness[rep] - mean
        changes.append(RepChange(rep, worse, math.hypot(own[rep], of_change * worse / Z95), error))
    usual_change = sum(item.worse for item in changes) / len(changes)
    if usual_change < -Z95 * math.hypot(error, usual / math.sqrt(len(changes))):
        return []
    return changes


def list_first_reps(reps: Sequence[Rep], side: Side | None) -> list[int]:
    """Numbers of the first whole repetitions of an arm that works alone; None: of those made with both at once."""
    return [rep.number for rep in reps if rep.complete and rep.side == side][:FIRST_REPS]


def find_first(changed: Sequence[int], later: Sequence[int]) -> int | None:
    """The first changed repetition from which on most have the change; None where it is in single ones only."""
    for rep in sorted(changed):
        after = [number for number in later if number >= rep]
        share = sum(number in changed for number in after) / len(after)
        if len(after) > 1 and share >= MOST_OF_REPS:
            return rep
    return None
