"""What changes from the first reps of a set to later ones: shoulders that creep up, hands that leave their line.

What all reps of a set share, such as how a lifter stands or how a camera sees a hand, cancels in the difference.
"""

from collections.abc import Sequence

import numpy as np

from formcheck.core.model import SIDES, Message, Side
from formcheck.measures.steadiness import TOO_FEW_REPS
from formcheck.measures.window import Value, Window, get_concentric_span, read_around

FIRST_REPS = 3
FEWEST_REPS = 5
ANGLE_SHARE = 0.8
"""The arm's angle at which the gaps are compared, as a share of its usual highest: high enough for a shrug to show,
low enough for a rep that stops short."""


def compute_shoulder_creep(windows: Sequence[Window]) -> list[Value | Message | None]:
    """By how many trunk lengths less the gap is than in the first whole reps, each rep; None where it was not seen.

    A shoulder rises with its arm in any case, so the gap between ear and shoulder is held against that of the set's
    first reps at the same angle of the arm, on the way up.
    """
    whole = [window for window in windows if window.rep.complete]
    if len(whole) < FEWEST_REPS:
        return [TOO_FEW_REPS] * len(windows)
    peaks = [np.nanmax(driver) for window in whole if np.isfinite(driver := window.driver[window.inside]).any()]
    angle = ANGLE_SHARE * float(np.median(peaks)) if peaks else float("nan")
    found = [_read_gap(window, angle) for window in windows]
    first = [gap.value for gap, window in zip(found, windows, strict=True) if gap is not None and window.rep.complete][
        :FIRST_REPS
    ]
    if len(first) < FIRST_REPS:
        return [None] * len(windows)
    usual = float(np.mean(first))
    return [None if gap is None else Value(usual - gap.value, gap.at_s) for gap in found]


def _read_gap(window: Window, angle: float) -> Value | None:
    """Mean gap of both sides where the arms pass an angle in the lift."""
    both = [window.curve("ear_above_shoulder", side) for side in SIDES]
    seen = [curve for curve in both if curve is not None]
    lifting = window.between(*get_concentric_span(window.rep)) & np.isfinite(window.driver)
    if not seen or lifting.sum() < 2:
        return None
    t, driver = window.signals.t[lifting], np.maximum.accumulate(window.driver[lifting])
    if not driver[0] <= angle <= driver[-1]:
        return None
    at_s = float(np.interp(angle, driver, t))
    return Value(float(np.mean([np.interp(at_s, *curve) for curve in seen])), at_s)


def compute_hand_line_drift(windows: Sequence[Window]) -> list[Value | Message | None]:
    """By how many trunk lengths nearer to the head the hands end than in the first whole reps; below 0 to the hips.

    Where a hand that comes towards the camera stands along the trunk is off by a tenth of a trunk and more, which is
    the same in all reps of a set. Each rep: the mean of the arms that were seen in it and in the first reps, None where
    neither was; of one arm that works alone, its own.
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
