"""Hands that leave their line from rep to rep: seen from the side, how far along the trunk they end at the top.

Where a hand that comes towards the camera stands along the trunk is off by a tenth of a trunk and more, which is the
same in all reps of a set: only what differs from the first reps is told.
"""

from collections.abc import Sequence

import numpy as np

from formcheck.core.model import SIDES, Message, Side
from formcheck.measures.shoulder_creep import FEWEST_REPS, FIRST_REPS
from formcheck.measures.steadiness import TOO_FEW_REPS
from formcheck.measures.window import Value, Window, read_around


def compute_hand_line_drift(windows: Sequence[Window]) -> list[Value | Message | None]:
    """By how many trunk lengths nearer to the head the hands end than in the first whole reps; below 0 to the hips.

    Each rep: the mean of the arms that were seen in it and in the first reps, None where neither was; of one arm that
    works alone, its own.
    """
    whole = [window for window in windows if window.rep.complete]
    if len(whole) < FEWEST_REPS:
        return [TOO_FEW_REPS] * len(windows)
    arm = windows[0].rep.side
    arms = SIDES if arm is None else (arm,)
    usual = {side: float(np.mean([_read_place(window, side) for window in whole[:FIRST_REPS]])) for side in arms}
    drifts = [[_read_place(window, side) - usual[side] for side in arms] for window in windows]
    return [
        Value(float(np.nanmean(each)), window.rep.top_s) if np.isfinite(each).any() else None
        for window, each in zip(windows, drifts, strict=True)
    ]


def _read_place(window: Window, side: Side) -> float:
    """Where the hand is along the trunk around the top; NaN where it was not seen."""
    curve = window.curve("hand_along_trunk", side)
    return float("nan") if curve is None else read_around(curve, window.rep.top_s)
