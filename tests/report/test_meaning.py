"""What a number is told to be, for every name there is."""

from dataclasses import replace

import pytest

from formcheck.core.model import CameraView, SecondCamera
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.report import explanations
from tests.web.synthetic import synthetic_analysis

REVIEW = synthetic_analysis().review


@pytest.mark.parametrize("name", MEASURES)
def test_every_measure_says_what_it_is_and_what_its_margin_means(name: str) -> None:
    text = explanations.explain_measure(name, REVIEW)
    assert text.startswith(MEASURES[name].meaning)
    assert "filmed from the front" in text
    assert "95 of 100" in text


@pytest.mark.parametrize("name", SIGNALS)
def test_every_curve_says_what_it_shows(name: str) -> None:
    assert "picture by picture" in explanations.explain_signal(name, REVIEW)


def test_unknown_names_of_older_reviews_are_left_unexplained() -> None:
    assert (
        explanations.explain_measure("no_such_measure", REVIEW)
        == explanations.explain_signal("no_such_signal", REVIEW)
        == ""
    )


def test_of_two_cameras_the_one_it_was_read_from_is_named() -> None:
    second = SecondCamera(
        REVIEW.clip, CameraView("left", 90.0, 8.0, "estimated"), REVIEW.quality, 0.4, 0.1, 0.9, "movement", "first"
    )
    measures = tuple(
        replace(item, camera={"eccentric_time": "second", "range_share": "both"}.get(item.name, "first"))
        for item in REVIEW.measures
    )
    pair = replace(REVIEW, second=second, measures=measures)
    assert "second camera" not in explanations.explain_measure("arm_elevation_peak", pair)
    assert "from the lifter's left by the second camera" in explanations.explain_measure("eccentric_time", pair)
    both = explanations.explain_measure("range_share", pair)
    assert "from the front" in both
    assert "second camera" in both


def test_the_margin_of_a_curve_is_that_of_the_numbers_read_from_it() -> None:
    # The synthetic set states 3.6 degrees for its highest line of the arm, and nothing for the elbow.
    assert explanations.find_signal_margin("arm_line_raise", REVIEW) == pytest.approx(3.6)
    assert explanations.find_signal_margin("elbow_flexion", REVIEW) is None
    assert explanations.find_signal_margin("no_such_signal", REVIEW) is None
