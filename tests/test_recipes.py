"""The contributors' recipes, carried out literally in a copy of the project."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
COPIED = (
    "formcheck",
    "tests",
    "docs",
    ".streamlit",
    "app.py",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
)
LINKED = ("tools", "clips_demo", "LICENSE")
NOT_COPIED = shutil.ignore_patterns("__pycache__", "screens", "pictures", "*.task")
FENCE = re.compile(r"^```(?P<language>\w+)(?P<words>[^\n]*)\n(?P<block>.*?)^```\n", flags=re.M | re.S)


@dataclass(frozen=True)
class Step:
    """A block of a recipe and what the words behind its fence say to do with it.

    Parameters
    ----------
    kind : ``write`` a new file, insert ``below`` or ``above`` a line, append at the ``end``, or ``run`` it.
    place : the file, for all but the last.
    line : part of the line to insert at; of a run, what it prints among other things, parted by ``|``.
    """

    kind: str
    place: str
    line: str
    block: str


def recipes() -> dict[str, list[Step]]:
    """Title → its steps, in order."""
    part = GUIDE.split("\n## Recipes\n")[1].split("\n## ")[0]
    return {text.split("\n")[0]: steps(text) for text in part.split("\n### ")[1:]}


def steps(text: str) -> list[Step]:
    """The steps of one recipe; every block must say what to do with it."""
    found = []
    for fence in FENCE.finditer(text):
        words = dict(word.partition("=")[::2] for word in shlex.split(fence["words"]))
        match words:
            case {"write": place, **rest} | {"end": place, **rest} if not rest:
                found.append(Step(next(iter(words)), place, "", fence["block"]))
            case {"in": place, "below": line, **rest} | {"in": place, "above": line, **rest} if not rest:
                found.append(Step("below" if "below" in words else "above", place, line, fence["block"]))
            case {"run": "", "prints": printed, **rest} if printed and not rest:
                found.append(Step("run", "", printed, fence["block"]))
            case _:
                raise ValueError(f"not a step: ```{fence['language']}{fence['words']}")
    assert text.count("```") == 2 * len(found), "a block that is not read"
    return found


RECIPES = recipes()


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the project, with links to what is large and not touched."""
    place = tmp_path / "project"
    place.mkdir()
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, place / name, ignore=NOT_COPIED)
        else:
            shutil.copyfile(source, place / name)
    for name in LINKED:
        (place / name).symlink_to(ROOT / name)
    return place


def carry_out(step: Step, place: Path) -> str:
    """Do one step; what its commands printed."""
    if step.kind == "run":
        return "".join(run(line, place) for line in step.block.splitlines())
    target = place / step.place
    if step.kind == "write":
        assert not target.exists(), f"{step.place} is there already"
        target.write_text(step.block, encoding="utf-8")
        return ""
    text = target.read_text(encoding="utf-8")
    if step.kind == "end":
        target.write_text(text.rstrip("\n") + "\n" + step.block, encoding="utf-8")
        return ""
    lines = text.splitlines(keepends=True)
    at = next((number for number, line in enumerate(lines) if step.line in line), None)
    assert at is not None, f"{step.place} has no line with {step.line!r}"
    lines.insert(at + (step.kind == "below"), step.block)
    target.write_text("".join(lines), encoding="utf-8")
    return ""


def run(line: str, place: Path) -> str:
    """Run a command of the guide with this Python, in the copy."""
    program, *arguments = shlex.split(line)
    command = {"python": [], "pytest": ["-m", "pytest", "-p", "no:cacheprovider"], "formcheck": ["-m", "formcheck"]}[
        program
    ]
    env = {**os.environ, "PYTHONPATH": str(place), "PYTHONDONTWRITEBYTECODE": "1"}
    env.pop("PYTEST_XDIST_WORKER", None)
    done = subprocess.run(
        [sys.executable, *command, *arguments], cwd=place, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{line}\n{done.stdout[-3000:]}\n{done.stderr[-2000:]}"
    return done.stdout + done.stderr


def test_there_are_four_recipes_and_each_does_something_and_looks() -> None:
    assert list(RECIPES) == ["Add an exercise", "Add a measure", "Add a page", "Add a check with its source"]
    for title, its_steps in RECIPES.items():
        kinds = [step.kind for step in its_steps]
        assert kinds[-1] == "run", title
        assert len(kinds) >= 2, title
    assert [step.kind for step in RECIPES["Add an exercise"]] == ["write", "run"], "a data file and no more"


@pytest.mark.parametrize(
    "words", ["", " put=a.toml", " write=a.toml end=b.toml", " in=a.toml", " run=a.toml", " run", " run prints="]
)
def test_a_block_that_does_not_say_what_it_is_for_is_noticed(words: str) -> None:
    with pytest.raises(ValueError, match="not a step"):
        steps(f"Write `a.toml`:\n\n```toml{words}\nx = 1\n```\n")


@pytest.mark.parametrize("title", RECIPES)
def test_recipe(title: str, copy: Path) -> None:
    for step in RECIPES[title]:
        shown = " ".join(carry_out(step, copy).split())
        wanted = step.line.split("|") if step.kind == "run" else []
        assert [part for part in wanted if part not in shown] == []


@pytest.mark.parametrize(
    "title", [title for title, found in RECIPES.items() if any(".py" in one.place for one in found)]
)
def test_what_a_recipe_writes_passes_the_linter(title: str, copy: Path) -> None:
    written = []
    for step in RECIPES[title]:
        if step.kind in ("write", "below", "above", "end"):
            carry_out(step, copy)
            written += [step.place] if step.place.endswith(".py") else []
    assert written
    for command in (["check"], ["format", "--check"]):
        done = subprocess.run(
            [sys.executable, "-m", "ruff", *command, *written], cwd=copy, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stdout + done.stderr
