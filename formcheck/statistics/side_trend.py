"""Left against right over sets of several sessions: a straight line through means whose errors are known.

Few sessions allow no test that knows nothing of the errors: by order alone five values are the fewest. How far a mean
difference of both arms may be off is known, so a weighted straight line tells a trend from three sets on.
"""

from collections.abc import Sequence
from math import hypot, sqrt

import numpy as np
from scipy.special import chdtri, ndtr

from formcheck.core.model import Review
from formcheck.statistics.detectable_change import Z95, compute_mean_error
from formcheck.statistics.rank_trend import kendall_s
from formcheck.statistics.rep_series import ASPECTS, Series, list_series
from formcheck.statistics.results import Call, Trend

FEWEST_SETS = 3
ALPHA = 0.05
UNEXPLAINED = 0.01
"""Chance below which the means' scatter about the line is more than their errors."""
DIFFERENCES = tuple(name for aspect, candidates in ASPECTS if aspect == "asymmetry" for name, _ in candidates)
"""Left less right, the most exact first."""


def find_side_trend(reviews: Sequence[Review]) -> Trend | None:
    """The trend of left against right over sets in order of time; None where fewer than three tell it.

    One measure speaks, the most exact that enough sets have. Where the means scatter about the line by more than their
    errors explain, the margin grows by as much (Birge 1932, Phys Rev 40:207; from memory).
    """
    for measure in DIFFERENCES:
        rows = [
            (number, item)
            for number, review in enumerate(reviews, start=1)
            for item in list_series(review)
            if item.measure == measure
        ]
        if len(rows) >= FEWEST_SETS:
            return _fit_trend(rows)
    return None


def _fit_trend(rows: Sequence[tuple[int, Series]]) -> Trend:
    item, count = rows[0][1], len(rows)
    x = np.array([number for number, _ in rows], dtype=float)
    y = np.array([one.values.mean() for _, one in rows])
    weight = np.array([1 / compute_set_error(one) ** 2 for _, one in rows])
    middle_x, middle_y = (float(np.average(values, weights=weight)) for values in (x, y))
    spread = float((weight * (x - middle_x) ** 2).sum())
    slope = float((weight * (x - middle_x) * (y - middle_y)).sum()) / spread
    off = float((weight * (y - middle_y - slope * (x - middle_x)) ** 2).sum())
    freedom = count - 2
    grown = sqrt(off / freedom) if off > chdtri(freedom, UNEXPLAINED) else 1.0
    error, span = grown / sqrt(spread), float(x[-1] - x[0])
    p = float(2 * ndtr(-abs(slope) / error))
    begins, ends = (middle_y + slope * (at - middle_x) for at in (x[0], x[-1]))
    change, margin = slope * span, Z95 * error * span
    call: Call = "changed" if p <= ALPHA else "no_detectable_change"
    by = item.format(abs(change), margin)
    words = f"no certain change over {count} sets: {by}"
    if call == "changed":
        words = f"from {_describe(item, begins)} to {_describe(item, ends)} over {count} sets, a change of {by}"
    return Trend(
        measure=item.measure,
        side=None,
        unit=item.unit,
        count=count,
        slope=slope,
        slope_low=slope - Z95 * error,
        slope_high=slope + Z95 * error,
        change=change,
        detectable=margin,
        s=kendall_s(y),
        p=p,
        p_family=p,
        call=call,
        sentence=f"Left against right: {words}.",
    )


def compute_set_error(item: Series) -> float:
    """Standard error of a set's mean difference beside that of another day: camera, body, and the lifter's own reps."""
    count = len(item.reps)
    measured = compute_mean_error(item.scatter, item.margin, count, same_camera=False)
    own = float(item.values.std(ddof=1)) if count > 1 else 0.0
    return hypot(measured, own / sqrt(count))


def _describe(item: Series, difference: float) -> str:
    """Which arm is lower, by how much."""
    return f"{'right' if difference > 0 else 'left'} {item.format(abs(difference))} lower"
