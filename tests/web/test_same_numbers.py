"""One review, one order and one angle: cards, ribbon, digits and player."""

import re

import pytest

from formcheck.core.model import Analysis
from formcheck.core.vocabulary import SIGNALS
from formcheck.exercises.registry import get_exercise
from formcheck.report import summary, wording
from formcheck.web.components import review_html
from formcheck.web.components.player import find_lift_curve
from tests.web.synthetic import synthetic_analysis

LIFT_FIRST = get_exercise("lateral-raise")


@pytest.fixture(scope="module")
def analysis() -> Analysis:
    return synthetic_analysis()


def test_the_ribbon_has_the_order_of_the_digits(analysis: Analysis) -> None:
    """Trade's order of four digits: lowering, pause stretched, lifting, pause shortened (common practice)."""
    rows = summary.make_rep_rows(analysis.review, ["arm_line_raise_peak"])
    for row in rows[:-1]:
        parts = review_html.split_tempo(row)
        assert [name for name, _ in parts] == ["lower", "bottom", "lift", "top"]
        assert "-".join(f"{seconds:.1f}" for _, seconds in parts) == row.tempo
    # The pause after the last rep leads to nothing: neither digit nor ribbon shows it.
    assert "·" in rows[-1].tempo
    assert [name for name, _ in review_html.split_tempo(rows[-1])] == ["lower", "lift", "top"]
    drawn = re.findall(r'<i class="fc-phase-(\w+)"', review_html.render_rep_strip(rows[:1], {}, {}))
    assert drawn == ["lower", "bottom", "lift", "top"]
    said = wording.TEMPO_ORDER.lower()
    assert said.index("lowering") < said.index("lifting")


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
