"""Charts as pure functions: what is drawn, where, and that it is told apart without colour."""

import math

import numpy as np
import pytest

from formcheck.core.model import Analysis
from formcheck.report.phases import list_phases
from formcheck.web.charts.angle_curves import draw_curve, draw_rep_measures
from formcheck.web.charts.palette import DARK, LIGHT, Palette
from tests.web.synthetic import DOWN, HOLD, PEAKS, START, UP, synthetic_analysis, without_reps


@pytest.fixture
def analysis() -> Analysis:
    return synthetic_analysis()


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio (WCAG 2.2, definition of contrast ratio)."""
    high, low = sorted((luminance(first), luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_formula() -> None:
    # WCAG 2.2: black on white is 21:1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize(("palette", "ground"), [(LIGHT, "#f6f8f9"), (DARK, "#0f1518")])
def test_lines_and_words_stand_out_from_the_ground_and_from_every_shade(palette: Palette, ground: str) -> None:
    # WCAG 2.2, 1.4.11 (graphics: 3:1) and 1.4.3 (text: 4.5:1).
    for line in (palette.left, palette.right, palette.both):
        assert all(contrast(line, behind) >= 3.0 for behind in (ground, *palette.phases.values()))
    assert contrast(palette.muted, ground) >= 4.5
    assert contrast(palette.text, ground) >= 4.5


def test_phases_are_shaded_where_they_are(analysis: Analysis) -> None:
    figure = draw_curve(analysis, "arm_elevation")
    spans = [(shape.name, shape.x0, shape.x1) for shape in figure.layout.shapes]
    first_rep = [("lifting", START, START + UP), ("pause at the top", START + UP, START + UP + HOLD)]
    first_rep.append(("lowering", START + UP + HOLD, START + UP + HOLD + DOWN))
    assert len(spans) == 3 * len(PEAKS)
    for found, wanted in zip(spans, first_rep, strict=False):
        assert found[0] == wanted[0]
        assert found[1:] == pytest.approx(wanted[1:])
    assert [note.text for note in figure.layout.annotations] == [str(rep.number) for rep in analysis.review.reps]


def test_left_and_right_differ_by_dash_as_well(analysis: Analysis) -> None:
    figure = draw_curve(analysis, "arm_elevation")
    assert [trace.name for trace in figure.data] == ["left", "right"]
    assert len({trace.line.dash for trace in figure.data}) == 2


def test_a_curve_peaks_where_the_movement_does(analysis: Analysis) -> None:
    trace = draw_curve(analysis, "arm_elevation").data[0]
    assert max(trace.y) == pytest.approx(max(PEAKS), abs=0.1)
    # The curve is rounded to 0.1°, so its largest value may come a frame or two early.
    assert START + UP - 0.1 <= trace.x[int(np.argmax(trace.y))] <= START + UP + HOLD


def test_a_gap_stays_a_gap(analysis: Analysis) -> None:
    trace = draw_curve(analysis, "elbow_flexion").data[0]
    assert any(math.isnan(value) for value in trace.y)
    assert trace.connectgaps is False


def test_jitter_does_not_fill_the_axis(analysis: Analysis) -> None:
    low, high = draw_curve(analysis, "torso_inclination").layout.yaxis.range
    assert high - low >= 30
    assert low >= 0


def test_dark_and_light_differ(analysis: Analysis) -> None:
    light, dark = (draw_curve(analysis, "arm_elevation", dark=dark) for dark in (False, True))
    assert light.data[0].line.color != dark.data[0].line.color


def test_a_clip_without_reps_or_without_the_signal_can_be_drawn(analysis: Analysis) -> None:
    assert not draw_curve(without_reps(analysis), "arm_elevation").layout.shapes
    assert not draw_curve(analysis, "knee_flexion").data


def test_each_rep_has_its_margin_as_a_bar(analysis: Analysis) -> None:
    figure = draw_rep_measures(analysis.review, "arm_line_raise_peak", limits=[("88° or more", 88.0)])
    assert figure is not None
    assert list(figure.data[0].y) == list(PEAKS)
    assert set(figure.data[0].error_y.array) == {3.6}
    assert {trace.marker.symbol for trace in figure.data} == {"circle", "square"}
    assert figure.layout.shapes[0].y0 == 88.0


def test_the_axis_of_a_measure_has_its_unit(analysis: Analysis) -> None:
    angle, share, time = (
        draw_rep_measures(analysis.review, name) for name in ("arm_line_raise_peak", "range_share", "eccentric_time")
    )
    assert angle is not None
    assert share is not None
    assert time is not None
    assert [figure.layout.yaxis.ticksuffix for figure in (angle, share, time)] == ["°", "", " s"]
    assert share.layout.yaxis.tickformat == ".0%"


def test_a_measure_without_values_has_no_figure(analysis: Analysis) -> None:
    assert draw_rep_measures(analysis.review, "torso_inclination_range") is None


def test_an_exercise_that_begins_with_lowering_has_its_phases_in_that_order(analysis: Analysis) -> None:
    rep = analysis.review.reps[0]
    assert [span.name for span in list_phases(rep, "eccentric")] == ["lower", "bottom", "lift", "top"]
    assert list_phases(rep, "eccentric")[0].start_s == rep.start_s
