"""Reps planned each side, from the command that keeps the plan to what every reader is told of it.

Counts and plans are invented; that both sides must reach what is planned is common practice.
"""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import jsonschema
import pytest
from click.testing import Result

from formcheck.batch.planning import fill_set_info
from formcheck.coaching.plan import parse_plan
from formcheck.coaching.plan_adherence import compare_with_plan
from formcheck.core.model import SetInfo
from formcheck.formats.training_json import get_schema_path
from formcheck.report.front_page import list_plan_rows
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from formcheck.web.components.training_html import render_done_list, render_done_table
from formcheck.web.review.set_form import describe_plan
from tests.cli.results import read_output, read_refusal
from tests.facts import says
from tests.statistics.sets import a_set, in_turn

Run = Callable[..., Result]
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
PLAN = parse_plan("3x9 each side @ 8 kg")


@pytest.fixture
def ada(run: Run, formcheck_home: Path) -> str:
    """A client with such a plan and two sets in turn, the second one short on the right."""
    planned = ("plan", "set", "Ada", "lateral-raise", "3x9 each side @ 8 kg", "--from", "2026-02-01")
    assert says(read_output(run("client", "add", "Ada")), "Ada")
    assert says(read_output(run(*planned)), "3x9 each side @ 8 kg")
    with Store.open(default_store()) as store:
        for number, sides in enumerate(("LR" * 9, "LR" * 7 + "LL"), 1):
            review = in_turn(sides)
            review = replace(review, clip=replace(review.clip, sha256=str(number) * 64))
            store.save_review(review, created_at=NOON, client="Ada", session_on=date(2026, 3, 2))
    return "Ada"


def test_a_plan_each_side_is_kept_and_a_wrong_one_refused(run: Run, ada: str) -> None:
    assert "3x9 each side @ 8 kg" in read_output(run("plan", "show", ada))
    wrong = run("plan", "set", ada, "lateral-raise", "9 @ 8 kg each side")
    assert says(read_refusal(wrong, 2), "each side", "behind the reps", "9 each side @ 6 kg")
    with Store.open(default_store()) as store:
        assert [item.plan for item in store.plan_history(ada)] == [PLAN]


def test_progress_tells_both_sides_on_screen_in_the_report_and_as_json(run: Run, ada: str, tmp_path: Path) -> None:
    report, written = tmp_path / "ada.html", tmp_path / "ada.json"
    course = ("progress", ada, "--exercise", "lateral-raise")
    text = " ".join(read_output(run(*course)).split())
    assert says(text, "Set 1: 18 complete reps (9 left, 9 right), as planned")
    assert says(text, "Set 2: 16 complete reps (9 left, 7 right), 2 fewer on the right than the 9 planned each side")
    read_output(run(*course, "--report", report, "--json", written))
    assert "9 left, 9 right / 9 left, 7 right" in " ".join(report.read_text(encoding="utf-8").split())
    document = json.loads(written.read_text(encoding="utf-8"))
    jsonschema.validate(document, json.loads(get_schema_path("progress").read_text(encoding="utf-8")))
    sets = document["progress"]["sessions"][0]["sets"]
    assert [(one["complete_left"], one["complete_right"], one["reps_over"]) for one in sets] == [
        (9, 9, 0),
        (9, 7, -2),
        (None, None, None),
    ]
    assert all(one["planned"]["each_side"] for one in sets)
    assert document["progress"]["advice"]["kind"] != "raise"


def test_page_and_report_show_what_each_side_did() -> None:
    whole, short, untold = (
        compare_with_plan(parse_plan("9 each side @ 8 kg"), [one])[0]
        for one in (in_turn("LR" * 9), in_turn("LR" * 7 + "LL"), a_set(18, exercise="squat"))
    )
    assert says(render_done_list(whole), "9 left, 9 right", "of 9 each side", "as planned")
    assert says(render_done_table([short], "x"), "9 left, 7 right", "of 9 each side", "2 fewer")
    assert says(render_done_list(untold), "18", "of 9 each side", "sides not told")
    rows = [list_plan_rows(one)[0] for one in (whole, short, untold)]
    assert [(row.planned, row.done, row.call) for row in rows] == [
        ("9 each side", "9 left, 9 right", "as_planned"),
        ("9 each side", "9 left, 7 right", "below"),
        ("9 each side", "18", "undecided"),
    ]
    assert says(describe_plan(1, PLAN.for_set(1), PLAN), "9 reps each side", "8 kg")


def test_history_and_client_list_the_reps_of_each_arm(run: Run, ada: str) -> None:
    listed = read_output(run("history"))
    assert "9 left, 7 right" in listed
    assert "9 left, 9 right" in listed
    assert "9 left, 9 right at 8 kg / 9 left, 7 right at 8 kg" in " ".join(
        read_output(run("client", "show", ada)).split()
    )


def test_such_a_plan_gives_a_new_set_its_load_and_its_target_each_side(formcheck_home: Path) -> None:
    with Store.open(default_store()) as store:
        client = store.add_client("Ada", created_at=NOON)
        store.set_plan("Ada", "lateral-raise", PLAN, created_at=NOON, since=date(2026, 2, 1))
        day = date(2026, 3, 2)
        assert fill_set_info(SetInfo(), store, client.id, "lateral-raise", day, 1) == SetInfo(8.0, 9, True)
        assert fill_set_info(SetInfo(None, 18), store, client.id, "lateral-raise", day, 1) == SetInfo(8.0, 18)
