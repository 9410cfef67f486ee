"""Numbers of the accuracy table against sums done by hand, and the page's own tables."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

PAGE = Path(__file__).parent.parent.parent / "docs" / "accuracy.md"


def row(error: float | None, margin: float | None = 3.0, **changes: Any) -> Any:
    from comparing import Row

    value = None if error is None else 80.0 + error
    plain = {"image": 4.0, "world": -8.0}
    one = Row(
        "a", "lateral-raise", "arm_raise_peak", "front 0-10", "deg", 80.0, value, margin, plain, 30.0, frozenset()
    )
    return replace(one, **changes)


def outcome(*rows: Any, **changes: Any) -> Any:
    from comparing import Outcome

    one = Outcome(
        "a", "lateral-raise", "front 0-10", "front", 2.0, 3, 3, (0, 0), 0, True, None, frozenset(), tuple(rows)
    )
    return replace(one, **changes)


def test_line_holds_number_share_bias_mean_spread_coverage_and_both_baselines() -> None:
    from tables import HEADER, measure_line

    rows = [row(-2.0), row(4.0), row(1.0), row(None, None)]
    line = dict(zip(HEADER, measure_line("arm_raise_peak", "front 0-10", rows), strict=True))
    assert line["n"] == "4"
    assert line["given"] == "75%"
    assert line["bias"] == "1.0"
    assert line["mean"] == "2.3"
    assert line["95 %"] == "3.8"  # 95th percentile of 1, 2, 4 by linear interpolation: 2 + 0.9 * 2
    assert line["inside"] == "67%"
    assert (line["image"], line["world"]) == ("4.0", "8.0")


def test_what_is_not_given_says_so_and_keeps_the_baselines() -> None:
    from tables import measure_line

    line = measure_line("arm_raise_peak", "side", [row(None, None)])
    assert line[2:] == ("1", "0%", "-", "-", "-", "-", "4.0", "8.0")


def test_table_is_read_back_as_it_was_written() -> None:
    from tables import measure_table, parse

    rows = (row(1.0), row(-1.0, band="front 30-45"), row(0.02, 0.1, measure="top_pause", unit="s"))
    lines = parse("before\n" + "\n".join(measure_table([outcome(*rows)])) + "\n\nafter  some  text")
    assert [(line["measure"], line["camera"]) for line in lines] == [
        ("arm_raise_peak", "front 0-10"),
        ("arm_raise_peak", "front 30-45"),
        ("top_pause", "front 0-10"),
    ]
    assert lines[1]["bias"] == "-1.0"
    assert lines[2]["mean"] == "0.02"


def test_only_the_wanted_section_of_a_page_changes() -> None:
    from tables import END, MARK, section, written

    one, two = (f"{MARK.format(part=part)}\nold {part}\n{END}\n" for part in ("tuning", "reporting"))
    page = written("# Title\n" + one + two, "reporting", "new")
    assert section(page, "reporting") == "\nnew\n"
    assert section(page, "tuning") == "\nold tuning\n"
    assert page.startswith("# Title\n")
    with pytest.raises(ValueError, match="shipped"):
        written(page, "shipped", "new")


def test_a_set_counts_only_when_every_repetition_is_rightly_whole_or_partial() -> None:
    assert outcome(planned=3, found=3).counted
    assert not outcome(planned=3, found=2).counted
    assert not outcome(planned=3, found=3, partial=(1, 0)).counted
    assert not outcome(planned=3, found=3, wrongly_partial=1).counted


def test_summary_counts_sets_faults_and_alarms() -> None:
    from comparing import Alarm, Planted
    from tables import summary

    found = Planted("a", "swing", "side", True, ("not_met", "undecided"))
    lost = Planted("a", "swing", "side", True, ("undecided", "undecided", "not_met"))
    hidden = Planted("a", "swing", "front 0-10", False, ("undecided",))
    alarm = Alarm("b", True, "lowering", 1, 0.5, 1.2)
    sets = [
        outcome(planted=(found, lost, hidden), clean=False),
        outcome(alarms=(alarm, replace(alarm, rep=2))),
        outcome(found=2),
        outcome(no_exercise="walking", planned=0, found=0, false_reps={"lateral-raise": 2, "guided-bar-press": 0}),
    ]
    text = "\n".join(summary(sets))
    assert "repetitions exactly right, whole and partial: 2 of 3 sets (67%)" in text
    assert "repetitions found in 1 of 2 reviews (2 in all)" in text
    assert "False alarms: 1 in 2 clean sets (5.0 per 10), 0 in the others." in text
    swing = next(line.split() for line in text.splitlines() if line.startswith("swing"))
    assert swing == ["swing", "3", "2", "1", "1", "0", "2", "of", "5"]


@pytest.mark.parametrize("yaw", [0.0, 10.0, -29.0, 44.0, -90.0, 175.0, -165.0, 355.0])
def test_bands_cover_every_camera(yaw: float) -> None:
    from comparing import band_of

    expected = {0.0: 0, 10.0: 0, -29.0: 1, 44.0: 2, -90.0: 3, 175.0: 4, -165.0: 4, 355.0: 0}[yaw]
    assert band_of(yaw) == ("front 0-10", "front 10-30", "front 30-45", "side", "behind")[expected]


def test_a_check_is_broken_only_beyond_its_tolerance() -> None:
    from comparing import beyond
    from formcheck.exercises.registry import get_exercise

    checks = {check.id: check for check in get_exercise("lateral-raise").checks}
    height, even = checks["height"], checks["even-sides"]
    at_least, at_most = height.limit - height.tolerance, even.limit + even.tolerance
    assert [beyond(height, at_least + 0.1), beyond(height, at_least - 0.1)] == [False, True]
    assert [beyond(even, -at_most + 0.1), beyond(even, -at_most - 0.1)] == [False, True]


@pytest.mark.parametrize("part", ["second-tuning", "tuning", "shipped"])
def test_the_page_holds_the_programs_table(part: str) -> None:
    from comparing import BANDS
    from formcheck.core.vocabulary import MEASURES
    from tables import parse, section

    text = section(PAGE.read_text(encoding="utf-8"), part)
    assert f"python tools/benchmarks/accuracy.py --part {part}" in text
    lines = parse(text)
    assert len(lines) > 20
    for line in lines:
        assert line["measure"] in MEASURES
        assert line["camera"] in BANDS
        assert int(line["n"]) > 0
