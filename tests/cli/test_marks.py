"""The commands by which a coach answers a review."""

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from formcheck.core.model import ExerciseRef
from formcheck.formats import decode
from formcheck.storage import Store
from formcheck.storage.data_folder import default_store
from tests.cli.results import read_output, read_refusal
from tests.facts import says
from tests.storage.conftest import DATA, NOON

Run = Callable[..., Result]


@pytest.fixture
def home(formcheck_home: Path) -> Path:
    """A data folder with two sets of Ada's and one that has no client."""
    review = decode((DATA / "review_v1.json").read_bytes())
    with Store.open(default_store()) as store:
        for number, client in enumerate(("Ada", "Ada", None), 1):
            clip = dataclasses.replace(review.clip, sha256=f"{number:064x}")
            store.save_review(dataclasses.replace(review, clip=clip), created_at=NOON, client=client)
    return formcheck_home


def test_answers_are_kept_listed_counted_and_taken_back(run: Run, home: Path) -> None:
    assert says(read_output(run("rate", 1)), "No answer")
    assert says(read_output(run("agreement")), "No answer")
    out = read_output(run("rate", 1, "--check", "height", "--disagree", "--why", "one \x1b[31m hand"))
    assert says(out, "height", "you disagree", "hand")
    assert "\x1b" not in out
    out = read_output(run("rate", 1, "--rep", 2, "--agree"))
    assert says(out, "Rep 2", "whole", "you agree")
    read_output(run("rate", 1, "--rep", 2, "--disagree"))
    assert read_output(run("rate", 1)).count("Rep 2") == 1
    read_output(run("rate", 3, "--check", "height", "--agree"))
    table = read_output(run("agreement"))
    assert says(table, "height", "1", "1", "50 %")
    assert says(table, "rep", "0", "1", "0 %")
    assert says(table, "all", "1", "2", "33 %")
    of_ada = read_output(run("agreement", "--client", "ada", "--exercise", "lateral-raise"))
    assert says(of_ada, "height", "0 %")
    read_output(run("rate", 1, "--rep", 2, "--take-back"))
    assert "Rep 2" not in read_output(run("rate", 1))


def test_wrong_answers_are_refused_in_one_sentence(run: Run, home: Path) -> None:
    assert says(read_refusal(run("rate", 1, "--check", "nonsense", "--agree"), 2), "no check", "height")
    assert says(read_refusal(run("rate", 1, "--rep", 99, "--agree"), 2), "no rep 99")
    assert says(read_refusal(run("rate", 77, "--rep", 1, "--agree"), 1), "no review 77")
    assert says(read_refusal(run("rate", 1, "--rep", 1, "--take-back"), 2), "No answer", "rep 1")
    assert says(read_refusal(run("agreement", "--client", "Nobody"), 1), "Nobody")
    assert run("rate", 1, "--agree").exit_code == 2
    assert run("rate", 1, "--rep", 1).exit_code == 2
    assert run("rate", 1, "--rep", 1, "--check", "height", "--agree").exit_code == 2


def test_a_reference_rep_is_chosen_listed_compared_and_removed(run: Run, home: Path) -> None:
    assert says(read_output(run("reference", "list")), "no reference rep")
    assert says(read_output(run("reference", "set", 1, 2)), "Rep 2", "reference rep")
    table = read_output(run("reference", "list", "--client", "ada"))
    assert says(table, "Ada", "Lateral raise", "from the front", "review 1")
    out = read_output(run("reference", "show", 2))
    assert says(out, "Reference", "rep 2", "1 Mar 2026")
    assert "0° ± " in out.replace("\u00a0", " ")  # the same clip: the camera has not moved
    assert "Rep 2 is the reference rep" in read_output(run("history", 1))
    held = read_output(run("history", 2, "--details"))
    assert says(held, "Beside the reference rep")
    document = json.loads(run("history", 2, "--json", "-").stdout)
    assert document["reference"]["rep"] == 2
    read_output(run("reference", "set", 2, 1))
    assert "review 2" in read_output(run("reference", "list"))
    assert "review 1" not in read_output(run("reference", "list"))
    read_output(run("reference", "remove", 2))
    assert json.loads(run("history", 1, "--json", "-").stdout)["reference"] is None


def test_a_clients_history_says_in_short_what_differs_from_the_reference_rep(run: Run, home: Path) -> None:
    assert "reference" not in read_output(run("history", "--client", "Ada"))
    read_output(run("reference", "set", 1, 2))
    listed = read_output(run("history", "--client", "Ada"))
    assert "Beside the reference rep" in listed
    assert "its rep 2 is the reference" in listed
    assert "nothing to compare" in listed  # the sample is judged by what belongs to its own set alone
    assert "reference" not in read_output(run("history"))


@pytest.mark.parametrize(("other", "why"), [("client", "another client"), ("exercise", "Squat"), ("side", "side")])
def test_a_reference_rep_of_another_client_exercise_or_side_is_refused_in_one_sentence(
    run: Run, home: Path, other: str, why: str
) -> None:
    read_output(run("reference", "set", 1, 1))
    with Store.open(default_store()) as store:
        review = store.load_review(2)
        if other == "exercise":
            review = dataclasses.replace(review, exercise=ExerciseRef("squat", "Squat"))
        if other == "side":
            review = dataclasses.replace(review, view=dataclasses.replace(review.view, name="left"))
        number = store.save_review(review, created_at=NOON, client="Bea" if other == "client" else "Ada")
    assert says(read_refusal(run("reference", "show", number, "--against", 1), 2), why)
    shown = run("reference", "show", number)
    assert shown.exit_code == 2
    assert says(read_refusal(shown, 2), "reference rep")
    assert json.loads(run("history", number, "--json", "-").stdout)["reference"] is None


def test_what_can_be_no_reference_rep_is_refused_in_one_sentence(run: Run, home: Path) -> None:
    assert says(read_refusal(run("reference", "set", 3, 1), 2), "no client")
    assert says(read_refusal(run("reference", "set", 1, 9), 2), "no rep 9")
    assert says(read_refusal(run("reference", "set", 77, 1), 1), "no review 77")
    assert says(read_refusal(run("reference", "show", 2), 2), "no reference rep", "review 2")
    assert says(read_refusal(run("reference", "remove", 1), 1), "No rep of review 1")
    read_output(run("reference", "set", 1, 1))
    assert says(read_refusal(run("reference", "show", 3, "--against", 1), 2), "another client")
    assert says(read_refusal(run("reference", "show", 1, "--against", 1), 2), "itself")
