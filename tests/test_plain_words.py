"""Texts a user reads, read as someone who lifts but never measured: no term without its plain word beside it."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

import formcheck
from formcheck import review_text
from formcheck.cli import cli
from formcheck.coaching import words
from formcheck.coaching.advice import load_rules
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.exercises.registry import load_cautions, load_exercises, load_references
from formcheck.report.words import WORDS

# Our own list: the term, and the plain words one of which must stand in the same text; none: it is not used at all.
TERMS = {
    "landmark": ("body point",),
    "driver": (),
    "kinematic": (),
    "sagittal": (),
    "abduction": (),
    "pronat": (),
    "supinat": (),
    "half-width": (),
    "concentric": ("lift",),
    "eccentric": ("lower",),
    "median": ("middle",),
    "percentile": (),
    "spectral": ("evenly",),
    "root mean square": ("usual",),
    "goniometer": ("protractor",),
    "impingement": ("pinching",),
    "flexion": ("raise", "bend"),
    "arterial": ("blood pressure",),
    "yaw": (),
    "oblique": ("between front and side",),
    "hash": ("scrambled",),
    "one-repetition maximum": ("lifted once",),
    "reps in reserve": ("more",),
    "scatter": (),
    "outlier": (),
    "interpolat": (),
    "standard deviation": (),
    "confidence interval": (),
    "p-value": (),
    "residual": (),
    "regression": (),
    "azimuth": (),
    "anatomical": (),
    "trunk lengths": (),
}

PACKAGE = Path(formcheck.__file__).parent
NAMES = re.compile(r"landmark recording \{\}|pose landmarker bundle|stored landmark array")
"""Names of kinds of file, as in an error about one, where the path stands behind it."""
KNOWN_BARE = ("The pose model gives {} landmarks",)
"""Still said with the term alone: to makers of a pose model."""


def sentences(path: Path) -> Iterator[tuple[int, str]]:
    """(line, text) of every string of two words and more in a module that is no docstring; {} where a value goes."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        elif isinstance(node, ast.JoinedStr):
            skipped |= {id(part) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            text = node.value
        else:
            continue
        if len(text.split()) > 1:
            yield node.lineno, text


def spoken() -> Iterator[tuple[str, str]]:
    """(where, text) of what the code itself says: screens, reports, errors, and what stands in their templates."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for line, text in sentences(path):
            yield f"{path.relative_to(PACKAGE)}:{line}", text
    for path in sorted([*PACKAGE.rglob("*.j2"), *PACKAGE.rglob("*.html")]):
        shown = re.sub(r"\{[{%#].*?[}%#]\}", "{}", path.read_text(encoding="utf-8"), flags=re.S)
        for text in re.split(r"<[^>]*>", shown):
            if text.strip():
                yield path.name, text


def helped(command: click.Command, name: str) -> Iterator[tuple[str, str]]:
    """(where, text) of the help of a command, of each of its options and of the commands below it."""
    yield name, command.help or ""
    for option in command.params:
        if isinstance(option, click.Option):
            yield f"{name} {option.opts[0]}", f"{option.opts[0]} {option.help or ''}"
    for below, inner in getattr(command, "commands", {}).items():
        yield from helped(inner, f"{name} {below}")


def texts() -> Iterator[tuple[str, str]]:
    """(where, text) of what exercises, cautions, sources, rules, numbers and reading notes say."""
    for exercise in load_exercises().values():
        yield exercise.id, " | ".join((exercise.name, exercise.summary, exercise.filming.advice))
        for point in exercise.checks:
            yield f"{exercise.id}:{point.id}", f"{point.title} | {point.cue}"
        for untold in exercise.untold:
            yield f"{exercise.id}:{untold.id}", f"{untold.title} | {untold.reason}"
        for variation in exercise.variations:
            yield f"{exercise.id}/{variation.id}", f"{variation.name} | {variation.summary}"
            for point in variation.checks:
                yield f"{exercise.id}/{variation.id}:{point.id}", f"{point.title} | {point.cue}"
            for untold in variation.untold:
                yield f"{exercise.id}/{variation.id}:{untold.id}", f"{untold.title} | {untold.reason}"
    for caution in load_cautions().values():
        yield caution.key, caution.text
    for source in load_references().values():
        yield source.key, source.text
    for rule in load_rules().rules:
        yield rule.id, f"{rule.text} | {rule.doubt}"
    for measure in MEASURES.values():
        yield measure.name, f"{measure.plain} | {measure.meaning}"
    for signal in SIGNALS.values():
        yield signal.name, f"{signal.plain} | {signal.note}"
    for table in (words.WORDS, *WORDS.values(), *review_text.TEMPLATES.values()):
        for code, sentence in table.items():
            yield code, f"{code} | {sentence}"


@pytest.fixture(scope="module")
def everything() -> list[tuple[str, str]]:
    """Every text a user may be shown."""
    return [
        (where, NAMES.sub("file", text))
        for where, text in (*texts(), *spoken(), *helped(cli, "formcheck"))
        if not text.startswith(KNOWN_BARE)
    ]


@pytest.mark.parametrize("term", TERMS)
def test_no_term_without_its_plain_word(term: str, everything: list[tuple[str, str]]) -> None:
    found = [(where, text) for where, text in everything if re.search(rf"\b{term}", text, flags=re.I)]
    bare = [where for where, text in found if not any(word in text.lower() for word in TERMS[term])]
    assert bare == []


def test_every_option_of_every_command_is_explained() -> None:
    told = list(helped(cli, "formcheck"))
    assert len(told) > 100
    assert [where for where, text in told if len(text.split()) < 2 and "--help" not in where] == []


def test_the_texts_are_read(everything: list[tuple[str, str]]) -> None:
    said = [text for _, text in everything]
    assert len(said) > 1500
    assert any("Reading the body points again" in text for text in said)  # a page
    assert any("cannot be undone" in text or "damaged; nothing was changed" in text for text in said)  # an error
    assert any("Volume is load times complete reps" in text for text in said)  # a template
    assert any(text.startswith("--pose-model ") for text in said)  # the help
    read = dict(texts())
    assert len(read) > 200
    assert "Largest angle between upper arm and trunk" in read["arm_elevation_peak"]
    assert "spotter" in read["overhead-load"]
