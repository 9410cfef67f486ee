"""Left against right over sessions: against numpy's weighted fit, and how often chance is taken for a trend."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.model import Measure, Review
from formcheck.statistics.detectable_change import Z95
from formcheck.statistics.rep_series import list_series
from formcheck.statistics.set_trends import find_session_trends
from formcheck.statistics.side_trend import compute_set_error, find_side_trend
from tests.statistics.sets import a_set

REPS = 8


def make_set(difference: float, margin: float = 2.7, *, wobble: float = 0.3) -> Review:
    """A set whose reps' left-less-right lies around a difference, by a wobble to and fro."""
    values = [difference + wobble * (-1) ** rep for rep in range(REPS)]
    rows = [Measure("arm_line_difference", None, rep, one, margin, "deg") for rep, one in enumerate(values, start=1)]
    return replace(a_set(REPS), measures=tuple(rows))


def make_sets(differences: Sequence[float], margin: float = 2.7) -> list[Review]:
    return [make_set(difference, margin) for difference in differences]


def test_the_line_is_that_of_a_weighted_fit() -> None:
    reviews = [make_set(value, margin) for value, margin in ((1.0, 2.7), (-0.6, 4.0), (-3.0, 2.7), (-4.7, 3.1))]
    trend = find_side_trend(reviews)
    assert trend is not None
    errors = [compute_set_error(next(iter(list_series(review)))) for review in reviews]
    fit, cov = np.polyfit([1, 2, 3, 4], [1.0, -0.6, -3.0, -4.7], 1, w=1 / np.array(errors), cov="unscaled")
    assert trend.slope == pytest.approx(fit[0])
    assert trend.slope_high - trend.slope_low == pytest.approx(2 * Z95 * np.sqrt(cov[0, 0]))  # type: ignore[operator]
    assert trend.change == pytest.approx(3 * fit[0])


def test_six_degrees_over_four_sessions_are_told_with_the_arm_that_got_lower() -> None:
    trend = find_side_trend(make_sets((1.0, -1.0, -3.0, -5.0)))
    assert trend is not None
    assert trend.call == "changed"
    assert trend.sentence.startswith("Left against right: from right 1.0° lower to left 5° lower over 4 sets")


def test_what_stays_or_moves_by_less_than_its_margin_is_no_trend() -> None:
    for differences in ((1.0, 1.0, 1.0, 1.0), (1.0, 0.5, 0.0, -0.5)):
        trend = find_side_trend(make_sets(differences))
        assert trend is not None
        assert trend.call == "no_detectable_change"
    assert find_side_trend(make_sets((1.0, -5.0))) is None


def test_sets_that_scatter_beyond_their_errors_widen_the_margin() -> None:
    steady, wild = (find_side_trend(make_sets(values)) for values in ((0.0, 2.0, 4.0, 6.0), (0.0, 12.0, -6.0, 6.0)))
    assert steady is not None
    assert wild is not None
    assert (steady.detectable or 0) < 5 < 10 < (wild.detectable or 0)
    assert wild.call == "no_detectable_change"


def test_a_course_tells_left_against_right_once_and_from_three_sets_on() -> None:
    trends = [item for item in find_session_trends(make_sets((3.0, 0.0, -3.0))) if "difference" in item.measure]
    assert [item.call for item in trends] == ["changed"]
    few = find_session_trends(make_sets((3.0, -3.0)))
    assert [item.call for item in few] == ["too_few_reps"]
