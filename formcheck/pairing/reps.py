"""The reps of a set from what two cameras found, on the first clip's clock."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from formcheck.core.model import Rep

MOST_OVERLAP = 0.25
"""A rep that no rep of the other camera covers by more than this share of it was found by one camera alone."""
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

    The lead's reps count; the other camera adds those that the lead did not find. Reps outside the first clip, which
    the review's times and pictures belong to, are left out.
    """
    films = {"first": first, "second": second}
    other: Which = "second" if lead == "first" else "first"
    found = [(rep, lead) for rep in films[lead].reps]
    found += [(rep, other) for rep in films[other].reps if not is_found(films[lead].reps, rep)]
    inside = sorted((item for item in found if first.contains(item[0])), key=lambda item: item[0].start_s)
    reps = [replace(_clip_rep(rep, first), number=number) for number, (rep, _) in enumerate(inside, start=1)]
    return tuple(reps), tuple(which for _, which in inside)


def is_found(reps: Sequence[Rep], rep: Rep) -> bool:
    """Whether a rep of another camera is among these, as one, as parts of it, or as part of a longer one."""
    most = MOST_OVERLAP * (rep.end_s - rep.start_s)
    return any(min(rep.end_s, one.end_s) - max(rep.start_s, one.start_s) > most for one in reps)


def list_single_reps(reps: Sequence[Rep], first: CameraReps, second: CameraReps) -> dict[Which, tuple[int, ...]]:
    """Numbers of the reps that both cameras filmed whole and only this one found; cameras without such are left out."""
    films: dict[Which, CameraReps] = {"first": first, "second": second}
    filmed = [rep for rep in reps if first.contains(rep) and second.contains(rep)]
    missed = {which: [rep.number for rep in filmed if not is_found(film.reps, rep)] for which, film in films.items()}
    alone: dict[Which, tuple[int, ...]] = {"first": tuple(missed["second"]), "second": tuple(missed["first"])}
    return {which: numbers for which, numbers in alone.items() if numbers}


def _clip_rep(rep: Rep, film: CameraReps) -> Rep:
    times = {name: float(np.clip(getattr(rep, name), film.begins_s, film.ends_s)) for name in TIMES}
    return replace(rep, **times)  # type: ignore[arg-type]  # times alone
