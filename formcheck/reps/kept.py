"""Which repetitions a cut in the clip leaves whole."""

from collections.abc import Sequence
from dataclasses import replace

from formcheck.model import Rep


def without_cut(reps: Sequence[Rep], cuts: Sequence[float]) -> tuple[Rep, ...]:
    """The repetitions that no cut goes through, numbered anew; those set by hand stay.

    Parameters
    ----------
    cuts : times at which the clip jumps to another picture, seconds.
    """
    if not cuts:
        return tuple(reps)
    whole = [rep for rep in reps if rep.by_hand or not any(rep.start_s < cut < rep.end_s for cut in cuts)]
    return tuple(replace(rep, number=number) for number, rep in enumerate(whole, start=1))
