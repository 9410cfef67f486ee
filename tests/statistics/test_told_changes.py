"""Onsets of a course beside what findings say: small invented ones, each written out."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from formcheck.core.model import Finding, Measure, Message, Point, Review
from formcheck.statistics.results import Aspect, Onset
from formcheck.statistics.set_trends import find_breakdown, find_form_changes
from formcheck.statistics.told_changes import agree_with_findings, begin_together, get_aspect, list_told_changes
from tests.facts import says
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


def make_faulty_set(values: Sequence[float], *, limit: float, beyond: Sequence[int], measure: str) -> Review:
    """A set with one value a rep, at fault in these reps; the first finding of its check is that of reps within."""
    reps = tuple(range(1, len(values) + 1))
    rows = tuple(Measure(measure, None, rep, value, 4.0, "deg") for rep, value in zip(reps, values, strict=True))
    inside = tuple(rep for rep in reps if rep not in beyond)
    findings = [
        Finding("check", verdict, some, measure, values[some[0] - 1], limit, 1.0, "Invented.", "common practice")
        for verdict, some in (("met", inside), ("not_met", tuple(beyond)))
        if some
    ]
    point = Point("check", "level", "not_met", "not_met", 0.99, reps, tuple(beyond))
    return replace(a_set(len(values)), measures=rows, findings=tuple(findings), points=(point,))  # type: ignore[arg-type]


def test_what_a_set_is_at_fault_in_from_a_rep_on_is_an_onset_of_its_change() -> None:
    # From the second rep on: with one before it the search for an onset in the numbers alone has too little to go by.
    values = (5.0, 15.2, 14.8, 15.3, 14.7)
    review = make_faulty_set(values, limit=8.0, beyond=(2, 3, 4, 5), measure="torso_side_lean_range")
    assert find_form_changes(replace(review, points=())) == ()
    (onset,) = find_form_changes(review)
    assert (onset.aspect, onset.rep, onset.worse, onset.call) == ("torso", 2, True, "changed")
    assert (onset.before, onset.after) == (5.0, 15.0)
    assert says(onset.sentence, "10°", "from 5°", "before rep 2", "15°", "from there on")
    breakdown = find_breakdown((onset,))
    assert breakdown is not None
    assert breakdown.rep == 2


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ((7.5, 8.5, 9.0, 8.6, 9.2, 8.8), "less than measuring tells apart"),
        ((1.0, 22.0, 2.0, 30.0, 9.0, 28.0), "to and fro"),
        ((12.0, 12.1, 9.0, 9.1, 9.0, 9.0), "nearer to the limit than before"),
    ],
)
def test_a_fault_that_is_no_change_tells_no_onset(values: tuple[float, ...], why: str) -> None:
    review = make_faulty_set(values, limit=8.0, beyond=(3, 4, 5, 6), measure="torso_side_lean_range")
    assert list_told_changes(review), why
    assert [item for item in find_form_changes(review) if item.worse] == [], why


def test_knees_that_help_are_no_lost_range() -> None:
    values = (5.0, 5.5, 5.0, 27.0, 28.0, 27.5, 27.0)
    review = make_faulty_set(values, limit=15.0, beyond=(4, 5, 6, 7), measure="knee_flexion_range")
    assert [item.aspect for item in list_told_changes(review)] == ["posture"]
    lost = make_faulty_set([80.0, 80.5, 80.0, 50.0, 50.0], limit=70.0, beyond=(4, 5), measure="knee_flexion_range")
    assert [item.aspect for item in list_told_changes(lost)] == ["range"]
