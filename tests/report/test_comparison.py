"""The report on two sets, or on the early and late reps of one: what it says, and that nothing leaves its place."""

import re
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from formcheck.core.model import Review
from formcheck.report.sparklines import draw_reps
from formcheck.report.training_report import render_comparison
from formcheck.statistics.comparison import compare_early_with_late, compare_sets
from formcheck.statistics.set_trends import analyse_set
from tests.report.test_html import Reader

BENCHMARKS = str(Path(__file__).parent.parent.parent / "tools" / "benchmarks")
HOSTILE = "<script>alert(1)</script>.mp4"


@pytest.fixture(scope="module")
def sets() -> tuple[Review, Review]:
    """Ten even reps, and ten that lose half of their range from the third on, by the same camera."""
    sys.path.append(BENCHMARKS)
    try:
        from simulated_sets import draw_common, invented_set
    finally:
        sys.path.remove(BENCHMARKS)
    rng = np.random.default_rng(11)
    common = draw_common(rng)
    lost = {"range_of_motion": np.where(np.arange(10) < 2, 0.0, -40.0)}
    first, second = invented_set(rng, 10, common=common), invented_set(rng, 10, course=lost, common=common)
    return first, replace(second, clip=replace(second.clip, name=HOSTILE))


def test_two_sets_are_told_with_change_margin_and_the_course_of_each(sets: tuple[Review, Review]) -> None:
    found = compare_sets(*sets, labels=("set 1", "set 4"), same_session=True)
    page = render_comparison(sets, ("set 1", "set 4"), found, [analyse_set(item) for item in sets])
    reader = Reader()
    reader.feed(page)
    assert reader.wrong == []
    text = " ".join(" ".join(reader.text).split())
    assert found.sentence in text
    assert re.search(r"Range of motion \d+° \d+° −\d+° ± \d+° \S+° Changed", text)
    assert analyse_set(sets[1]).sentence in text
    assert "Advisory only" in text
    assert HOSTILE not in page
    assert HOSTILE in text
    assert not [tag for tag, _ in reader.tags if tag in ("script", "link", "img")]


def test_early_and_late_reps_of_one_set(sets: tuple[Review, Review]) -> None:
    page = render_comparison(sets[1:], ("review 7",), compare_early_with_late(sets[1]), [analyse_set(sets[1])])
    assert "early reps and late reps" in page
    assert "Form broke down from rep 3" in page


def test_a_course_of_reps_is_drawn_to_scale() -> None:
    """Marks lie where the values say: equal steps, equal heights; a closed form, not our output."""
    svg = draw_reps([[(1, 10.0, 1.0, "10°"), (2, 20.0, 1.0, "20°"), (3, 30.0, 1.0, "30°")]], ["<a>"], str)
    marks = [(float(c.get("cx", "")), float(c.get("cy", ""))) for c in ElementTree.fromstring(svg).iter("circle")]
    (x1, y1), (x2, y2), (x3, y3) = marks
    assert x2 - x1 == pytest.approx(x3 - x2, abs=0.11)
    assert y1 - y2 == pytest.approx(y2 - y3, abs=0.11)
    assert y1 > y3  # more is higher up


def test_noise_of_measuring_is_not_drawn_as_a_change() -> None:
    """Values that differ by a tenth of their margin stay within a twentieth of the drawing's height."""
    svg = draw_reps([[(1, 90.0, 5.0, ""), (2, 90.5, 5.0, "")]], ["a"], str)
    heights = [float(c.get("cy", "")) for c in ElementTree.fromstring(svg).iter("circle")]
    assert 0 < abs(heights[0] - heights[1]) < 240 / 20
