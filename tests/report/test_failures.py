"""A clip from which nothing may be concluded looks like it in every report and list: no side, no number, no verdict."""

import io
import re
from contextlib import redirect_stdout
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from formcheck.cli.printing import print_review
from formcheck.core.model import QualityProblem
from formcheck.core.vocabulary.problems import PROBLEMS, add_problems
from formcheck.exercises.registry import get_exercise
from formcheck.formats import decode, encode
from formcheck.report import wording
from formcheck.report.problem_text import describe_problem, name_problems
from formcheck.report.set_report import render_pdf, render_report
from formcheck.storage import Store
from tests.report.test_html import read, words
from tests.report.test_pdf import pages_of
from tests.web.synthetic import synthetic_analysis, with_problem

EXERCISE = get_exercise("lateral-raise")
BLOCKING = [code for code, term in PROBLEMS.items() if term.blocks_review]
VALUES = {
    "found_share": 0.0,
    "length_s": 1.6,
    "needed_s": 2.0,
    "rate": 4.0,
    "needed_rate": 10.0,
    "exercise": "squat",
    "confidence": 0.93,
    "also": "",
    "reps": 0,
}


def problem(code: str) -> QualityProblem:
    return QualityProblem(code, {name: VALUES[name] for name in PROBLEMS[code].parameters})


def says_no_more_than(text: str, sentence: str) -> None:
    """The sentence is there, and neither a camera side, nor an angle, nor that there is nothing to change."""
    assert sentence in text
    before = text[: text.index("Please read") if "Please read" in text else len(text)]
    assert "nothing to change" not in before.lower()
    assert not re.search(r"[Ff]ilmed (from|at)", before)
    assert not re.search(r"\d\s?°|± ", before.replace(" ".join(EXERCISE.filming.advice.split()), ""))


@pytest.mark.parametrize("code", BLOCKING)
def test_report_and_paper_say_it_first_and_nothing_else(code: str) -> None:
    analysis = with_problem(synthetic_analysis(), problem(code))
    sentence = describe_problem(problem(code))
    shown = words(read(render_report(analysis, EXERCISE)))
    # The explanation of angles at the end speaks of degrees in general.
    says_no_more_than(shown[: shown.index("How to read this")], sentence)
    paper = " ".join(pages_of(render_pdf(analysis, EXERCISE)))
    says_no_more_than(paper[: paper.index("How to read this")], sentence)
    for text in (shown, paper):
        assert text.index(sentence) < text.index("Camera and picture")


@pytest.mark.parametrize("code", PROBLEMS)
def test_the_codes_are_in_the_document_and_in_the_row_of_a_list(code: str, tmp_path: Path) -> None:
    values = {"from_s": 1.0, "to_s": 2.0, "lasting_s": 1.0, "read_s": 3.0, **VALUES}
    one = QualityProblem(code, {name: values[name] for name in PROBLEMS[code].parameters})
    review = with_problem(synthetic_analysis(), one).review
    assert decode(encode(review)).quality.problems == (one,)
    with Store.open(tmp_path / "reviews.sqlite") as store:
        store.save_review(review, created_at=datetime(2026, 3, 1, tzinfo=UTC))
        (row,) = store.list_reviews()
    assert row.problem_codes == (code,)


def test_of_a_set_seen_in_part_it_is_not_said_that_there_is_nothing_to_change() -> None:
    review = synthetic_analysis().review
    kept = tuple(item for item in review.findings if item.verdict != "not_met")
    sound = replace(review, findings=kept)
    assert "nothing to change" in wording.summarise(sound)
    partly = replace(sound, quality=replace(sound.quality, problems=(QualityProblem("body-not-fitted"),)))
    assert "nothing to change" not in wording.summarise(partly)
    assert wording.summarise(partly).startswith(describe_problem(QualityProblem("body-not-fitted")))


def test_another_exercise_is_named_with_how_sure() -> None:
    sentence = describe_problem(problem("other-exercise"))
    assert get_exercise("squat").name in sentence
    assert "93%" in sentence
    assert "No rep" in sentence


def test_where_reps_were_found_it_is_not_said_that_there_was_none() -> None:
    values = {**VALUES, "reps": 4, "also": "hip-hinge front-raise"}
    sentence = describe_problem(QualityProblem("other-exercise", values))
    assert "No rep" not in sentence
    assert all(get_exercise(name).name in sentence for name in ("squat", "hip-hinge", "front-raise"))
    stored_before = describe_problem(QualityProblem("other-exercise", {"exercise": "squat", "confidence": 0.93}))
    assert stored_before == describe_problem(problem("other-exercise"))


def test_damage_is_said_before_everything_and_no_praise_hides_it() -> None:
    analysis = synthetic_analysis()
    review = analysis.review
    lost = QualityProblem("clip-damaged", {"read_s": 17.3, "length_s": 30.4})
    quality = add_problems(replace(review.quality, problems=()), QualityProblem("body-not-fitted"), lost)
    findings = tuple(item for item in review.findings if item.verdict != "not_met")
    analysis = replace(analysis, review=replace(review, quality=quality, findings=findings))
    shown = words(read(render_report(analysis, EXERCISE)))
    paper = " ".join(pages_of(render_pdf(analysis, EXERCISE)))
    out = io.StringIO()
    with redirect_stdout(out):
        print_review(analysis.review, EXERCISE)
    for text in (shown, paper, " ".join(out.getvalue().split()), wording.summarise(analysis.review)):
        assert re.search(r"damaged: 17\.3 of 30\.4 seconds", text)
        assert "nothing to change" not in text.lower()
        said = text.index("is damaged")
        for later in ("Going well", "could not be judged", "Reps", "How the body stands"):
            assert later not in text or said < text.index(later)
    assert name_problems(("clip-damaged", "no-reps")).lower().startswith("clip damaged")


def test_the_second_cameras_damage_is_told_as_its_own() -> None:
    values: dict[str, float | str] = {"read_s": 17.3, "length_s": 30.4, "camera": "second"}
    assert "second clip" in describe_problem(QualityProblem("clip-damaged", values))
