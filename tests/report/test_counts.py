"""The same count everywhere: sentence, headings, store."""

import re

import pytest

from formcheck.exercises.registry import get_exercise
from formcheck.report import summary, wording
from formcheck.verdicts import count_points
from tests.shelf import review


@pytest.mark.parametrize(("exercise", "yaw"), [("squat", 0.0), ("machine-reverse-fly", 180.0), ("hip-hinge", 0.0)])
def test_headings_and_sentence_name_the_same_number_of_points(exercise: str, yaw: float) -> None:
    found = review(exercise, yaw=yaw)
    groups = summary.group_findings(found, get_exercise(exercise))
    counts = count_points(found)
    assert {verdict: sum(item.points for item in items) for verdict, items in groups.items()} == counts
    # Several points with one reason are told in one place, and still counted one by one.
    assert len(groups["undecided"]) < counts["undecided"]
    said = wording.summarise(found)
    assert re.search(rf"\b{counts['undecided']} could not be judged", said)
    assert re.search(rf"\b{counts['met']} points? going well", said)
    assert sum(counts.values()) == len({item.check for item in found.findings})
