"""The commands `exercises` and `show`: every exercise with all it measures and warns of."""

import re

import pytest

from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.registry import list_own_cautions, load_cautions, load_exercises
from formcheck.report import wording
from tests.cli.results import Run, read_output, read_refusal


def test_exercises_lists_them_all(run: Run) -> None:
    out = read_output(run("exercises"))
    for exercise in load_exercises().values():
        assert re.search(rf"^{exercise.id} +{re.escape(exercise.name)} +", out, flags=re.MULTILINE)


@pytest.mark.parametrize("exercise_id", list(load_exercises()))
def test_show_explains_every_measure_limit_and_caution(run: Run, exercise_id: str) -> None:
    out = " ".join(read_output(run("show", exercise_id)).split())
    exercise = load_exercises()[exercise_id]
    assert exercise.summary in out
    assert exercise.filming.advice in out
    for use in exercise.measures:
        # A table breaks its cells, so the plain name is looked for word by word.
        assert all(word in out.lower() for word in MEASURES[use.name].plain.lower().split())
        assert use.name not in out, "the code's own name is for files, not for readers"
    for check in exercise.checks:
        assert check.title in out
        assert check.cue in out
    assert out.count("Basis: ") == len(exercise.checks)
    assert out.count("; seen from ") == len(exercise.checks)
    assert all(wording.format_check_limit(check).replace("\u00a0", " ") in out for check in exercise.checks)
    assert wording.describe_caution("formcheck cautions") in out
    assert all(text in out for text in list_own_cautions(exercise))


def test_cautions_are_shown_in_full(run: Run) -> None:
    out = " ".join(read_output(run("cautions")).split())
    assert all(caution.text in out for caution in load_cautions().values())


def test_show_of_an_unknown_exercise_suggests_one(run: Run) -> None:
    assert "did you mean guided-bar-press" in read_refusal(run("show", "guided-bar-pres"), 2)
