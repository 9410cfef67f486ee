"""What makes a review impossible or incomplete is said in one sentence, whichever version of formcheck wrote it."""

from pathlib import Path

import pytest

from formcheck.core.model import QualityProblem
from formcheck.core.vocabulary.problems import PROBLEMS
from formcheck.report.problem_text import describe_problem

FORMAT = (Path(__file__).parents[2] / "docs" / "review-format.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("code", PROBLEMS)
def test_every_code_has_its_sentence_and_its_row_in_the_documentation(code: str) -> None:
    values = dict.fromkeys(PROBLEMS[code].parameters, 3.0)
    sentence = describe_problem(QualityProblem(code, values))
    assert sentence.endswith(".")
    assert code not in sentence
    assert f"| `{code}` | {', '.join(f'`{name}`' for name in PROBLEMS[code].parameters)} |" in FORMAT


@pytest.mark.parametrize("given", [{}, {"read_s": "a", "length_s": 1.0}])
def test_a_code_or_parameters_from_elsewhere_are_still_told(given: dict[str, float | str]) -> None:
    assert "unheard-of" in describe_problem(QualityProblem("unheard-of", given))
    assert "clip-damaged" in describe_problem(QualityProblem("clip-damaged", given))
