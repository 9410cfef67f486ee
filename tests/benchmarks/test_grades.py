"""What the benchmark of grades counts, on invented values."""

from typing import Any

import pytest

from formcheck.core.model import Point, Rep, Tempo
from formcheck.exercises.registry import get_exercise

CHECKS = {check.id: check for check in get_exercise("squat").checks}
HEIGHT = next(check for check in get_exercise("lateral-raise").checks if check.id == "height")


@pytest.fixture(scope="module")
def grades() -> Any:
    """tools/benchmarks/grades.py."""
    import grades as module

    return module


def rep(number: int, start: float) -> Rep:
    return Rep(number, start, start + 1.0, start + 2.0, True, Tempo(1.0, 0.0, 1.0, 0.0))


def test_a_reporting_part_is_not_opened_by_accident(
    grades: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.argv", ["grades.py", "--part", "reporting-1"])
    monkeypatch.setattr(grades, "review_all", lambda *_: pytest.fail("it was opened"))
    assert grades.main() == 2
    assert "--open" in capsys.readouterr().err


def test_reps_are_paired_by_their_middles(grades: Any) -> None:
    found, true = [rep(1, 0.0), rep(2, 4.2), rep(3, 8.1)], [rep(1, 4.0), rep(2, 8.0)]
    assert grades.pair_reps(found, true) == {1: 1, 2: 1, 3: 2}
    assert grades.pair_reps(found, []) == {}


def test_the_worse_side_is_the_truth_of_a_rep(grades: Any) -> None:
    """82 degrees asked for: 70 on the left is 12 beyond, whatever the right does."""
    truth = {(HEIGHT.measure, "left", 1): 70.0, (HEIGHT.measure, "right", 1): 90.0}
    assert grades.true_excess(HEIGHT, "level", (1,), [rep(1, 0.0)], {1: 1}, truth) == {1: 12.0}


def test_a_true_change_is_from_the_first_three(grades: Any) -> None:
    check = CHECKS["depth"]
    reps = [rep(number, 4.0 * number) for number in range(1, 6)]
    depths = (90.0, 92.0, 91.0, 70.0, 85.0)
    truth = {(check.measure, None, number): value for number, value in enumerate(depths, 1)}
    found = grades.true_excess(check, "change", (4, 5), reps, {number: number for number in range(1, 6)}, truth)
    assert found == {4: 21.0 - check.change_at_most, 5: 6.0 - check.change_at_most}


def test_a_fault_counts_as_found_only_by_a_check_whose_truth_shows_it(grades: Any) -> None:
    exercise = get_exercise("squat")
    depth = CHECKS["depth"]
    reps = [rep(number, 4.0 * number) for number in range(1, 4)]
    partners = {1: 1, 2: 2, 3: 3}
    look = type("Look", (), {"camera": type("Camera", (), {"name": "left"}), "reps": reps, "readings": ()})
    fault = {"kind": "falls_short", "large": False, "reps": (1, 2, 3)}
    truth = {(depth.measure, None, number): 70.0 for number in partners}

    def hold(verdict: str, grade: str, check: str, values: Any) -> Any:
        point = Point(check, "level", verdict, grade, 0.9, (1, 2, 3), ())  # type: ignore[arg-type]
        return grades.hold_fault(fault, exercise, [point], [], look, partners, values)

    assert hold("not_met", "probably_not_met", "depth", truth) == grades.PlantedFault(
        "falls_short", False, seen=True, found=True, surely=False, praised=False
    )
    assert hold("met", "met", "depth", truth).praised
    assert not hold("undecided", "close", "depth", truth).praised
    assert not hold("not_met", "not_met", "lowering", truth).found
    assert not hold("not_met", "not_met", "depth", dict.fromkeys(truth, 90.0)).seen


def test_calibration_tells_how_often_each_grade_was_right(grades: Any) -> None:
    said = [grades.Said("level", "m", "not_met", 0.99, True)] * 9 + [grades.Said("level", "m", "not_met", 0.99, False)]
    (_, line) = grades.calibration_lines(said, "grade")
    assert line.split() == ["not_met", "10", "90.0%", "99.0%"]


def test_the_table_of_changes_gives_back_the_share_it_was_made_with() -> None:
    """100 differences whose errors run evenly up to 4.2, of margins of 10: 95 of 100 lie within 3.99, so 0.40."""
    import changes

    rows = [
        changes.Difference(f"set{number % 7}", "thigh_inclination_peak", "sagittal", 0.042 * number, 1.0, 10.0, 4.0)
        for number in range(1, 101)
    ]
    assert changes.toml_lines(rows) == ["[thigh_inclination_peak]", "sagittal = 0.40"]
    assert "95" in changes.table_lines(rows)[1]
    assert changes.toml_lines(rows[:20]) == []  # too few
