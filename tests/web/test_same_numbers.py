"""One review, one order and one angle: cards, ribbon, digits and player."""

import re

import pytest

from formcheck.core.model import Analysis
from formcheck.core.vocabulary import SIGNALS
from formcheck.exercises.registry import get_exercise
from formcheck.report import summary, wording
from formcheck.report.body_marks import make_trend_marks
from formcheck.report.cue_trend import make_cue_trend, make_point_trend
from formcheck.web.components.player import find_lift_curve, pack_marks
from formcheck.web.components.rep_cards import make_rep_cards, render_rep_strip
from formcheck.web.markup import render
from tests.web.synthetic import synthetic_analysis, synthetic_recording

LIFT_FIRST = get_exercise("lateral-raise")


@pytest.fixture(scope="module")
def analysis() -> Analysis:
    return synthetic_analysis()


def test_the_ribbon_runs_as_the_rep_does(analysis: Analysis) -> None:
    """As under the film; only the digits of the table have the trade's order, which is said beside them."""
    for first, order in (
        ("concentric", ["lift", "top", "lower", "bottom"]),
        ("eccentric", ["lower", "bottom", "lift", "top"]),
    ):
        cards = make_rep_cards(analysis.review, None, first, {})
        drawn = re.findall(r'<i class="fc-phase-(\w+)"', render_rep_strip(cards[:1], {}, "", {}, None))
        assert drawn == order
    rows = summary.make_rep_rows(analysis.review, ["arm_line_raise_peak"])
    assert rows[0].tempo == "2.0-0.5-1.2-0.4"
    assert "·" in rows[-1].tempo  # the pause after the last rep leads to nothing
    said = wording.TEMPO_ORDER.lower()
    assert said.index("lowering") < said.index("lifting")


def test_card_chart_and_drawing_show_the_same_number(analysis: Analysis) -> None:
    trend = make_cue_trend(analysis.review, LIFT_FIRST, None)
    assert trend is not None
    marks = {mark.rep: mark for mark in make_trend_marks(analysis, synthetic_recording(analysis), trend)}
    for card in make_rep_cards(analysis.review, trend, "concentric", {}):
        number = card.rep.number
        measured = analysis.review.measure(trend.check.measure, rep=number, side="right")
        assert measured is not None
        assert f"{card.number}\u00a0{card.off}" == wording.format_measure(measured)
        point = trend.find(number)
        assert point is not None
        assert point.value == measured.value
        assert marks[number].text.startswith(card.number.removesuffix("°"))
        assert (marks[number].grade, card.note) == (card.grade, "right")


def test_the_lower_arm_is_named_beside_a_difference(analysis: Analysis) -> None:
    trend = make_point_trend(analysis.review, LIFT_FIRST, "even-sides")
    cards = make_rep_cards(analysis.review, trend, "concentric", {1: 2.0})
    assert {card.note for card in cards} == {"right lower"}
    assert [card.at_s for card in cards[:2]] == [2.0, analysis.review.reps[1].top_s]


def test_card_and_player_show_the_same_angle_and_its_name(analysis: Analysis) -> None:
    (measure,) = summary.choose_main_columns(analysis.review, LIFT_FIRST)[:1]
    assert measure == "arm_line_raise_peak"
    curve = find_lift_curve(analysis, measure)
    assert curve is not None
    assert curve["name"] == "Arm elevation"
    for rep in analysis.review.reps:
        for line in curve["lines"]:
            begin, end = (round((at - curve["start"]) / curve["step"]) for at in (rep.start_s, rep.end_s))
            shown = analysis.review.measure(measure, rep=rep.number, side=line["side"])
            assert shown is not None
            assert shown.value is not None
            assert max(line["values"][begin : end + 1]) == pytest.approx(shown.value, abs=0.6)


def test_a_number_that_is_no_angles_end_leaves_the_curve_of_the_reps(analysis: Analysis) -> None:
    for measure in ("torso_inclination_range", "range_share", None):
        curve = find_lift_curve(analysis, measure)
        assert curve is not None
        assert curve["name"] == wording.capitalise(SIGNALS[analysis.driver_name].plain)


def test_the_groups_hold_as_many_points_as_the_summary_says(analysis: Analysis) -> None:
    """The headings of the page count what its first sentence counts; what no camera shows is counted in neither."""
    counts = wording.count_grades(analysis.review)
    groups = summary.group_findings(analysis.review, LIFT_FIRST)
    for grade, items in groups.items():
        if grade != "unseen":
            assert sum(item.points for item in items) == counts[grade]
    untold = len(summary.list_untold(analysis.review, LIFT_FIRST))
    assert sum(item.points for item in groups["unseen"]) == counts["unseen"] + untold
    text = render("review", "unseen", counts["unseen"], "film a set from the side", groups["unseen"], [])
    assert f"<small>{counts['unseen']}: film a set from the side</small>" in text


def test_what_the_player_draws_is_what_the_stills_draw(analysis: Analysis) -> None:
    recording = synthetic_recording(analysis)
    trend = make_cue_trend(analysis.review, LIFT_FIRST, None)
    assert trend is not None
    marks = make_trend_marks(analysis, recording, trend)
    packed = pack_marks(marks, recording)[trend.check.id]
    for mark, shown in zip(marks, packed, strict=True):
        assert (shown["rep"], shown["at"], shown["grade"], shown["text"]) == (
            mark.rep,
            mark.at_s,
            mark.grade,
            mark.text,
        )
        drawing = mark.draw_at(recording, mark.at_s)
        assert drawing is not None
        _, strokes, label = min(shown["frames"], key=lambda frame: abs(frame[0] - mark.at_s))
        assert [role for role, _ in strokes] == [item.role for item in drawing.strokes]
        flat = [value for item in drawing.strokes for point in item.points for value in point]
        assert [value for _, points in strokes for value in points] == pytest.approx(flat, abs=0.51)
        assert label == pytest.approx(drawing.label, abs=0.51)
        assert shown["from"] < mark.at_s < shown["to"]
