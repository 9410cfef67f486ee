"""The words of formcheck: every signal and every measure, with unit and meaning.

Rules live in the exercise files, the vocabulary they may use lives here, in tables beside this module. The exercise
reader refuses any other name; the report and the page take their plain words from here.

Angles follow the neutral-zero method (0 = anatomical position) and are in degrees.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

Unit = Literal["deg", "deg/s", "s", "ratio", "none"]
"""``none``: a number without a unit that is not a ratio of two things of the same kind."""


@dataclass(frozen=True, slots=True)
class SignalTerm:
    """One time series the analysis can give, of each side of the body where it is sided."""

    name: str
    unit: Unit
    sided: bool
    plain: str
    """What it is, in words a lifter understands."""
    note: str = field(default="", kw_only=True)
    """How its numbers are to be read, where that needs a word."""


@dataclass(frozen=True, slots=True)
class MeasureTerm(SignalTerm):
    """One number the analysis can give for a rep, of each side where it is sided."""

    meaning: str
    lengths: str = field(default="", kw_only=True)
    """What a ratio is counted in, where that is a length of the body."""


def read_table(name: str) -> dict[str, Any]:
    """A table of the vocabulary (TOML) as plain data."""
    return tomllib.loads(Path(__file__).with_name(f"{name}.toml").read_text(encoding="utf-8"))


SIGNALS: Mapping[str, SignalTerm] = {name: SignalTerm(name, **row) for name, row in read_table("signals").items()}
MEASURES: Mapping[str, MeasureTerm] = {name: MeasureTerm(name, **row) for name, row in read_table("measures").items()}


def get_plain_name(measure: str) -> str:
    """The plain words for a measure; its own name in words where a stored review has one that is not known any more."""
    return MEASURES[measure].plain if measure in MEASURES else measure.replace("_", " ")


def get_title(measure: str, side: str | None = None) -> str:
    """The plain words for a measure as a title, such as ``Range of motion (left)``."""
    plain = get_plain_name(measure)
    return f"{plain[:1].upper()}{plain[1:]}{f' ({side})' if side else ''}"
