"""Shoulders that creep up to the ears from rep to rep: a shrug that grows.

A shoulder rises with its arm in any case, so the gap between ear and shoulder is held against that of the set's first
reps at the same angle of the arm, on the way up. What all reps share, such as how a lifter stands, cancels.
"""

from collections.abc import Sequence

import numpy as np

from formcheck.core.model import SIDES, Message
from formcheck.measures.steadiness import TOO_FEW_REPS
from formcheck.measures.window import Value, Window, get_concentric_span

FIRST_REPS = 3
FEWEST_REPS = 5
ANGLE_SHARE = 0.8
"""The arm's angle at which the gaps are compared, as a share of its usual highest: high enough for a shrug to show,
low enough for a rep that stops short."""


def compute_shoulder_creep(windows: Sequence[Window]) -> list[Value | Message | None]:
    """By how many trunk lengths less the gap is than in the first whole reps, each rep; None where it was not seen."""
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
