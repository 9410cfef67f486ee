"""Onsets of a course beside what findings say: small invented ones, each written out."""

from dataclasses import replace

import pytest

from formcheck.core.model import Finding, Message, Review
from formcheck.statistics.results import Aspect, Onset
from formcheck.statistics.set_trends import find_breakdown
from formcheck.statistics.told_changes import agree_with_findings, begin_together, get_aspect, list_told_changes
from tests.statistics.sets import a_set


def make_onset(aspect: Aspect, rep: int, *likely: int) -> Onset:
    chances = tuple((number, 1 / len(likely)) for number in likely)
    levels = (85.0, 70.0, -15.0, 4.0, 3.0, 0.001)
    words = f"Range of motion fell by 15°, from 85° before rep {rep} to 70° in the last."
    return Onset(aspect, "range_of_motion", "deg", rep, likely, chances, False, *levels, True, "changed", words)


def make_set(measure: str, from_rep: int) -> Review:
    """A set of 10 reps with one finding of what became worse than in the first ones."""
    message = Message("changed", {"from_rep": from_rep, "word": "lower"})
    finding = Finding("height", "not_met", (from_rep, 10), measure, 12.0, 10.0, 1.0, "Invented.", "common practice")
    finding = replace(finding, text_coded=message, kind="change", margin=4.0, probability=0.99)
    return replace(a_set(10), findings=(finding,))


@pytest.mark.parametrize(("told", "begins"), [(6, 6), (5, 5), (4, 4), (9, 5)])
def test_an_aspect_begins_no_later_than_a_finding_says_and_there_where_both_are_near(told: int, begins: int) -> None:
    onsets = (make_onset("range", 5, 5, 6),)
    (agreed,) = agree_with_findings(onsets, list_told_changes(make_set("arm_flexion_peak", told)), ())
    assert agreed.rep == begins
    assert begins in agreed.likely
    assert f"before rep {begins} " in agreed.sentence


def test_what_a_finding_alone_tells_is_an_onset() -> None:
    (agreed,) = agree_with_findings((), list_told_changes(make_set("knee_flexion_max", 7)), ())
    assert (agreed.aspect, agreed.rep, agreed.worse) == ("posture", 7, True)
    breakdown = find_breakdown((agreed,))
    assert breakdown is not None
    assert breakdown.rep == 7
    assert "posture" in breakdown.sentence


def test_a_finding_of_single_reps_tells_no_onset() -> None:
    assert list_told_changes(make_set("knee_flexion_max", 0)) == []


def test_aspects_that_began_together_name_one_rep() -> None:
    onsets = (make_onset("range", 6, 5, 6), make_onset("speed", 5, 4, 5, 6), make_onset("torso", 9, 9))
    breakdown = find_breakdown(onsets)
    assert breakdown is not None
    together = begin_together(onsets, breakdown.first, breakdown.rep)
    assert {item.rep for item in together if item.aspect != "torso"} == {breakdown.rep}
    assert [item.rep for item in together if item.aspect == "torso"] == [9]


def test_measures_of_checks_tell_of_their_aspect() -> None:
    told = {"torso_inclination_mean": "torso", "arm_line_raise_peak": "range", "arm_line_difference": "asymmetry"}
    told |= {"eccentric_time": "lowering", "knee_flexion_max": "posture", "elbow_flexion_range": "range"}
    assert {name: get_aspect(name) for name in told} == told
