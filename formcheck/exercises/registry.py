"""Reads the exercise files; every error names the file and the key."""

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from formcheck.core.errors import ExerciseError, UsageError
from formcheck.core.vocabulary.joints import ALL_JOINTS, Joint
from formcheck.exercises.schema import Exercise
from formcheck.exercises.variations import SEPARATOR, varied

FOLDER = Path(__file__).parent
_SHARED = frozenset({"references.toml", "cautions.toml"})


@dataclass(frozen=True, slots=True)
class Reference:
    """Where a limit or caution comes from."""

    key: str
    text: str
    tag: str
    """How it is known: ``published``, ``from memory`` or ``common practice``."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One sentence of care for the user."""

    key: str
    text: str
    source: str
    general: bool = False
    """It holds for everyone and every exercise."""


@cache
def references() -> Mapping[str, Reference]:
    """Every citation, once, by key."""
    path = FOLDER / "references.toml"
    return {key: Reference(key, *_texts(path, key, entry, ("text", "tag"))) for key, entry in _toml(path).items()}


@cache
def cautions() -> Mapping[str, Caution]:
    """Every caution, once, by key."""
    path = FOLDER / "cautions.toml"
    found = {}
    for key, entry in _toml(path).items():
        general = entry.pop("general", False) if isinstance(entry, dict) else False
        if not isinstance(general, bool):
            raise _wrong(path, key, "general is true or false")
        text, source = _texts(path, key, entry, ("text", "source"))
        found[key] = Caution(key, text, source, general)
    return found


def general_cautions() -> tuple[str, ...]:
    """The sentences that hold for everyone and every exercise, in their order."""
    return tuple(caution.text for caution in cautions().values() if caution.general)


def with_general_cautions(own: Sequence[str]) -> tuple[str, ...]:
    """The general cautions and those stored with a review, each once: reviews of long ago hold fewer."""
    return tuple(dict.fromkeys((*general_cautions(), *own)))


def own_cautions(*exercises: Exercise) -> tuple[str, ...]:
    """The sentences that belong to some exercises beyond the general ones, each once."""
    keys = dict.fromkeys(key for exercise in exercises for key in exercise.cautions)
    return tuple(cautions()[key].text for key in keys if not cautions()[key].general)


def all_cautions(exercise: Exercise) -> tuple[str, ...]:
    """Every caution that holds for an exercise: the general ones, then its own."""
    return (*general_cautions(), *own_cautions(exercise))


@cache
def load_exercises() -> Mapping[str, Exercise]:
    """All shipped exercises by id, in the order of their names."""
    loaded = [load_exercise_file(path) for path in sorted(FOLDER.glob("*.toml")) if path.name not in _SHARED]
    return {exercise.id: exercise for exercise in sorted(loaded, key=lambda item: item.name)}


def get_exercise(exercise_id: str) -> Exercise:
    """One shipped exercise, or with ``exercise/variation`` a variation of it.

    UsageError names the nearest ids when there is none, or the variations there are.
    """
    known = load_exercises()
    exercise_id, separator, variation_id = exercise_id.partition(SEPARATOR)
    if exercise_id in known:
        return varied(known[exercise_id], variation_id) if separator else known[exercise_id]
    near = difflib.get_close_matches(exercise_id, known, n=2, cutoff=0.4)
    hint = f"did you mean {' or '.join(near)}?" if near else f"known are {', '.join(known)}."
    raise UsageError(f"There is no exercise {exercise_id!r}; {hint}")


def joints_of(exercise_id: str) -> frozenset[Joint]:
    """The joints an exercise or a variation loads; all of them for one that is not known or names none."""
    found = load_exercises().get(exercise_id.partition(SEPARATOR)[0])
    return frozenset(found.joints) if found is not None and found.joints else ALL_JOINTS


def load_exercise_file(path: Path) -> Exercise:
    """Read and check one exercise file.

    Raises ExerciseError naming the file and the key for anything that is not in the format, an unknown
    measure, signal, unit, source or caution, or a file name that is not the id.
    """
    try:
        exercise = Exercise.model_validate(_toml(path))
    except ValidationError as error:
        first = error.errors()[0]
        message = first["msg"].removeprefix("Value error, ")
        place = ".".join(str(part) for part in first["loc"])
        if not place:  # an error across keys has no place of its own; its message begins with the key
            place, _, message = message.partition(": ")
        raise _wrong(path, place, message) from None
    if path.stem != exercise.id:
        raise _wrong(path, "id", f"{exercise.id!r} is not the file's name")
    _known_sources(path, "checks", exercise)
    for variation in exercise.variations:
        try:
            _known_sources(path, f"variations.{variation.id}.checks", varied(exercise, variation.id))
        except ValidationError as error:
            message = error.errors()[0]["msg"].removeprefix("Value error, ")
            raise _wrong(path, f"variations.{variation.id}", message) from None
        except ValueError as error:
            place, _, message = str(error).partition(": ")
            raise _wrong(path, place, message) from None
    for position, key in enumerate(exercise.cautions):
        if key not in cautions():
            raise _wrong(path, f"cautions.{position}", f"unknown caution {key!r}")
    return exercise


def _known_sources(path: Path, place: str, exercise: Exercise) -> None:
    for position, check in enumerate(exercise.checks):
        if check.source not in references():
            raise _wrong(path, f"{place}.{position}.source", f"unknown source {check.source!r}")


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise _wrong(path, None, f"cannot be read: {error.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise _wrong(path, None, f"is not TOML: {error}") from None


def _texts(path: Path, key: str, entry: object, names: tuple[str, ...]) -> tuple[str, ...]:
    if not isinstance(entry, dict) or set(entry) != set(names) or not all(isinstance(v, str) for v in entry.values()):
        raise _wrong(path, key, f"needs exactly the texts {', '.join(names)}")
    return tuple(entry[name] for name in names)


def _wrong(path: Path, key: str | None, message: str) -> ExerciseError:
    return ExerciseError(": ".join(filter(None, (path.name, key, message))), path=path, key=key)
