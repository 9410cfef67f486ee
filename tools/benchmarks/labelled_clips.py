"""A folder of clips with a truth file, as `real_people.py` reads it (docs/real-people.md)."""

import json
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from formcheck.core.errors import FormcheckError
from formcheck.core.vocabulary import SIGNALS
from formcheck.exercises.registry import get_exercise

TRUTH = "truth.json"
MOST_BYTES = 50_000_000
Seconds = Annotated[float, Field(ge=0, le=3600)]
Span = tuple[Seconds, Seconds]


class TruthError(FormcheckError):
    """A truth file cannot be used; one sentence."""


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Angle(_Part):
    """One curve's true values at moments of a clip."""

    signal: str
    side: Literal["left", "right"] | None = None
    t: tuple[Seconds, ...] = Field(min_length=1)
    degrees: tuple[Annotated[float, Field(ge=-360, le=360)], ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _check(self) -> "Angle":
        term = SIGNALS.get(self.signal)
        if term is None or term.unit != "deg":
            raise ValueError(f"{self.signal!r} is no angle of formcheck's curves")
        if (self.side is not None) != term.sided:
            raise ValueError(f"{self.signal} {'needs a side' if term.sided else 'has no side'}")
        if len(self.t) != len(self.degrees):
            raise ValueError(f"{len(self.t)} moments and {len(self.degrees)} angles")
        if any(a >= b for a, b in pairwise(self.t)):
            raise ValueError("the moments do not rise")
        return self


class Clip(_Part):
    """What is known of a clip."""

    clip: Annotated[str, Field(min_length=1, pattern=r"^[^/\\\x00]+$")]
    exercise: str
    view: Literal["auto", "front", "back", "side", "left", "right", "oblique"] = "auto"
    reps: tuple[Span, ...]
    empty: tuple[Span, ...] = ()
    angles: tuple[Angle, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> "Clip":
        for name, spans in (("reps", self.reps), ("empty", self.empty)):
            if any(start >= end for start, end in spans):
                raise ValueError(f"one of the {name} ends before it starts")
            if any(one[1] > other[0] for one, other in pairwise(spans)):
                raise ValueError(f"two of the {name} overlap, or stand in the wrong order")
        return self


class Truth(_Part):
    """A truth file."""

    format: Literal[1]
    clips: tuple[Clip, ...] = Field(min_length=1)


def read_truth(folder: Path) -> Truth:
    """What is known of the clips of a folder; raises TruthError with one sentence."""
    path = folder / TRUTH
    if not folder.is_dir():
        raise TruthError(f"{str(folder)!r} is no folder.")
    try:
        if path.stat().st_size > MOST_BYTES:
            raise TruthError(f"{str(path)!r} is larger than {MOST_BYTES // 1_000_000} MB.")
        text = path.read_text(encoding="utf-8")
        truth = Truth.model_validate(json.loads(text))
    except OSError as error:
        raise TruthError(f"{str(path)!r} cannot be read: {error.strerror}.") from None
    except ValidationError as error:
        raise TruthError(f"{str(path)!r} breaks the format at {_describe(error)}.") from None
    except (ValueError, RecursionError):
        raise TruthError(f"{str(path)!r} is no JSON text in UTF-8.") from None
    _check_clips(folder, truth.clips)
    return truth


def _check_clips(folder: Path, clips: Sequence[Clip]) -> None:
    names = [one.clip for one in clips]
    for number, one in enumerate(clips, start=1):
        if names.count(one.clip) > 1:
            raise TruthError(f"The clip {one.clip!r} stands in {TRUTH} more than once.")
        if not (folder / one.clip).is_file():
            raise TruthError(f"The clip {one.clip!r}, number {number} in {TRUTH}, is not in the folder.")
        get_exercise(one.exercise)  # UsageError names what there is


def _describe(error: ValidationError) -> str:
    """Where the first break of the format lies, and what it is."""
    first = error.errors()[0]
    where = ".".join(str(part + 1) if isinstance(part, int) else part for part in first["loc"]) or "its beginning"
    return f"{where}: {first['msg'].removeprefix('Value error, ')}"
