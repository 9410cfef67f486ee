"""Left against right over sessions: against numpy's weighted fit, and how often chance is taken for a trend."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from formcheck.coaching.advice import TrainedSession, TrainedSet
from formcheck.coaching.progress import compute_progress
from formcheck.core.model import Measure, Review, Side
from formcheck.statistics.detectable_change import Z95
from formcheck.statistics.rep_series import list_series, list_series_by_side
from formcheck.statistics.set_trends import find_session_trends
from formcheck.statistics.side_trend import compute_set_error, find_other_arm, find_side_trend
from tests.statistics.sets import a_set, in_turn

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


def make_one_arm_sets(
    difference: float, *, measure: str = "arm_line_raise_peak", in_turn_: bool = False
) -> list[Review]:
    """A set of the left alone and one of the right alone, or one set of both in turn; the left is so much higher."""
    values: dict[Side | None, float] = {"left": 85.0 + difference, "right": 85.0}
    if in_turn_:
        whole = in_turn("LR" * REPS)
        rows = tuple(Measure(measure, rep.side, rep.number, values[rep.side], 2.7, "deg") for rep in whole.reps)
        return [replace(whole, measures=rows)]
    found = []
    arms: tuple[tuple[str, Side], ...] = (("L", "left"), ("R", "right"))
    for arm, side in arms:
        rows = tuple(Measure(measure, side, rep, values[side], 2.7, "deg") for rep in range(1, REPS + 1))
        found.append(replace(in_turn(arm * REPS), measures=rows))
    return found


def test_sets_of_the_left_alone_belong_to_those_of_the_right_in_their_order() -> None:
    left, right = make_one_arm_sets(0.0)
    other = replace(right, clip=replace(right.clip, name="second"))
    day = [left, right, a_set(5), left, other]
    assert [find_other_arm(day, number) for number in (1, 2, 4, 5)] == [right, left, other, left]
    assert find_other_arm(day, 3) is None  # both at once
    assert find_other_arm(day, 6) is None
    assert find_other_arm([left, left, right], 2) is None
    assert find_other_arm(make_one_arm_sets(0.0, in_turn_=True), 1) is None


@pytest.mark.parametrize("measure", ["arm_line_raise_peak", "range_of_motion"])
@pytest.mark.parametrize("in_one_clip", [True, False])
def test_left_and_right_sets_of_a_session_tell_the_trend_as_one_set_of_both_does(
    measure: str, in_one_clip: bool
) -> None:
    days = [make_one_arm_sets(value, measure=measure, in_turn_=in_one_clip) for value in (2.0, 0.0, -4.0, -8.0)]
    others = [find_other_arm(day, 1) for day in days]
    (trend,) = (item for item in find_session_trends([day[0] for day in days], others) if item.of_sides)
    assert trend.call == "changed"
    # A straight line through 2, 0, -4, -8 falls by 3.4 a session.
    assert trend.change == pytest.approx(3 * -3.4)
    assert trend.sentence.startswith("Left against right: from right ")
    # Errors of two separate means add up, as nothing they share cancels.
    one = list_series_by_side(days[0][0])[0]
    assert trend.detectable == pytest.approx(Z95 * 3 * np.sqrt(2) * compute_set_error(one) / np.sqrt(5), rel=1e-6)


def test_one_arm_alone_tells_no_trend_of_sides() -> None:
    left = [make_one_arm_sets(value)[0] for value in (2.0, 0.0, -4.0, -8.0)]
    assert find_side_trend(left) is None
    assert not any(item.of_sides for item in find_session_trends(left, [None] * 4))


def test_progress_joins_the_sets_of_a_day_that_are_each_of_one_arm() -> None:
    sessions = [
        TrainedSession(date(2026, 3, day), tuple(TrainedSet(one, None) for one in make_one_arm_sets(value)), None)
        for day, value in ((2, 2.0), (9, 0.0), (16, -4.0), (23, -8.0))
    ]
    for number in (1, 2):
        found = compute_progress(sessions, set_number=number)
        assert "Left against right: from right 2" in found.sentence
