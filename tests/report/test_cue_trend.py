"""The cue's measure from rep to rep, held against the measures of the review and the limits of the exercise's file."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from formcheck.core.model import Finding, Message, Point, Side
from formcheck.exercises.registry import get_exercise
from formcheck.report import wording
from formcheck.report.cue_trend import make_cue_trend
from formcheck.report.next_cue import choose_next_cue
from formcheck.report.trend_chart import draw_trend
from formcheck.web.charts.trend import draw_trend as draw_on_page
from tests.web.synthetic import PEAKS, synthetic_analysis, without_reps

RAISE = get_exercise("lateral-raise")
REVIEW = synthetic_analysis().review


def test_each_rep_is_told_by_its_worse_side_with_margin_and_target() -> None:
    trend = make_cue_trend(REVIEW, RAISE, choose_next_cue(REVIEW, RAISE))
    assert trend is not None
    assert trend.check.id == "height"
    # The right arm of the made-up set stays three degrees lower in every rep.
    assert [(item.rep, item.value, item.side) for item in trend.values] == [
        (number, peak - 3, "right") for number, peak in enumerate(PEAKS, 1)
    ]
    assert {item.margin for item in trend.values} == {3.6}
    assert trend.target == f"target: {trend.check.limit:.0f}° or more"
    # 68° ± 4° is 14° below 82°, more than three of its margins.
    assert trend.values[-1].grade == "not_met"
    assert trend.values[0].grade in ("met", "probably_met")
    assert trend.from_rep == 5
    assert "rep 5" in trend.caption


def test_a_change_is_held_against_the_first_three_reps() -> None:
    first, limit = sum(peak - 3 for peak in PEAKS[:3]) / 3, 8.0
    item = REVIEW.findings[0]
    told = Message("changed", {"word": "lower", "rep": 6, "side": "right"})
    change = replace(item, kind="change", value=20.0, limit=limit, text_coded=told, grade="not_met", margin=4.0)
    point = Point("height", "change", "not_met", "not_met", 0.99, (4, 5, 6), (5, 6))
    review = replace(REVIEW, findings=(change, *REVIEW.findings[1:]), points=(point,))
    trend = make_cue_trend(review, RAISE, choose_next_cue(review, RAISE))
    assert trend is not None
    assert trend.check.limit == round(first - limit)


def test_a_rep_short_of_the_target_is_not_written_as_one_that_meets_it() -> None:
    item, target = REVIEW.findings[0], round(sum(peak - 3 for peak in PEAKS[:3]) / 3 - 8.0)
    change = replace(item, kind="change", value=20.0, limit=8.0, grade="not_met", margin=4.0)
    measures = tuple(
        replace(found, value=target - 0.4) if (found.name, found.rep) == (change.measure, 5) else found
        for found in REVIEW.measures
    )
    point = Point("height", "change", "not_met", "not_met", 0.99, (5, 6), (5, 6))
    review = replace(REVIEW, findings=(change, *REVIEW.findings[1:]), points=(point,), measures=measures)
    trend = make_cue_trend(review, RAISE, choose_next_cue(review, RAISE))
    assert trend is not None
    assert trend.target.endswith(f"{target}° or more")
    near, far = trend.find(5), trend.find(6)
    assert near is not None
    assert far is not None
    assert near.text.startswith(f"{target - 0.4:.1f}°")  # one digit more than the margin of 4° asks for
    assert "." not in far.text
    assert wording.split_margin(near.text)[1] == wording.split_margin(far.text)[1]


def test_without_a_cue_the_first_point_that_was_judged_is_shown() -> None:
    good = tuple(replace(item, verdict="met", grade="met", value=92.0) for item in REVIEW.findings[:1])
    trend = make_cue_trend(replace(REVIEW, findings=good, points=()), RAISE, None)
    assert trend is not None
    assert (trend.check.id, trend.from_rep) == ("height", None)


@pytest.mark.parametrize("known", [True, False])
def test_there_is_none_without_reps_or_without_the_exercise(known: bool) -> None:
    review = without_reps(synthetic_analysis()).review if known else REVIEW
    assert make_cue_trend(review, RAISE if known else None, None) is None


def test_the_chart_is_well_formed_and_told_to_those_who_do_not_see_it() -> None:
    trend = make_cue_trend(REVIEW, RAISE, choose_next_cue(REVIEW, RAISE))
    assert trend is not None
    drawn = ElementTree.fromstring(draw_trend(trend, "wide"))
    label = drawn.attrib["aria-label"].replace("\u00a0", " ")
    assert "rep 6 68° ± 4°" in label
    assert "target: 82° or more" in label
    assert draw_trend(trend, "wide") == draw_trend(trend, "wide")
    assert draw_trend(trend, "paper").startswith('<img src="data:image/svg+xml;base64,')


def test_a_finding_without_a_number_gives_no_chart_of_it() -> None:
    unseen = Finding("height", "undecided", (), "arm_line_raise_peak", None, 82.0, None, "", "")
    review = replace(REVIEW, findings=(unseen,), measures=(), points=())
    assert make_cue_trend(review, RAISE, None) is None


def test_arms_in_turn_have_a_line_each_and_one_arm_or_both_have_one() -> None:
    trend = make_cue_trend(REVIEW, RAISE, choose_next_cue(REVIEW, RAISE))
    assert trend is not None
    sides: tuple[Side, ...] = ("left", "right")
    in_turn = replace(
        trend, values=tuple(replace(item, side=sides[index % 2]) for index, item in enumerate(trend.values))
    )
    assert [[item.rep for item in line] for line in in_turn.lines] == [[1, 3, 5], [2, 4, 6]]
    assert in_turn.axis == "rep (left and right in turn)"
    for same in (trend, replace(trend, values=tuple(replace(item, side="left") for item in trend.values))):
        assert [len(line) for line in same.lines] == [len(trend.values)]
        assert same.axis == "rep"


def test_the_rep_from_which_it_is_otherwise_is_named_in_both_charts() -> None:
    trend = make_cue_trend(REVIEW, RAISE, choose_next_cue(REVIEW, RAISE))
    assert trend is not None
    for rep, anchor in ((5, "right"), (2, "left")):
        turned = replace(trend, from_rep=rep)
        (named,) = draw_on_page(turned).layout.annotations
        # On the side that has more room, so that a narrow chart does not cut it off.
        assert (named.text, named.xanchor) == (f"from rep {rep}", anchor)
        assert f"from rep {rep}" in draw_trend(turned, "wide")
    none = replace(trend, from_rep=1)
    assert not draw_on_page(none).layout.annotations
    assert draw_on_page(none).layout.height < draw_on_page(trend).layout.height
