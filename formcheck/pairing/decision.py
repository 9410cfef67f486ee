"""Whether two recordings show the same set: taken, asked about, or refused.

Two lifts of one kind run much alike; what tells them apart is how exactly every single stroke falls together, how much
likelier one offset is than any other, and how much of the set both clips show.
"""

import numpy as np

from formcheck.core.errors import PairingError, UnclearPairError
from formcheck.pairing.alignment import Alignment

BASE, SLOPES = -15.052, (-2.586, 1.530, -3.613, 2.277)
"""Logistic regression by `list_evidence`, on 60 rendered pairs and 440 of different sets of one exercise, and on such
with a fifth to nearly half of one clip cut away (`tools/benchmarks/two_cameras.py`), for nine of ten pairs offered
being of one set."""
SPREAD_FLOOR_S, WHOLE_SHARE = 0.01, 0.9
ACCEPTED = 0.98
"""So sure, two clips are taken for one set."""
REFUSED = 0.001
"""Less sure, they are not, and nobody is asked."""
NEAR_S, MUCH_SHARE, MUCH_LEAD, ALIKE = 0.05, 0.75, 20.0, 0.85
"""What is told of a pair that is asked about; none decides."""
TOO_LITTLE = "The two clips do not show the same set, or share too little of it: both must show most of the set."
OTHER_MOVEMENT = "The two clips do not show the same set: the movement does not run alike in them."


def compute_confidence(found: Alignment) -> float:
    """How sure it is that both clips show the same set at this offset, 0..1."""
    score = sum((slope * value for slope, value in zip(SLOPES, list_evidence(found), strict=True)), BASE)
    return float(1.0 / (1.0 + np.exp(-score)))


def list_evidence(found: Alignment) -> tuple[float, float, float, float]:
    """What speaks for one set: logarithm of the strokes' spread, of the lead, share not seen, logarithm of strokes."""
    spread, lead = np.log(np.hypot(found.spread_s, SPREAD_FLOOR_S)), np.log(max(found.lead, 1.0))
    return float(spread), float(lead), max(WHOLE_SHARE - found.share, 0.0), float(np.log(max(found.strokes, 3)))


def check_same_set(found: Alignment | None, *, same_set: bool = False) -> Alignment:
    """The alignment of two clips that are taken for one set.

    Parameters
    ----------
    same_set : a person said that they are, so that what is unclear is taken.

    Raises UnclearPairError when a person must say so, PairingError when the clips show nothing alike.
    """
    if found is None or not found.curves:
        raise PairingError(TOO_LITTLE)
    sure = compute_confidence(found)
    if sure < REFUSED:
        raise PairingError(OTHER_MOVEMENT)
    if sure < ACCEPTED and not same_set:
        raise UnclearPairError(describe_doubt(found))
    return found


def describe_doubt(found: Alignment) -> str:
    """What speaks for two clips being of one set, and what against it, in one sentence."""
    if found.correlation >= ALIKE:
        speaks_for = "the movement runs alike in both"
    elif found.share >= WHOLE_SHARE:
        speaks_for = "both could show the whole of one set"
    else:
        speaks_for = f"{found.strokes} lifts and lowerings match"
    against = []
    if found.spread_s > NEAR_S:
        against.append(f"some of them are up to {found.spread_s:.2f} s apart")
    if found.share < MUCH_SHARE:
        against.append(f"only {100 * found.share:.0f} % of the movement would be in both clips")
    if found.lead < MUCH_LEAD:
        against.append("they fit together in more than one way")
    words = " and ".join(against) or "too few lifts and lowerings match exactly"
    return f"It is not clear whether the two clips show the same set: {speaks_for}, but {words}."
