"""The command `history`: lists, shows again, checks and deletes, and nothing in it can steer a terminal."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.formats import decode
from formcheck.storage import Store
from tests.cli.results import SAMPLE, Run, read_output, read_refusal
from tests.facts import says


@pytest.fixture
def stored(formcheck_home: Path) -> Store:
    store = Store.open(formcheck_home / "reviews.sqlite")
    store.save_review(decode(SAMPLE.read_bytes()), created_at=datetime(2026, 3, 1, 12, tzinfo=UTC))
    return store


def test_history_of_nothing_says_so(run: Run) -> None:
    assert says(read_output(run("history")), "no", "reviews")


def test_history_lists_the_rows(run: Run, stored: Store) -> None:
    out = read_output(run("history"))
    assert re.search(
        r"^1 +\d\d? (?:Feb|Mar) 2026, \d\d:\d\d +invented-set\.mp4 +lateral-raise +7\.5 kg +2 \+ 1 partial +0 +1 +1 *$",
        out,
        re.M,
    )
    assert "invented-set" not in read_output(run("history", "--exercise", "guided-bar-press"))


def test_history_shows_a_review_again(run: Run, stored: Store, tmp_path: Path) -> None:
    out = read_output(run("history", "1"))
    assert says(out, "2 complete", "1 partial")
    assert "3 (partial)" in out
    assert says(out, "stop", "hurts")
    shown = read_output(run("history", "1", "--json", "-")).encode()
    assert decode(shown) == decode(SAMPLE.read_bytes())
    # The sample is older than two cameras and corrections by hand; everything it holds is written as it stood there.
    written, sample = json.loads(shown), json.loads(SAMPLE.read_text(encoding="utf-8"))
    assert (written.pop("version"), sample.pop("version")) == (2, 1)
    assert written["quality"].pop("problems") == []
    assert written["view"].pop("known") is True
    assert {item.pop("reason") for item in written["findings"]} == {None}
    assert all(item.pop("text_coded") is None for item in written["findings"])  # its sentences have no codes
    graded = [[item.pop(key) for key in ("grade", "probability", "margin", "kind")] for item in written["findings"]]
    assert graded == [[None, None, None, "level"]] * 2  # and it has no grades
    assert written.pop("points", []) == []
    assert written["quality"].pop("notes_coded") is not None
    assert written["quality"].pop("landmark_jitter") is None  # nor was it known then how much landmarks shook
    assert {key: written[key] for key in sample if key not in ("reps", "measures")} == {
        key: value for key, value in sample.items() if key not in ("reps", "measures")
    }
    read_output(run("history", "1", "--json", tmp_path / "a.json"))
    assert json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["reps"]


def test_history_checks_and_deletes(run: Run, stored: Store) -> None:
    assert says(read_output(run("history", "--check")), "undamaged", "1 review")
    assert says(read_output(run("history", "1", "--delete")), "review 1", "deleted")
    assert "no review 1" in read_refusal(run("history", "1"), 1)
    assert "no review 1" in read_refusal(run("history", "1", "--delete"), 1)


@pytest.mark.parametrize(
    "options",
    [
        ["--delete"],
        ["--json", "-"],
        ["0"],
        ["1", "--check"],
        ["1", "--exercise", "lateral-raise"],
        ["1", "--delete", "--json", "-"],
        ["--limit", "0"],
    ],
)
def test_history_refuses_what_does_not_go_together(run: Run, stored: Store, options: list[str]) -> None:
    assert run("history", *options).exit_code == 2
    assert len(stored.list_reviews()) == 1


def test_a_name_cannot_steer_the_terminal(run: Run, formcheck_home: Path) -> None:
    wicked = SAMPLE.read_text(encoding="utf-8").replace("invented-set.mp4", r"\u001b[31m[bold]x\u0007.mp4")
    with Store.open(formcheck_home / "reviews.sqlite") as store:
        store.save_review(decode(wicked), created_at=datetime.now(UTC))
    for arguments in (["history"], ["history", "1"]):
        out = read_output(run(*arguments))
        assert "\x1b" not in out
        assert "\x07" not in out
        assert "[31m[bold]x" in out


@pytest.mark.parametrize("command", [["history"], ["history", "--check"], ["demo"]])
def test_a_damaged_store_is_one_sentence(run: Run, formcheck_home: Path, root: Path, command: list[str]) -> None:
    (formcheck_home / "reviews.sqlite").write_text("Dear reader, " * 100)
    assert "damaged" in read_refusal(run(*command), 1)
