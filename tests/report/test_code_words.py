"""What the core gives as codes has words where it is shown: placement of the phone, what speaks for an exercise."""

import ast
from pathlib import Path

import pytest

import formcheck
from formcheck.core.model import Message
from formcheck.exercises.registry import load_exercises
from formcheck.recognition.template import make_template
from formcheck.report.placement_text import write_hint
from formcheck.report.words import WORDS, describe_reason
from formcheck.signals.placement import Hint

PACKAGE = Path(formcheck.__file__).parent
CORE = ("analysis.py", "findings.py", "verdicts.py", "measures", "reps", "signals", "recognition")
VALUES = {"place": "left", "way": "right", "edges": ("top", "left", "bottom"), "points": ("left_elbow",)}
NUMBERS = ("percent", "degrees", "margin", "distance_percent", "times", "rate", "seconds")


def placement_codes() -> set[str]:
    """The codes that `formcheck.signals.placement` gives, read from its source."""
    tree = ast.parse((PACKAGE / "signals" / "placement.py").read_text(encoding="utf-8"))
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
    return {call.args[0].value for call in calls if call.func.id == "Message"}  # type: ignore[attr-defined, misc]


def test_every_code_of_the_placement_has_its_words() -> None:
    assert placement_codes() == set(WORDS["placement"])
    for code in placement_codes():
        message = Message(code, {**VALUES, **dict.fromkeys(NUMBERS, 7)})
        text = write_hint(Hint("light", "good", message)).text
        assert text.endswith(".")
        assert "_" not in text


def test_what_speaks_for_an_exercise_has_its_words() -> None:
    codes = {one.code for exercise in load_exercises().values() for one in make_template(exercise).values()}
    assert len(codes) > 20
    assert all(len(describe_reason(code).split()) > 1 for code in codes)


def sentences(path: Path) -> list[str]:
    """Strings of three words and more in a module that are neither docstrings nor in an error that is raised."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)):
            skipped |= {id(part) for part in ast.walk(node)}
    texts = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped
    ]
    return [text for text in texts if len(text.split()) > 2]


ALLOWED = {"arm from behind", "pictures a second"}
"""Keys of tables, not shown as sentences."""


@pytest.mark.parametrize("part", CORE)
def test_what_finds_measures_and_judges_holds_no_sentence(part: str) -> None:
    place = PACKAGE / part
    modules = [place] if place.is_file() else sorted(place.rglob("*.py"))
    assert modules
    found = {text for path in modules for text in sentences(path)}
    assert found <= ALLOWED
