from hypothesis import given
from hypothesis import strategies as st

from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Check
from formcheck.findings import find, verdict_for
from formcheck.measures.across_reps import Reading
from formcheck.model import CameraView, Measure, Rep, Tempo
from formcheck.report import wording

HEIGHT = next(check for check in get_exercise("lateral-raise").checks if check.id == "height")
EVEN = next(check for check in get_exercise("lateral-raise").checks if check.id == "even-sides")


def rep(number: int, complete: bool = True) -> Rep:
    return Rep(number, number * 4.0, number * 4.0 + 1.5, number * 4.0 + 3.0, complete, Tempo(1.5, 0.5, 1.2, 0.3))


def reading(name: str, number: int, value: float | None, side: str | None = None, margin: float = 4.0) -> Reading:
    reason = None if value is not None else "Hidden."
    at = None if value is None else number * 4.0 + 1.6
    return Reading(Measure(name, side, number, value, None if value is None else margin, "deg", reason), at)  # type: ignore[arg-type]


@given(value=st.floats(0, 180), margin=st.floats(0.1, 15))
def test_not_met_only_beyond_limit_and_tolerance_by_more_than_the_margin(value: float, margin: float) -> None:
    verdict = verdict_for(HEIGHT, value, margin)
    edge = HEIGHT.limit - HEIGHT.tolerance
    assert (verdict == "not_met") == (value + margin < edge)
    if value >= HEIGHT.limit:
        assert verdict == "met"


@given(value=st.floats(-40, 40), margin=st.floats(0.1, 10))
def test_swapping_left_and_right_does_not_change_the_verdict(value: float, margin: float) -> None:
    assert verdict_for(EVEN, value, margin) == verdict_for(EVEN, -value, margin)


def test_a_normal_shoulder_is_never_called_short_overhead() -> None:
    """165 degrees is a usual active range (median of young adults about 165-168, BMC Sports Sci Med Rehabil 2012 4:33;
    180 is a rounded ideal), so an overhead raise that reaches it must pass, whatever the margin."""
    overhead = next(item for item in get_exercise("overhead-lateral-raise").checks if item.id == "overhead")
    for usual in (165.0, 168.0, 184.0):
        assert verdict_for(overhead, usual, 6.0) == "met"
    # The 5th percentile of healthy young adults (153, 155; same source) is at most undecided, never "not met".
    assert verdict_for(overhead, 153.0, 6.0) == "undecided"


def test_findings_name_reps_value_limit_moment_cue_and_basis() -> None:
    reps = [rep(1), rep(2), rep(3)]
    readings = [
        reading("arm_elevation_peak", number, value, side)
        for side in ("left", "right")
        for number, value in ((1, 91.0), (2, 78.0), (3, 60.0 if side == "left" else 66.0))
    ]
    found = {
        item.verdict: item
        for item in find(get_exercise("lateral-raise"), readings, reps, "front")
        if item.check == "height"
    }
    assert {verdict: item.reps for verdict, item in found.items()} == {"met": (1,), "undecided": (2,), "not_met": (3,)}
    bad = found["not_met"]
    assert (bad.value, bad.limit, bad.at_s) == (60.0, HEIGHT.limit, 13.6)
    assert "60° ± 4°" in bad.text
    assert "left" in bad.text
    assert HEIGHT.cue in bad.text
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
                "Not measurable from the front; film from the side.",
            ),
            None,
        )
    ]
    swing = next(
        item for item in find(get_exercise("lateral-raise"), readings, reps, "front") if item.check == "no-swing"
    )
    assert swing.verdict == "undecided"
    assert swing.value is None
    assert "film from the side" in swing.text


def test_hidden_landmarks_leave_a_rep_undecided() -> None:
    readings = [reading("arm_elevation_peak", 1, None, "left"), reading("arm_elevation_peak", 1, None, "right")]
    height = next(
        item for item in find(get_exercise("lateral-raise"), readings, [rep(1)], "front") if item.check == "height"
    )
    assert (height.verdict, height.value) == ("undecided", None)
    assert "could not be told" in height.text


def test_too_close_to_call_and_hidden_are_told_apart() -> None:
    readings = [reading("arm_elevation_peak", number, value, "left") for number, value in ((1, 78.0), (2, None))]
    reps = [rep(1), rep(2)]
    close, hidden = (
        item for item in find(get_exercise("lateral-raise"), readings, reps, "front") if item.check == "height"
    )
    assert {close.verdict, hidden.verdict} == {"undecided"}
    assert (close.reps, hidden.reps) == ((1,), (2,))
    assert "too close to call in rep 1" in close.text
    assert "could not be told in rep 2" in hidden.text
    assert hidden.value is None


def test_partial_reps_count_only_for_the_checks_that_say_so() -> None:
    reps = [rep(1), rep(2, complete=False)]
    readings = [reading("arm_elevation_peak", n, v, "left") for n, v in ((1, 92.0), (2, 50.0))]
    readings += [Reading(Measure("range_share", None, n, v, 0.05, "ratio"), 1.0) for n, v in ((1, 1.0), (2, 0.5))]
    found = find(get_exercise("lateral-raise"), readings, reps, "front")
    assert [item.reps for item in found if item.check == "height"] == [(1,)]
    assert [item.reps for item in found if item.check == "range-kept" and item.verdict == "not_met"] == [(2,)]


def test_no_reps_no_findings() -> None:
    assert find(get_exercise("lateral-raise"), [], [], "front") == ()


def test_a_finding_writes_its_numbers_as_report_and_page_do() -> None:
    share = next(check for check in get_exercise("lateral-raise").checks if check.measure == "range_share")
    measures = [Measure("range_share", None, number, value, 0.031, "ratio") for number, value in ((1, 1.0), (2, 0.36))]
    readings = [Reading(item, 1.0) for item in measures]
    texts = [
        item.text
        for item in find(get_exercise("lateral-raise"), readings, [rep(1), rep(2)], "front")
        if item.check == share.id
    ]
    assert any("36 % ± 3 % in rep 2; wanted at least 95 %" in text for text in texts), texts


def test_every_check_of_every_exercise_can_be_met_and_missed() -> None:
    from formcheck.exercises.registry import load_exercises

    checks: list[Check] = [check for exercise in load_exercises().values() for check in exercise.checks]
    assert len(checks) > 30
    for check in checks:
        step = 1000.0 if check.at_least is None else -1000.0
        assert verdict_for(check, check.limit, 0.01) == "met"
        assert verdict_for(check, check.limit + step, 0.01) == "not_met"


def test_nobody_found_is_not_told_as_a_camera_side() -> None:
    unknown = CameraView("front", None, None, "estimated")
    assert wording.view_text(unknown) == "Camera side not known"
    assert wording.view_text(CameraView("front", None, None, "given")) == "Filmed from the front"
