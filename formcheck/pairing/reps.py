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
TIMES = ("start_s", "top_s", "end_s")
"""Of a rep."""


@dataclass(frozen=True, slots=True)
class CameraReps:
    """What one camera found, in seconds of the first clip."""

    begins_s: float
    ends_s: float
    reps: tuple[Rep, ...]

    def contains(self, rep: Rep) -> bool:
        """The whole rep lies in this camera's clip."""
        return self.begins_s - SLACK_S <= rep.start_s and rep.end_s <= self.ends_s + SLACK_S


def shift_rep(rep: Rep, seconds: float) -> Rep:
    """The same rep so many seconds later."""
    return replace(rep, **{name: getattr(rep, name) + seconds for name in TIMES})


def merge_reps(first: CameraReps, second: CameraReps, lead: Which) -> tuple[tuple[Rep, ...], tuple[Which, ...]]:
    """The reps of both clips, numbered anew, and by which camera each was found.

    The lead's reps count; the other camera adds those that lie where the lead was not filming. Reps outside the
    first clip, which the review's times and pictures belong to, are left out. Raises PairingError when both found
    reps and too many of those inside both clips have no partner.
    """
    films = {"first": first, "second": second}
    other: Which = "second" if lead == "first" else "first"
    check_same_reps(first, second)
    found = [(rep, lead) for rep in films[lead].reps]
    found += [(rep, other) for rep in films[other].reps if not _films_middle(films[lead], rep)]
    inside = sorted((item for item in found if first.contains(item[0])), key=lambda item: item[0].start_s)
    reps = [replace(_clip_rep(rep, first), number=number) for number, (rep, _) in enumerate(inside, start=1)]
    return tuple(reps), tuple(which for _, which in inside)


def check_same_reps(first: CameraReps, second: CameraReps) -> None:
    """Raise PairingError when the two cameras did not find the same reps where both were filming."""
    ours = [rep for rep in first.reps if second.contains(rep)]
    theirs = [rep for rep in second.reps if first.contains(rep)]
    if not ours or not theirs:
        return
    pairs = count_matches(ours, theirs)
    most = max(len(ours), len(theirs))
    if most - pairs > max(1, round(MOST_UNMATCHED * most)):
        raise PairingError(
            f"The two clips do not show the same set: over the same time the first shows {len(ours)} reps and the "
            f"second {len(theirs)}, and only {pairs} of them fall together."
        )


def count_matches(ours: Sequence[Rep], theirs: Sequence[Rep]) -> int:
    """How many reps have a partner whose middle is less than half a rep away."""
    middles = np.array([(rep.start_s + rep.end_s) / 2 for rep in theirs])
    usual = float(np.median([rep.end_s - rep.start_s for rep in (*ours, *theirs)]))
    return sum(bool((np.abs(middles - (rep.start_s + rep.end_s) / 2) < usual / 2).any()) for rep in ours)


def _films_middle(film: CameraReps, rep: Rep) -> bool:
    return film.begins_s <= (rep.start_s + rep.end_s) / 2 <= film.ends_s


def _clip_rep(rep: Rep, film: CameraReps) -> Rep:
    times = {name: float(np.clip(getattr(rep, name), film.begins_s, film.ends_s)) for name in TIMES}
    return replace(rep, **times)  # type: ignore[arg-type]  # times alone
