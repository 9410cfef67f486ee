from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck import findings, verdicts
from formcheck.core.model import CameraView, Finding, Measure, Message, Point, Rep, Review, Tempo, Verdict
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Check, Exercise
from formcheck.findings import Judgement, judge_set
from formcheck.measures.across_reps import Reading
from formcheck.measures.window import NO_NEXT_REP
from formcheck.report import wording
from formcheck.report.summary import group_findings
from formcheck.review_text import describe_finding
from formcheck.statistics.reps_beyond import compute_normal_share
from formcheck.verdicts import (
    compute_probability,
    find_grade,
    get_prior_odds,
    get_verdict,
    grade_value,
    weigh_prior,
)
from tests.facts import says
from tests.web.synthetic import synthetic_analysis

HEIGHT = next(check for check in get_exercise("lateral-raise").checks if check.id == "height")
EVEN = next(check for check in get_exercise("lateral-raise").checks if check.id == "even-sides")


def judge_value(check: Check, value: float, margin: float) -> Verdict:
    return get_verdict(grade_value(check, value, margin))


def rep(number: int, complete: bool = True) -> Rep:
    return Rep(number, number * 4.0, number * 4.0 + 1.5, number * 4.0 + 3.0, complete, Tempo(1.5, 0.5, 1.2, 0.3))


def reading(name: str, number: int, value: float | None, side: str | None = None, margin: float = 4.0) -> Reading:
    reason = None if value is not None else Message("hidden", {"part": side or "body"})
    at = None if value is None else number * 4.0 + 1.6
    spare = None if value is None else margin
    return Reading(Measure(name, side, number, value, spare, "deg", missing_reason_coded=reason), at)  # type: ignore[arg-type]


def review_of(exercise: Exercise, *found: Finding) -> Review:
    """An invented review with these findings and nothing else."""
    return replace(synthetic_analysis().review, findings=found, measures=())


LIMITS = st.builds(
    lambda limit, tolerance, at_least: HEIGHT.model_copy(
        update={"at_least": limit if at_least else None, "at_most": None if at_least else limit, "tolerance": tolerance}
    ),
    st.floats(-100, 180),
    st.sampled_from([0.0, 2.0, 8.0]),
    st.booleans(),
)


@given(check=LIMITS, value=st.floats(-200, 200), margin=st.floats(0.1, 40))
def test_a_grade_says_what_limit_tolerance_and_margin_allow(check: Check, value: float, margin: float) -> None:
    """The rule as docs/method.md states it, part 8; common practice in telling a measurement from a limit: what lies
    within the margin is not claimed as sure (compare JCGM 106:2012, guarded acceptance and guarded rejection)."""
    grade, verdict = grade_value(check, value, margin), judge_value(check, value, margin)
    kept_by = value - check.limit if check.at_least is not None else check.limit - value
    assert (grade == "met") == (kept_by >= margin)
    if grade == "not_met":
        assert -kept_by - check.tolerance >= margin
    chance = compute_probability(check, value, margin)
    least, most = {
        "not_met": (0.975, 1.0),
        "probably_not_met": (0.6, 0.975),
        "close": (0.15, 0.6),
        "probably_met": (0.0, 0.15),
        "met": (0.0, 0.025),
    }[grade]
    assert least - 1e-9 <= chance <= most + 1e-9
    assert (grade == "close") == (verdict == "undecided")


# Normal distribution, probability up to z (any table, such as NIST/SEMATECH e-Handbook of Statistical Methods,
# 1.3.6.7.1; from memory).
NORMAL = {0.0: 0.5, 0.5: 0.69146, 1.0: 0.84134, 1.28: 0.89973, 1.645: 0.95002, 1.96: 0.97500, 2.33: 0.99010}


@pytest.mark.parametrize("z", NORMAL)
def test_the_probability_is_that_of_the_normal_table(z: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """A margin of 1.96 is a standard deviation of 1; what is taken for as likely beforehand as not keeps its odds."""
    monkeypatch.setattr(verdicts, "get_prior_odds", lambda: 1.0)
    check = HEIGHT.model_copy(update={"at_least": 80.0, "tolerance": 0.0})
    assert compute_probability(check, 80.0 - z, 1.959964) == pytest.approx(NORMAL[z], abs=6e-6)
    assert compute_probability(check, 80.0 + z, 1.959964) == pytest.approx(1 - NORMAL[z], abs=6e-6)
    assert compute_normal_share(z) == pytest.approx(NORMAL[z], abs=6e-6)
    # A tolerance moves the threshold and is paid once.
    let_pass = check.model_copy(update={"tolerance": 2.0})
    assert compute_probability(let_pass, 78.0 - z, 1.959964) == pytest.approx(NORMAL[z], abs=6e-6)


def test_what_is_rare_beforehand_stays_rarer() -> None:
    """Bayes' rule in odds: a fault that is four times rarer than none keeps a quarter of the odds, here of 4 to 1."""
    assert weigh_prior(0.8, 0.25) == pytest.approx(0.5)
    assert weigh_prior(0.5, 0.25) == pytest.approx(0.2)
    assert [weigh_prior(sure, 0.25) for sure in (0.0, 1.0)] == [0.0, 1.0]
    assert 0.0 < get_prior_odds() <= 1.0
    assert compute_probability(HEIGHT, 82.0, 7.0) == pytest.approx(get_prior_odds() / (1 + get_prior_odds()))


def test_the_method_page_states_where_grades_turn() -> None:
    """Its table in margins, from the odds in use and the normal distribution."""
    page = (Path(__file__).parent.parent / "docs" / "method.md").read_text(encoding="utf-8")
    at = {
        chance: NormalDist().inv_cdf(weigh_prior(chance, 1 / get_prior_odds())) / 1.959964
        for chance in (0.975, 0.6, 0.15)
    }
    assert f"λ = {get_prior_odds():g} for every exercise" in page
    assert f"| **not met** | P ≥ 97.5 % | d ≥ {at[0.975]:.2f}·m |" in page
    assert f"| *probably not met* | P ≥ 60 % | d ≥ {at[0.6]:.2f}·m |" in page
    assert f"| *probably met* | P ≤ 15 % | d ≤ {at[0.15]:.2f}·m |" in page


def test_a_value_far_from_the_limit_is_not_called_close() -> None:
    """82 asked for: 78 ± 7 is more likely than not a fault, and surely enough to say so as probable."""
    assert [grade_value(HEIGHT, value, 7.0) for value in (89.5, 86.0, 82.0, 80.5, 78.0, 72.0)] == [
        *("met", "probably_met", "close", "close", "probably_not_met", "not_met"),
    ]
    lateral = get_exercise("lateral-raise")
    judged = lateral.model_copy(update={"checks": (HEIGHT,), "untold": ()})
    (found,) = judge_set(judged, [reading("arm_line_raise_peak", 1, 78.0, "left", 7.0)], [rep(1)], "front").findings
    assert (found.verdict, found.grade, found.reason, found.margin) == ("not_met", "probably_not_met", None, 7.0)
    # z = 1.96 * 4 / 7 = 1.12: 0.86864 in the table, 6.61 to 1
    odds = 6.61 * get_prior_odds()
    assert found.probability == pytest.approx(odds / (1 + odds), abs=2e-3)
    assert "probably not met" in describe_finding(found)
    assert HEIGHT.cue in describe_finding(found)
    (view,) = group_findings(review_of(judged, found), judged)["probably_not_met"]
    assert view.cue == HEIGHT.cue


def test_what_was_judged_before_there_were_grades_gets_one_from_its_numbers() -> None:
    stored = Finding("height", "undecided", (1,), "arm_line_raise_peak", 78.0, 82.0, 3.0, "Close.", "common practice")
    quoted = Measure("arm_line_raise_peak", "left", 1, 78.0, 7.0, "deg")
    assert find_grade(stored, quoted, HEIGHT) == "probably_not_met"
    assert find_grade(replace(stored, value=81.0), replace(quoted, value=81.0), HEIGHT) == "close"
    assert find_grade(replace(stored, verdict="met"), quoted, HEIGHT) == "met"
    assert find_grade(replace(stored, verdict="not_met"), None, None) == "not_met"
    assert find_grade(replace(stored, value=None), quoted, HEIGHT) is None
    # 74 against 88 with 8 let pass was within the tolerance; with the margin of 7 the threshold is 6 away.
    spared = replace(stored, value=74.0, limit=88.0, reason="within_tolerance")
    spared = replace(spared, text_coded=Message("within-tolerance", {"title": "Height", "tolerance": 8.0}))
    assert find_grade(spared, replace(quoted, value=74.0), HEIGHT) == "probably_not_met"
    assert find_grade(replace(spared, text_coded=None), replace(quoted, value=74.0), HEIGHT) == "close"


def set_point(values: Sequence[float | None], margin: float = 4.0, check: Check = HEIGHT) -> Point:
    judged = get_exercise("lateral-raise").model_copy(update={"checks": (check,), "untold": ()})
    reps = [rep(number) for number in range(1, len(values) + 1)]
    readings = [
        reading(check.measure, one.number, value, None, margin) for one, value in zip(reps, values, strict=True)
    ]
    point, *_ = judge_set(judged, readings, reps, "front").points
    return point


def test_one_close_rep_does_not_hide_clear_ones() -> None:
    point = set_point([70.0, 70.5, 69.0, 81.5, 70.0, 71.0])
    assert (point.grade, point.verdict, point.beyond) == ("not_met", "not_met", (1, 2, 3, 4, 5, 6))
    assert set_point([90.0, 91.0, 89.0, 83.0, 90.0, 92.0]).grade == "met"


def test_a_single_short_rep_of_eight_is_no_fault_of_the_set() -> None:
    """A quarter of eight reps is two."""
    point = set_point([92.0, 91.0, 93.0, 60.0, 92.0, 91.0, 92.0, 93.0])
    assert (point.grade, point.beyond) == ("met", (4,))
    assert set_point([92.0, 91.0, 60.0, 60.0, 92.0, 91.0, 92.0, 93.0]).grade == "not_met"


def test_probable_reps_are_sure_together_only_where_their_errors_are_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    values = [79.5] * 5  # P = 0.67 for each
    assert grade_value(HEIGHT, 79.5, 4.0) == "probably_not_met"
    for share, grade in ((1.0, "not_met"), (0.05, "probably_not_met")):
        monkeypatch.setattr(findings, "get_least_random_share", lambda _measure, _plane, share=share: share)
        assert set_point(values).grade == grade


def test_reps_that_scatter_by_their_own_errors_alone_are_taken_for_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    """82 asked for, in the mean 86: two of eight that read below are chance; two that are far below are not."""
    monkeypatch.setattr(findings, "get_least_random_share", lambda _measure, _plane: 0.9)
    assert set_point([81.0, 89.0, 85.0, 90.0, 86.0, 81.0, 88.0, 88.0], margin=8.0).grade in ("probably_met", "met")
    assert set_point([61.0, 89.0, 85.0, 90.0, 86.0, 61.0, 88.0, 88.0], margin=8.0).verdict == "not_met"


def test_too_few_numbers_grade_no_set() -> None:
    point = set_point([70.0, None, None])
    assert (point.grade, point.probability, point.verdict, point.reps) == (None, None, "undecided", (1,))


DEPTH = next(check for check in get_exercise("squat").checks if check.id == "depth")


def judge_depth(values: Sequence[float]) -> Judgement:
    judged = get_exercise("squat").model_copy(update={"checks": (DEPTH,), "untold": ()})
    reps = [rep(number) for number in range(1, len(values) + 1)]
    readings = [reading(DEPTH.measure, one.number, value, None, 6.0) for one, value in zip(reps, values, strict=True)]
    return judge_set(judged, readings, reps, "left")


def test_a_squat_that_gets_shallow_is_told_from_the_rep_on() -> None:
    """Three reps level, then 21 degrees shallower; a coach says so before saying how deep the set was."""
    judgement = judge_depth([88.0, 87.0, 88.0, 66.0, 67.0, 66.0])
    level, change = judgement.points
    assert (change.kind, change.grade, change.reps, change.beyond) == ("change", "not_met", (4, 5, 6), (4, 5, 6))
    (found,) = [item for item in judgement.findings if item.kind == "change"]
    assert (found.reps, found.limit, found.at_s) == ((4, 5, 6), DEPTH.change_at_most, 17.6)
    assert found.value == pytest.approx(263 / 3 - 66.0)
    assert found.margin is not None
    assert found.margin < 6.0
    words = describe_finding(found)
    assert says(words, "from rep 4 on", "22° ±", "shallower than in your first three reps", "rep 4", "10° or less")
    assert (DEPTH.change_cue or "?") in words
    assert level.kind == "level"


def test_a_set_that_keeps_its_depth_has_a_change_that_is_met_and_no_finding() -> None:
    judgement = judge_depth([88.0, 87.0, 88.0, 87.0, 86.0, 88.0])
    assert [(item.kind, item.grade) for item in judgement.points if item.kind == "change"] == [("change", "met")]
    assert {item.kind for item in judgement.findings} == {"level"}


def test_one_shallow_rep_later_on_is_told_as_such() -> None:
    judgement = judge_depth([88.0, 87.0, 88.0, 87.0, 60.0, 88.0, 88.0, 87.0, 88.0, 88.0, 87.0])
    (found,) = [item for item in judgement.findings if item.kind == "change"]
    assert found.reps == (5,)
    assert "in rep 5" in describe_finding(found)
    assert next(item for item in judgement.points if item.kind == "change").verdict == "met"


def test_a_change_has_a_view_of_its_own_and_its_check_is_counted_once() -> None:
    judged = get_exercise("squat")
    judgement = judge_depth([98.0, 97.0, 98.0, 84.0, 84.0, 83.0, 84.0])
    review = replace(review_of(judged, *judgement.findings), points=judgement.points)
    groups = group_findings(review, judged)
    (view,) = [view for view in groups["not_met"] if view.title == DEPTH.change_title]
    assert (view.cue, view.points) == (DEPTH.change_cue, 1)
    assert "shallower than in the first three reps by" in view.evidence
    assert sum(item.points for items in groups.values() for item in items) == 1


@given(value=st.floats(-40, 40), margin=st.floats(0.1, 10))
def test_swapping_left_and_right_does_not_change_the_verdict(value: float, margin: float) -> None:
    assert judge_value(EVEN, value, margin) == judge_value(EVEN, -value, margin)


@given(value=st.floats(-40, 40), margin=st.floats(0.1, 10), left=st.booleans())
def test_the_worse_side_speaks_and_says_its_own_reason(value: float, margin: float, left: bool) -> None:
    sides = ("left", "right") if left else ("right", "left")
    readings = [reading("arm_line_raise_peak", 1, 160.0 + value, side, margin) for side in sides[:1]]
    readings += [reading("arm_line_raise_peak", 1, 84.0 + value, sides[1], margin)]
    judged = get_exercise("lateral-raise").model_copy(update={"checks": (HEIGHT,), "untold": ()})
    (found,) = judge_set(judged, readings, [rep(1)], "front").findings
    assert found.value == 84.0 + value
    verdict = judge_value(HEIGHT, 84.0 + value, margin)
    assert (found.verdict, found.reason) == (verdict, "close" if verdict == "undecided" else None)


def test_a_normal_shoulder_is_never_called_short_overhead() -> None:
    """165 degrees is a usual active range (median of young adults about 165-168, BMC Sports Sci Med Rehabil 2012 4:33;
    180 is a rounded ideal), so an overhead raise that reaches it must pass, with the margin a front view has."""
    overhead = next(item for item in get_exercise("overhead-lateral-raise").checks if item.id == "overhead")
    for usual in (165.0, 168.0, 184.0):
        assert judge_value(overhead, usual, 7.2) == "met"
    # Nor is the 5th percentile of healthy young adults (153, 155; same source).
    assert judge_value(overhead, 153.0, 7.2) != "not_met"


def test_findings_name_reps_value_limit_moment_cue_and_basis() -> None:
    reps = [rep(1), rep(2), rep(3)]
    readings = [
        reading("arm_line_raise_peak", number, value, side)
        for side in ("left", "right")
        for number, value in ((1, 91.0), (2, 81.0), (3, 60.0 if side == "left" else 66.0))
    ]
    found = {
        item.verdict: item
        for item in judge_set(get_exercise("lateral-raise"), readings, reps, "front").findings
        if item.check == "height"
    }
    assert {verdict: item.reps for verdict, item in found.items()} == {"met": (1,), "undecided": (2,), "not_met": (3,)}
    bad = found["not_met"]
    assert (bad.value, bad.limit, bad.at_s) == (60.0, HEIGHT.limit, 13.6)
    assert "60° ± 4°" in describe_finding(bad)
    assert "left" in describe_finding(bad)
    assert HEIGHT.cue in describe_finding(bad)
    assert "Common practice" in bad.basis


def test_the_wrong_view_is_said_and_never_judged() -> None:
    reps = [rep(1)]
    readings = [
        Reading(
            Measure(
                "torso_inclination_range",
                None,
                1,
                None,
                None,
                "deg",
                missing_reason_coded=Message("wrong-view", {"view": "front", "film_from": ("side",)}),
            ),
            None,
        )
    ]
    swing = next(
        item
        for item in judge_set(get_exercise("lateral-raise"), readings, reps, "front").findings
        if item.check == "no-swing"
    )
    assert swing.verdict == "undecided"
    assert swing.value is None
    assert swing.reason == "wrong_view"
    assert "film from the side" in describe_finding(swing)


def test_hidden_landmarks_leave_a_rep_undecided() -> None:
    readings = [reading("arm_line_raise_peak", 1, None, "left"), reading("arm_line_raise_peak", 1, None, "right")]
    height = next(
        item
        for item in judge_set(get_exercise("lateral-raise"), readings, [rep(1)], "front").findings
        if item.check == "height"
    )
    assert (height.verdict, height.value) == ("undecided", None)
    assert "could not be told" in describe_finding(height)


def test_too_close_to_call_and_hidden_are_told_apart() -> None:
    readings = [reading("arm_line_raise_peak", number, value, "left") for number, value in ((1, 81.0), (2, None))]
    reps = [rep(1), rep(2)]
    close, hidden = (
        item
        for item in judge_set(get_exercise("lateral-raise"), readings, reps, "front").findings
        if item.check == "height"
    )
    assert {close.verdict, hidden.verdict} == {"undecided"}
    assert (close.reps, hidden.reps) == ((1,), (2,))
    assert (close.reason, hidden.reason) == ("close", "hidden")
    assert "too close to call in rep 1" in describe_finding(close)
    assert "could not be told in rep 2" in describe_finding(hidden)
    assert hidden.value is None


def test_partial_reps_count_only_for_the_checks_that_say_so() -> None:
    reps = [rep(1), rep(2, complete=False)]
    readings = [reading("arm_line_raise_peak", n, v, "left") for n, v in ((1, 92.0), (2, 50.0))]
    readings += [Reading(Measure("range_share", None, n, v, 0.05, "ratio"), 1.0) for n, v in ((1, 1.0), (2, 0.5))]
    found = judge_set(get_exercise("lateral-raise"), readings, reps, "front").findings
    assert [item.reps for item in found if item.check == "height"] == [(1,)]
    assert [item.reps for item in found if item.check == "range-kept" and item.verdict == "not_met"] == [(2,)]


def test_no_reps_no_findings() -> None:
    assert judge_set(get_exercise("lateral-raise"), [], [], "front").findings == ()


def test_a_finding_writes_its_numbers_as_report_and_page_do() -> None:
    share = next(check for check in get_exercise("lateral-raise").checks if check.measure == "range_share")
    measures = [Measure("range_share", None, number, value, 0.031, "ratio") for number, value in ((1, 1.0), (2, 0.36))]
    readings = [Reading(item, 1.0) for item in measures]
    texts = [
        describe_finding(item)
        for item in judge_set(get_exercise("lateral-raise"), readings, [rep(1), rep(2)], "front").findings
        if item.check == share.id
    ]
    assert any(says(text, "36 % ± 4 %", "rep 2", "87 % or more") for text in texts), texts


def test_the_pause_before_the_next_rep_is_not_asked_of_the_last() -> None:
    judged = get_exercise("overhead-lateral-raise")
    pause = next(item for item in judged.checks if item.id == "brief-pause")
    readings = [
        Reading(Measure("bottom_pause", None, 1, 3.0, 0.1, "s"), 2.0),
        Reading(Measure("bottom_pause", None, 2, None, None, "s", missing_reason_coded=NO_NEXT_REP), None),
    ]
    alone = judged.model_copy(update={"checks": (pause,), "untold": ()})
    (found,) = judge_set(alone, readings, [rep(1), rep(2)], "front").findings
    assert (found.reps, found.verdict) == ((1,), "not_met")


def test_a_number_too_inexact_to_give_is_not_called_hidden() -> None:
    inexact = Message("margin-too-wide", {"degrees": 47})
    readings = [
        Reading(Measure("arm_line_raise_peak", side, 1, None, None, "deg", missing_reason_coded=inexact), None)
        for side in ("left", "right")
    ]
    judged = get_exercise("lateral-raise").model_copy(update={"checks": (HEIGHT,), "untold": ()})
    (found,) = judge_set(judged, readings, [rep(1)], "oblique").findings
    assert found.reason == "inexact"
    assert "47°" in describe_finding(found)
    assert "hidden" not in describe_finding(found)


def test_nobody_found_is_not_told_as_a_camera_side() -> None:
    unknown = CameraView("front", None, None, "estimated")
    assert wording.describe_view(unknown) == "Camera side not known"
    assert wording.describe_view(CameraView("front", None, None, "given")) == "Filmed from the front"


@pytest.mark.parametrize(("difference", "lower"), [(14.0, "right"), (-14.0, "left")])
def test_the_lower_side_is_named(difference: float, lower: str) -> None:
    """The measure is the left side's height less the right's."""
    judged = get_exercise("lateral-raise").model_copy(update={"checks": (EVEN,), "untold": ()})
    (found,) = judge_set(judged, [reading(EVEN.measure, 1, difference)], [rep(1)], "front").findings
    assert found.verdict == "not_met"
    assert says(describe_finding(found), "14°", f"the {lower} lower")
