"""Corrections by hand: what a person changed about the repetitions the machine found.

A correction names moments of the clip, not numbers of reps, so it still fits when another correction renumbers them.
All functions are pure: they take corrections and the review as it stands, and give new corrections.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from formcheck.core.errors import UsageError
from formcheck.core.model import Rep

SHORTEST_REP_S = 0.2
"""Less time than this holds no repetition."""
MOST_EDITS = 500
ROUNDING_S = 1e-9
"""Stored times are decimal; the same length must pass when it is read again."""
SAME_S = 2e-3
"""Times closer than this are the same: they are kept to 1 ms."""
LONGEST_S = 86_400


@dataclass(frozen=True, slots=True)
class Placed:
    """A repetition set by hand, seconds of the clip."""

    start_s: float
    end_s: float
    top_s: float | None = None
    """The shortened end; None to find it between start and end."""
    replaces_s: float | None = None
    """A moment inside the machine's own repetition that this one replaces; None for an added one."""

    def __post_init__(self) -> None:
        if not all(map(_is_moment, (self.start_s, self.end_s, self.top_s or 0.0, self.replaces_s or 0.0))):
            raise UsageError("A rep set by hand begins and ends at moments of the clip, in seconds from 0.")
        if self.end_s - self.start_s < SHORTEST_REP_S - ROUNDING_S:
            raise UsageError(
                f"A rep set by hand lasts at least {SHORTEST_REP_S} s; "
                f"from {self.start_s:.2f} to {self.end_s:.2f} s is not that."
            )
        if self.top_s is not None and not self.start_s <= self.top_s <= self.end_s:
            raise UsageError(f"The top at {self.top_s:.2f} s does not lie between the rep's start and end.")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the clip that is not part of the set, seconds."""

    start_s: float
    end_s: float

    def __post_init__(self) -> None:
        if not (_is_moment(self.start_s) and _is_moment(self.end_s) and self.start_s < self.end_s):
            raise UsageError("A stretch of the clip begins before it ends, in seconds from 0.")


@dataclass(frozen=True, slots=True)
class Edits:
    """All corrections of one review; the empty one leaves the machine's result as it is."""

    exercise_id: str | None = None
    """The exercise it really was."""
    outside: tuple[Stretch, ...] = ()
    """What is not part of the set."""
    removed_s: tuple[float, ...] = ()
    """Moments inside repetitions of the machine that are none."""
    placed: tuple[Placed, ...] = ()

    def __post_init__(self) -> None:
        if len(self.outside) + len(self.removed_s) + len(self.placed) > MOST_EDITS:
            raise UsageError(f"A review takes at most {MOST_EDITS} corrections.")
        if not all(map(_is_moment, self.removed_s)):
            raise UsageError("A rep is removed at a moment of the clip, in seconds from 0.")
        ordered = sorted(self.placed, key=lambda item: item.start_s)
        for first, second in pairwise(ordered):
            if second.start_s < first.end_s - ROUNDING_S:
                raise UsageError(
                    f"The reps from {first.start_s:.2f} to {first.end_s:.2f} s and from {second.start_s:.2f} "
                    f"to {second.end_s:.2f} s overlap; move the end of the first one before."
                )

    def __bool__(self) -> bool:
        return self != Edits()


# ---------------------------------------------------------------- making corrections


def move_rep(
    edits: Edits,
    reps: Sequence[Rep],
    number: int,
    *,
    start_s: float | None = None,
    top_s: float | None = None,
    end_s: float | None = None,
) -> Edits:
    """Move start, top or end of a rep of the review as it stands; what is not given stays (UsageError)."""
    rep = _get_rep(reps, number)
    start, end = rep.start_s if start_s is None else start_s, rep.end_s if end_s is None else end_s
    top = top_s
    if top is None and rep.start_s < rep.top_s < rep.end_s:
        top = rep.top_s if start <= rep.top_s <= end else None
    position = _find_placed(edits, rep)
    replaces = edits.placed[position].replaces_s if position is not None else _compute_middle(rep)
    placed = Placed(start, end, top, replaces)
    others = tuple(item for index, item in enumerate(edits.placed) if index != position)
    _check_neighbours(placed, [other for other in reps if other.number != number])
    return replace(edits, placed=_sort_placed((*others, placed)))


def add_rep(edits: Edits, reps: Sequence[Rep], start_s: float, end_s: float, top_s: float | None = None) -> Edits:
    """Add a rep the machine missed (UsageError when it overlaps another)."""
    placed = Placed(start_s, end_s, top_s)
    _check_neighbours(placed, reps)
    return replace(edits, placed=_sort_placed((*edits.placed, placed)))


def delete_rep(edits: Edits, reps: Sequence[Rep], number: int) -> Edits:
    """Delete a rep of the review as it stands, the machine's or one set by hand (UsageError)."""
    rep = _get_rep(reps, number)
    position = _find_placed(edits, rep)
    if position is None:
        return replace(edits, removed_s=(*edits.removed_s, _compute_middle(rep)))
    gone = edits.placed[position]
    removed = edits.removed_s if gone.replaces_s is None else (*edits.removed_s, gone.replaces_s)
    left = edits.placed[:position] + edits.placed[position + 1 :]
    return replace(edits, placed=left, removed_s=removed)


def leave_out(edits: Edits, start_s: float, end_s: float) -> Edits:
    """Mark a stretch as not part of the set: no rep turns in it (UsageError)."""
    return replace(edits, outside=(*edits.outside, Stretch(start_s, end_s)))


def set_exercise(edits: Edits, exercise_id: str | None) -> Edits:
    """Say which exercise it really was; None takes that back."""
    return replace(edits, exercise_id=exercise_id)


def shift_edits(edits: Edits, offset_s: float, length_s: float) -> Edits:
    """The corrections in seconds of another clip, begun at `offset_s` and so long; what it lacks is left out."""

    def moved(moment: float | None) -> float | None:
        return None if moment is None or not 0 <= moment - offset_s <= length_s else moment - offset_s

    placed = []
    for item in edits.placed:
        start, end = moved(item.start_s), moved(item.end_s)
        if start is not None and end is not None:
            placed.append(Placed(start, end, moved(item.top_s), moved(item.replaces_s)))
    outside = [(part.start_s - offset_s, part.end_s - offset_s) for part in edits.outside]
    removed = [moment for moment in map(moved, edits.removed_s) if moment is not None]
    return replace(
        edits,
        outside=_clip_stretches(outside, 0.0, length_s),
        removed_s=tuple(removed),
        placed=tuple(placed),
    )


def select_part(edits: Edits, start_s: float, end_s: float) -> Edits:
    """What of the corrections begins in a stretch of the clip (the end not in it), seconds; on the same clock."""

    def inside(moment: float) -> bool:
        return start_s <= moment < end_s

    return replace(
        edits,
        outside=_clip_stretches([(part.start_s, part.end_s) for part in edits.outside], start_s, end_s),
        removed_s=tuple(filter(inside, edits.removed_s)),
        placed=tuple(item for item in edits.placed if inside(item.start_s)),
    )


def _clip_stretches(spans: Sequence[tuple[float, float]], first_s: float, last_s: float) -> tuple[Stretch, ...]:
    clipped = [(max(start, first_s), min(end, last_s)) for start, end in spans]
    return tuple(Stretch(start, end) for start, end in clipped if start < end)


def _get_rep(reps: Sequence[Rep], number: int) -> Rep:
    for rep in reps:
        if rep.number == number:
            return rep
    raise UsageError(f"There is no rep {number}; the set has {len(reps)}.")


def _compute_middle(rep: Rep) -> float:
    return round((rep.start_s + rep.end_s) / 2, 3)


def _find_placed(edits: Edits, rep: Rep) -> int | None:
    """Index of the placed repetition that became this rep, known by its times."""
    for index, item in enumerate(edits.placed):
        if abs(item.start_s - rep.start_s) < SAME_S and abs(item.end_s - rep.end_s) < SAME_S:
            return index
    return None


def _check_neighbours(placed: Placed, others: Sequence[Rep]) -> None:
    for rep in others:
        if placed.start_s < rep.end_s - 1e-3 and rep.start_s < placed.end_s - 1e-3:
            raise UsageError(
                f"A rep from {placed.start_s:.2f} to {placed.end_s:.2f} s would overlap rep {rep.number} "
                f"({rep.start_s:.2f} to {rep.end_s:.2f} s); move or delete that one first."
            )


def _sort_placed(placed: tuple[Placed, ...]) -> tuple[Placed, ...]:
    return tuple(sorted(placed, key=lambda item: item.start_s))


def _is_moment(value: float) -> bool:
    return math.isfinite(value) and 0 <= value <= LONGEST_S
