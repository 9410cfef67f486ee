"""The words for codes of the training, from ``words.toml`` beside this module."""

import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from formcheck.core.model import Message
from formcheck.core.vocabulary.numbers import format_day
from formcheck.core.vocabulary.problems import PROBLEMS
from formcheck.core.vocabulary.sentences import Formats, write_sentence

WORDS: Mapping[str, str] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
"""Code → its sentence."""
TARGETS = {
    "eccentric_time": "lowering",
    "bottom_pause": "pause at the bottom",
    "concentric_time": "lifting",
    "top_pause": "pause at the top",
    "range": "range",
}
"""What a plan asks for beside reps and load."""


def describe(message: Message) -> str:
    """The sentence of a code."""
    return write_sentence(WORDS[message.code], message.parameters, _FORMATS)


def write_kg(load: object) -> str:
    """A load as the trade writes it: ``20`` or ``17.5``."""
    return f"{load:.1f}".removesuffix(".0")


def _write_meaning(problem: object) -> str:
    known = PROBLEMS.get(str(problem))
    return f" {known.meaning}" if known else ""


_FORMATS: Formats = {
    "meaning": _write_meaning,
    "target": lambda name: (
        TARGETS[str(name)] if name in ("eccentric_time", "concentric_time") else f"the {TARGETS[str(name)]}"
    ),
    "planned": lambda reps: f" for {reps} planned" if reps else "",
    "kg": write_kg,
    "elsewhere": lambda name: f"another exercise for the same joint ({name}) in " if name else "",
    "day": lambda day: format_day(date.fromisoformat(str(day))),
    "where": lambda place: f": {place}" if place else "",
}
