"""What is reached, against sums done by hand."""

from tests.benchmarks.test_tables import outcome, row


def cells(lines: list[str], name: str) -> list[str]:
    return next(line for line in lines if line.startswith(name))[48:].split()


def test_goals_say_what_is_reached_in_all_sets_and_in_those_without_others() -> None:
    from goals import goal_lines

    near = {"measure": "arm_elevation_peak"}
    alone = outcome(row(1.0, **near), row(-2.0, **near), row(9.0, measure="arm_elevation_peak", band="side"))
    crowd = outcome(row(-12.0, **near), conditions=frozenset({"second person still"}), found=2)
    lines = goal_lines([alone, crowd])
    assert cells(lines, "arm elevation at the peak, front 0-10") == ["<=", "2°", "5.0°", "1.5°", "4.0°", "8.0°"]
    assert cells(lines, "sets with repetitions exactly right") == [">=", "98", "%", "50", "%", "100", "%"]
    assert cells(lines, "truths inside the margin") == ["92-99", "%", "50", "%", "67", "%"]
    assert cells(lines, "arm elevation at the peak, front 30-45")[2:4] == ["-", "-"]


def test_coverage_counts_only_groups_with_enough_values_and_neither_too_few_nor_too_many_inside() -> None:
    from goals import goal_lines

    good = [row(1.0)] * 19 + [row(4.0)]
    wide = [row(1.0, band="behind")] * 20
    few = [row(4.0, band="side")] * 19
    lines = goal_lines([outcome(*good, *wide, *few)])
    assert cells(lines, "measures by camera with 92-99 % inside")[1] == "1/2"


def test_phases_are_those_of_thirty_frames_a_second() -> None:
    from goals import goal_lines

    rows = [
        row(e, 0.1, measure="top_pause", unit="s", frame_rate=f) for e, f in ((0.02, 30.0), (0.5, 24.0), (0.04, 29.97))
    ]
    assert cells(goal_lines([outcome(*rows)]), "phase durations at 30 frames/s")[3:5] == ["0.030", "s"]
