"""Movements a test left out although they are as regular as the set they lie in: their landmarks were wrong."""

from collections.abc import Sequence

import numpy as np

from formcheck.reps.strokes import Excursion

AS_USUAL = (0.6, 1.6)
"""Shares of the set's median range and duration within which a movement is as regular as the set."""
FEWEST = 3
"""So many movements passed before they say what is regular."""


def readmit_regular(found: Sequence[Excursion], passed: Sequence[Excursion]) -> list[Excursion]:
    """The movements that passed a test, and those between them that go as far and last as long, in order of time.

    None is added to fewer than `FEWEST`, nor more than passed: most of a set passes, or it is none. Before the first
    and after the last that passed, weights are picked up and put down.
    """
    if len(passed) < FEWEST:
        return list(passed)
    usual = np.median([_measure(item) for item in passed], axis=0)
    first, last = passed[0].turn, passed[-1].turn
    known = {item.turn for item in passed}
    added = {
        item.turn
        for item in found
        if first < item.turn < last
        and item.turn not in known
        and (AS_USUAL[0] * usual <= _measure(item)).all()
        and (_measure(item) <= AS_USUAL[1] * usual).all()
    }
    if len(added) > len(passed):
        return list(passed)
    return [item for item in found if item.turn in known | added]


def _measure(item: Excursion) -> np.ndarray:
    """Range and duration."""
    return np.array([item.range, item.back_end - item.out_start])
