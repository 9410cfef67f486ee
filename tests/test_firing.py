"""Every check of every exercise, from every camera it claims: at what value it speaks.

The sizes of the faults are common practice (`fault_at` in the exercise files); what a body can do is in
`docs/body_range.toml`, with sources.
"""

import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from statistics import NormalDist
from typing import Any

import pytest

from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Check, Exercise
from formcheck.exercises.variations import apply_variation
from formcheck.measures.across_reps import MOST_UNSURE_DEG
from formcheck.measures.margins import compute_margin
from formcheck.verdicts import get_prior_odds, get_verdict, grade_value, weigh_prior

DOCS = Path(__file__).resolve().parent.parent / "docs"
RANGES: dict[str, dict[str, Any]] = tomllib.loads((DOCS / "body_range.toml").read_text(encoding="utf-8"))
sys.path.insert(0, str(DOCS))
try:
    import firing_table
finally:
    sys.path.pop(0)


def checks() -> Iterator[tuple[Exercise, Check]]:
    for exercise in load_exercises().values():
        for one in (exercise, *(apply_variation(exercise, item.id) for item in exercise.variations)):
            for check in one.checks:
                yield one, check


ROWS = [(exercise, check, view) for exercise, check in checks() for view in exercise.views_for(check)]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0].id}:{row[1].id}:{row[2]}")
def test_a_fault_that_a_coach_would_name_is_named(row: tuple[Exercise, Check, Any]) -> None:
    """From each camera the check claims, surely or as probable, and at a size a body can reach."""
    exercise, check, view = row
    low, high = RANGES[check.measure]["range"]
    assert check.fault_at is not None
    assert low <= check.fault_at <= high
    assert get_verdict(firing_table.says(exercise, check, view, check.fault_at)) == "not_met"
    assert check.unit != "deg" or firing_table.margin_at(exercise, check, view, check.fault_at) <= MOST_UNSURE_DEG


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0].id}:{row[1].id}:{row[2]}")
def test_the_table_says_where_the_verdict_turns(row: tuple[Exercise, Check, Any]) -> None:
    exercise, check, view = row
    sign = -1.0 if check.at_least is not None else 1.0
    step = {"deg": 0.1, "s": 0.01, "ratio": 0.01}[check.unit]
    shown = {one.view: one for one in firing_table.firings_of(exercise, check)}.get("left" if view == "right" else view)
    assert shown is not None
    assert shown.probable_at is not None
    assert shown.body[0] <= shown.probable_at <= shown.body[1]
    if shown.fires_at is None:  # the margin is wider than the body can be beyond: never more than probable
        end = shown.body[1] if sign > 0 else shown.body[0]
        assert firing_table.says(exercise, check, view, end) == "probably_not_met"
    else:
        assert shown.body[0] <= shown.fires_at <= shown.body[1]
        assert firing_table.says(exercise, check, view, shown.fires_at + sign * step) == "not_met"
        assert firing_table.says(exercise, check, view, shown.fires_at - sign * step) != "not_met"
        assert sign * (shown.probable_at - shown.fires_at) < 0
    assert firing_table.says(exercise, check, view, shown.probable_at + sign * step) != "close"
    assert get_verdict(firing_table.says(exercise, check, view, shown.probable_at - sign * step)) != "not_met"
    if shown.met_from is not None:
        assert firing_table.says(exercise, check, view, shown.met_from - sign * step) == "met"
        assert firing_table.says(exercise, check, view, shown.met_from + sign * step) != "met"


def test_the_table_is_on_its_page_and_lists_every_check() -> None:
    page = (DOCS / "checks.md").read_text(encoding="utf-8")
    lines = firing_table.table()
    assert "\n".join(lines) in page, "python docs/write_tables.py --write puts this right"
    for exercise in load_exercises().values():
        for check in exercise.checks:
            cameras = {firing_table.CAMERA_WORDS[view] for view in exercise.views_for(check)}
            rows = [line for line in lines if line.startswith(f"| {exercise.id} | {check.title} |")]
            assert {row.split(" | ")[2] for row in rows} == cameras


def test_every_range_of_a_body_has_its_source_and_is_used() -> None:
    assert {check.measure for _, check in checks()} == set(RANGES)
    for name, row in RANGES.items():
        assert row["range"][0] < row["range"][1], name
        assert len(row["source"]) > 20, name


def test_what_cannot_fire_is_not_a_check() -> None:
    """Elbow lock-out: 8 degrees asked for, 5 let pass, read to 8 to 18 degrees, would need an elbow 5 degrees past
    straight, which reads as a bend. Neck: 60 asked for, 10 let pass, 14.5 to 19.5 margin needs 85 to 90 degrees, more
    than a neck extends (60 to 70, American Academy of Orthopaedic Surgeons and others, from memory)."""
    for exercise in load_exercises().values():
        ids = {check.id for check in exercise.checks}
        assert not ids & {"no-lock-out", "neck-in-line"}
    for name in ("guided-bar-press", "dumbbell-press", "turning-palm-press"):
        assert "no-lock-out" in {item.id for item in load_exercises()[name].untold}
    for name in ("bent-over-lateral-raise", "bent-over-row", "hip-hinge"):
        assert "neck-in-line" in {item.id for item in load_exercises()[name].untold}


def test_no_tolerance_is_paid_beside_the_margin() -> None:
    """Common practice in judging a measurement: what is let pass is in the limit, and the margin comes once."""
    assert all(check.tolerance == 0 for _, check in checks())


def test_the_margin_is_that_of_the_review_itself() -> None:
    """82 degrees are asked for: named as sure from where the margin of the table for a front camera is below that."""
    rows = tomllib.loads((DOCS.parent / "formcheck" / "measures" / "margins.toml").read_text(encoding="utf-8"))
    table = rows["arm_line_raise_peak"]["frontal"]
    row = next(one for one in firing_table.firings() if (one.exercise, one.check.id) == ("lateral-raise", "height"))
    camera = firing_table.CameraView("front", 0.0, None, "estimated")
    margin = compute_margin("arm_line_raise_peak", 82.0, camera, firing_table.USUAL_QUALITY)
    assert row.view == "front"
    assert row.margin == margin
    # As many margins off as make 97.5 % of what is known beforehand and the normal table together (method.md, part 8).
    off = NormalDist().inv_cdf(weigh_prior(0.975, 1 / get_prior_odds())) / 1.959964
    assert row.fires_at == pytest.approx(82.0 - off * table, abs=0.01)
    assert grade_value(row.check, 82.1 - off * table, table) == "probably_not_met"


# Common practice: at which end of the lift a pause is asked for. Held where the muscle is short in raises and flies
# for the middle of the back; before the next rep in the overhead raise; at the bottom in paused presses and squats.
PAUSES = {
    ("overhead-lateral-raise", "brief-pause"): ("bottom_pause", "at_most"),
    ("guided-bar-press", "short-pause"): ("top_pause", "at_most"),
    ("guided-bar-press/paused", "held-low"): ("bottom_pause", "at_least"),
    ("squat/paused", "held-low"): ("bottom_pause", "at_least"),
    ("bent-over-lateral-raise/mid-back", "hold-at-top"): ("top_pause", "at_least"),
    ("bench-lateral-raise/mid-back", "hold-at-top"): ("top_pause", "at_least"),
}


def test_pauses_are_asked_for_at_the_end_of_the_lift_where_the_trade_asks_for_them() -> None:
    found = {}
    for exercise, check in checks():
        if check.measure.endswith("_pause"):
            found[exercise.id, check.id] = (check.measure, "at_least" if check.at_least is not None else "at_most")
    whole = {key: value for key, value in found.items() if "/" not in key[0]}
    # A variation keeps its exercise's pauses.
    inherited = {key: value for key, value in found.items() if "/" in key[0] and key not in PAUSES}
    assert {key: found[key] for key in PAUSES} == PAUSES
    assert set(whole) <= set(PAUSES)
    for (name, check_id), value in inherited.items():
        assert PAUSES[name.split("/")[0], check_id] == value
