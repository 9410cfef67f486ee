"""The range over sessions in the report: which arm a line is of is told by mark, dashes and a word, without colour."""

import re
from datetime import date, timedelta
from xml.etree import ElementTree

import pytest

from formcheck.coaching.advice import TrainedSession, TrainedSet
from formcheck.coaching.progress import compute_progress
from formcheck.report.sparklines import NAME_HEIGHT, WIDTH, draw_days
from formcheck.report.training_report import render_progress
from tests.statistics.sets import a_set
from tests.statistics.test_side_trend import make_one_arm_sets

FIRST = date(2026, 3, 2)


def draw_range(differences: tuple[float, ...], *, in_one_clip: bool) -> ElementTree.Element:
    """The drawing of the range in the report over sessions in which the left goes so much farther than the right."""
    sessions = [
        TrainedSession(
            FIRST + timedelta(weeks=week),
            tuple(
                TrainedSet(review, None)
                for review in make_one_arm_sets(difference, measure="range_of_motion", in_turn_=in_one_clip)
            ),
            None,
        )
        for week, difference in enumerate(differences)
    ]
    return find_range(render_progress(compute_progress(sessions), "Ilse", sessions))


def find_range(page: str) -> ElementTree.Element:
    found = re.search(r"Range of motion, degrees</h3>(<svg.*?</svg>)", page, re.DOTALL)
    assert found is not None
    return ElementTree.fromstring(found[1])


@pytest.mark.parametrize("in_one_clip", [True, False])
def test_each_arm_has_a_line_of_its_own_that_needs_no_colour(in_one_clip: bool) -> None:
    drawing = draw_range((6.0, 2.0, -4.0), in_one_clip=in_one_clip)
    assert (
        drawing.get("aria-label") == "left: 2 Mar 91°, 9 Mar 87°, 16 Mar 81°; right: 2 Mar 85°, 9 Mar 85°, 16 Mar 85°"
    )
    left, right = drawing.findall("polyline")
    assert left.get("stroke-dasharray") is None
    assert right.get("stroke-dasharray") is not None
    assert [mark.findtext("title") for mark in drawing.findall("circle")][-1] == "16 Mar, left: 81°"
    assert [mark.findtext("title") for mark in drawing.findall("rect")] == [
        "2 Mar, right: 85°", "9 Mar, right: 85°", "16 Mar, right: 85°",
    ]  # fmt: skip
    names = {item.text: item for item in drawing.findall("text") if item.text in ("left", "right")}
    assert set(names) == {"left", "right"}
    heights = {name: float(item.get("y", "nan")) for name, item in names.items()}
    # The left ends lower, and lower in a picture is a larger y.
    assert heights["left"] - heights["right"] >= NAME_HEIGHT
    # A word of five letters at 13 px is below 45 px wide.
    assert all(float(item.get("x", "nan")) + 45 <= WIDTH for item in names.values())


def test_names_of_arms_that_end_alike_do_not_cover_each_other() -> None:
    drawing = draw_range((0.0, 0.0), in_one_clip=True)
    heights = [float(item.get("y", "nan")) for item in drawing.findall("text") if item.text in ("left", "right")]
    assert abs(heights[0] - heights[1]) >= NAME_HEIGHT - 0.1


def test_sets_of_both_arms_have_one_line_without_a_name() -> None:
    sessions = [TrainedSession(FIRST + timedelta(weeks=week), (TrainedSet(a_set(6), None),), None) for week in range(2)]
    drawing = find_range(render_progress(compute_progress(sessions), "Ilse", sessions))
    assert len(drawing.findall("polyline")) == 1
    assert not drawing.findall("rect")
    assert not {item.text for item in drawing.findall("text")} & {"left", "right"}


def test_nothing_measured_is_not_drawn() -> None:
    assert draw_days({"left": [("2 Mar", None, 0.0)]}, "°") == ""
