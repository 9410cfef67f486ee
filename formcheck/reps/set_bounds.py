"""What the clip's ends and long rests say about where the set begins and ends."""

from collections.abc import Sequence
from itertools import pairwise

from formcheck.core.model import Array, Message, Rep
from formcheck.reps.find import AT_THE_CUT_S

LONG_REST_S = 15.0
"""A rest within a set is hardly longer, between sets a minute and more is usual (common practice)."""


def note_set_bounds(reps: Sequence[Rep], t: Array) -> tuple[Message, ...]:
    """That the clip begins or ends within a repetition, and that a rest between two of them is as long as between sets.

    Parameters
    ----------
    t : (m,) times of the clip, seconds. What was set by hand is known and not remarked on.
    """
    found = [rep for rep in reps if not rep.by_hand]
    if not found:
        return ()
    notes = []
    if not found[0].complete and found[0].start_s <= t[0] + AT_THE_CUT_S:
        notes.append(Message("begins-in-rep", {"rep": found[0].number}))
    if not found[-1].complete and found[-1].end_s >= t[-1] - AT_THE_CUT_S:
        notes.append(Message("ends-in-rep", {"rep": found[-1].number}))
    rests = [(after.start_s - before.end_s, before, after) for before, after in pairwise(found)]
    notes += [
        Message("long-rest", {"before": before.number, "after": after.number, "rest_s": round(rest)})
        for rest, before, after in rests
        if rest >= LONG_REST_S
    ][:1]
    return tuple(notes)
