"""Which repetitions of a part of a clip are whole, where a cut may have taken the rest of one."""

from collections.abc import Sequence
from dataclasses import replace

from formcheck.core.model import Array, Rep

AT_THE_CUT_S = 0.3
"""A movement that begins or ends this near to a cut may lack what the cut took: as long as the smoothing reaches."""


def drop_cut_reps(reps: Sequence[Rep], t: Array, cut_before: bool, cut_after: bool) -> tuple[Rep, ...]:
    """The repetitions of a part without those a cut goes through; numbered anew; those set by hand
    stay.

    Parameters
    ----------
    t : (m,) times of the part, seconds.
    cut_before, cut_after : whether the part begins or ends with a cut, and not with the clip.
    """

    def taken(rep: Rep) -> bool:
        begins = cut_before and rep.start_s <= t[0] + AT_THE_CUT_S
        ends = cut_after and rep.end_s >= t[-1] - AT_THE_CUT_S
        return not rep.by_hand and not rep.complete and (begins or ends)

    return tuple(
        replace(rep, number=number) for number, rep in enumerate([rep for rep in reps if not taken(rep)], start=1)
    )
