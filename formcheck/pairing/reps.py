"""The reps of a set from what two cameras found, on the first clip's clock."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from formcheck.core.errors import PairingError
from formcheck.core.model import Rep

MOST_UNMATCHED = 0.25
"""Share of the reps inside both clips that may be found by one camera alone; one may always be."""
SLACK_S = 0.1

Which = Literal["first", "second"]


@dataclass(frozen=True, slots=True)
class Filmed:
    """What one camera found, in seconds of the first clip."""

    begins: float
    ends: float
    reps: tuple[Rep, ...]

    def holds(self, rep: Rep) -> bool:
        """The whole rep lies in this camera's clip."""
        return self.begins - SLACK_S <= rep.start_s and rep.end_s <= self.ends + SLACK_S


def shifted(rep: Rep, seconds: float) -> Rep:
    """The same rep so many seconds later."""
    return replace(rep, start_s=rep.start_s + seconds, top_s=rep.top_s + seconds, end_s=rep.end_s + seconds)


def union(first: Filmed, second: Filmed, lead: Which) -> tuple[tuple[Rep, ...], tuple[Which, ...]]:
    """The reps of both clips, numbered anew, and by which camera each was found.

    The lead's reps count; the other camera adds those that lie where the lead was not filming. Reps outside the
    first clip, which the review's times and pictures belong to, are left out. Raises PairingError when both found
    reps and too many of those inside both clips have no partner.
    """
    films: dict[Which, Filmed] = {"first": first, "second": second}
    other: Which = "second" if lead == "first" else "first"
    check_counts(first, second)
    found = [(rep, lead) for rep in films[lead].reps]
    found += [(rep, other) for rep in films[other].reps if not _filming(films[lead], rep)]
    inside = sorted((item for item in found if first.holds(item[0])), key=lambda item: item[0].start_s)
    reps = [replace(_within(rep, first), number=number) for number, (rep, _) in enumerate(inside, start=1)]
    return tuple(reps), tuple(which for _, which in inside)


def check_counts(first: Filmed, second: Filmed) -> None:
    """Raise PairingError when the two cameras did not find the same reps where both were filming."""
    ours = [rep for rep in first.reps if second.holds(rep)]
    theirs = [rep for rep in second.reps if first.holds(rep)]
    if not ours or not theirs:
        return
    pairs = matched(ours, theirs)
    most = max(len(ours), len(theirs))
    if most - pairs > max(1, round(MOST_UNMATCHED * most)):
        raise PairingError(
            f"The two clips do not show the same set: over the same time the first shows {len(ours)} reps and the "
            f"second {len(theirs)}, and only {pairs} of them fall together."
        )


def matched(ours: Sequence[Rep], theirs: Sequence[Rep]) -> int:
    """How many reps have a partner whose middle is less than half a rep away."""
    middles = np.array([(rep.start_s + rep.end_s) / 2 for rep in theirs])
    usual = float(np.median([rep.end_s - rep.start_s for rep in (*ours, *theirs)]))
    return sum(bool((np.abs(middles - (rep.start_s + rep.end_s) / 2) < usual / 2).any()) for rep in ours)


def _filming(film: Filmed, rep: Rep) -> bool:
    return film.begins <= (rep.start_s + rep.end_s) / 2 <= film.ends


def _within(rep: Rep, film: Filmed) -> Rep:
    def held(seconds: float) -> float:
        return float(np.clip(seconds, film.begins, film.ends))

    return replace(rep, start_s=held(rep.start_s), top_s=held(rep.top_s), end_s=held(rep.end_s))
