"""Left against right over sets of several sessions: a straight line through means whose errors are known.

Few sessions allow no test that knows nothing of the errors: by order alone five values are the fewest. How far a mean
difference of both arms may be off is known, so a weighted straight line tells a trend from three sets on.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np

from formcheck.core.model import SIDES, Review, Side
from formcheck.core.rep_sides import count_by_side
from formcheck.statistics.detectable_change import Z95, compute_mean_error
from formcheck.statistics.rank_trend import kendall_s
from formcheck.statistics.rep_series import ASPECTS, Series, list_series, list_series_by_side
from formcheck.statistics.results import Call, Trend

FEWEST_SETS = 3
ALPHA = 0.05
UNEXPLAINED = 0.01
"""Chance below which the means' scatter about the line is more than their errors."""
DIFFERENCES = tuple(name for aspect, candidates in ASPECTS if aspect == "asymmetry" for name, _ in candidates)
"""Left less right, the most exact first."""
_OF_ONE_ARM: Mapping[str, str] = {"arm_line_difference": "arm_line_raise_peak", "arm_peak_difference": "arm_raise_peak"}
"""A difference, and the measure of each arm that it is the difference of."""
_RANGES = tuple(name for aspect, candidates in ASPECTS if aspect == "range" for name, _ in candidates)


@dataclass(frozen=True)
class SideDifference:
    """Left less right in one set, or in two of one session that are each of one arm."""

    series: Series
    """A measure it is read from."""
    value: float
    error: float
    """Standard error, beside that of another day."""


def find_other_arm(reviews: Sequence[Review], number: int) -> Review | None:
    """The session's set of the other arm alone that belongs to the set of this number, from 1, of one arm alone.

    The first set of the left alone belongs to the first of the right alone, and so on; None where there is none, or
    both arms work in the set.
    """
    if not 1 <= number <= len(reviews):
        return None
    arms = [_get_only_arm(review) for review in reviews]
    arm = arms[number - 1]
    if arm is None:
        return None
    others = [review for review, one in zip(reviews, arms, strict=True) if one not in (None, arm)]
    place = arms[: number - 1].count(arm)
    return others[place] if place < len(others) else None


def _get_only_arm(review: Review) -> Side | None:
    counts = count_by_side(review.reps)
    both = any(rep.side is None for rep in review.reps)
    return next(iter(counts)) if len(counts) == 1 and not both else None


def find_side_trend(reviews: Sequence[Review], other_arms: Sequence[Review | None] = ()) -> Trend | None:
    """The trend of left against right over sets in order of time; None where fewer than three tell it.

    One measure speaks, the most exact that enough sets have; where the arms work one after the other also how far each
    goes. Where the means scatter about the line by more than their errors explain, the margin grows by as much (Birge
    1932, Phys Rev 40:207; from memory).

    Parameters
    ----------
    other_arms : for each set of one arm alone the session's set of the other (`find_other_arm`).
    """
    beside = other_arms or [None] * len(reviews)
    for measure in (*DIFFERENCES, *_RANGES):
        rows = [
            (number, item)
            for number, (review, other) in enumerate(zip(reviews, beside, strict=True), start=1)
            if (item := _find_difference(measure, review, other)) is not None
        ]
        if len(rows) >= FEWEST_SETS:
            return _fit_trend(rows)
    return None


def _find_difference(measure: str, review: Review, other: Review | None) -> SideDifference | None:
    """By the measure's own values, or where one arm works at a time by those of each arm."""
    own = next((item for item in list_series(review) if item.measure == measure), None)
    if measure in DIFFERENCES and own is not None:
        return SideDifference(own, float(own.values.mean()), compute_set_error(own))
    if not count_by_side(review.reps):
        return None
    wanted = _OF_ONE_ARM.get(measure, measure)
    found = [item for one in filter(None, (review, other)) for item in list_series_by_side(one)]
    by_side = {item.side: item for item in found if item.measure == wanted}
    left, right = (by_side.get(side) for side in SIDES)
    if left is None or right is None:
        return None
    error = hypot(compute_set_error(left), compute_set_error(right))
    item = replace(left, measure=measure, side=None)
    return SideDifference(item, float(left.values.mean() - right.values.mean()), error)


def _fit_trend(rows: Sequence[tuple[int, SideDifference]]) -> Trend:
    from scipy.special import chdtri, ndtr

    item, count = rows[0][1].series, len(rows)
    x = np.array([number for number, _ in rows], dtype=float)
    y = np.array([one.value for _, one in rows])
    weight = np.array([1 / one.error**2 for _, one in rows])
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
        of_sides=True,
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
