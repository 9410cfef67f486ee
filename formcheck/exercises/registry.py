"""Reads the exercise files; every error names the file and the key."""

import difflib
import tomllib
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from formcheck.core.errors import ExerciseError, UsageError, explain_validation
from formcheck.core.file_reading import read_small_file
from formcheck.core.vocabulary.joints import ALL_JOINTS, Joint
from formcheck.exercises import own_files
from formcheck.exercises.schema import Exercise, FieldError, Strict
from formcheck.exercises.variations import SEPARATOR, apply_variation

FOLDER = Path(__file__).resolve().parent
MOST_BYTES = 1024**2
"""What an exercise file may hold; the largest shipped one has some 7 KB."""
_SHARED = frozenset({"references.toml", "cautions.toml", "measures.toml"})


class Reference(Strict):
    """Where a limit or caution comes from."""

    key: str
    text: str
    tag: str
    """How it is known: ``published``, ``from memory`` or ``common practice``."""


class Caution(Strict):
    """One sentence of care for the user."""

    key: str
    text: str
    source: str
    general: bool = False
    """It holds for everyone and every exercise."""


Entry = TypeVar("Entry", bound=Strict)


@cache
def load_references() -> Mapping[str, Reference]:
    """Every citation, once, by key."""
    return _read_entries("references.toml", Reference)


@cache
def load_cautions() -> Mapping[str, Caution]:
    """Every caution, once, by key."""
    return _read_entries("cautions.toml", Caution)


def list_general_cautions() -> tuple[str, ...]:
    """The sentences that hold for everyone and every exercise, in their order."""
    return tuple(caution.text for caution in load_cautions().values() if caution.general)


def add_general_cautions(own: Sequence[str]) -> tuple[str, ...]:
    """The general cautions and those stored with a review, each once: reviews of long ago hold fewer."""
    return tuple(dict.fromkeys((*list_general_cautions(), *own)))


def list_own_cautions(*exercises: Exercise) -> tuple[str, ...]:
    """The sentences that belong to some exercises beyond the general ones, each once."""
    keys = dict.fromkeys(key for exercise in exercises for key in exercise.cautions)
    return tuple(load_cautions()[key].text for key in keys if not load_cautions()[key].general)


def find_cautions(exercise_id: str) -> tuple[str, ...]:
    """Every caution that holds for an exercise; the general ones alone for one that is not known any more."""
    try:
        return list_cautions(get_exercise(exercise_id))
    except UsageError:
        return list_general_cautions()


def list_cautions(exercise: Exercise) -> tuple[str, ...]:
    """Every caution that holds for an exercise: the general ones, then its own."""
    return (*list_general_cautions(), *list_own_cautions(exercise))


@cache
def load_shipped_exercises() -> Mapping[str, Exercise]:
    """All exercises that come with formcheck by id, in the order of their names."""
    loaded = [load_exercise_file(path) for path in sorted(FOLDER.glob("*.toml")) if path.name not in _SHARED]
    return _sort_by_name(loaded)


def load_exercises() -> Mapping[str, Exercise]:
    """All exercises by id, in the order of their names: those shipped, and those of the user's own files.

    An own file that cannot be used is left out; `list_own_exercise_problems` says why.
    """
    return _sort_by_name([*load_shipped_exercises().values(), *load_own_exercises()])


def load_own_exercises() -> tuple[Exercise, ...]:
    """The exercises of the user's own files (`formcheck.exercises.own_files`)."""
    return _read_own(own_files.list_files())[0]


def list_own_exercise_problems() -> tuple[str, ...]:
    """Why own exercise files cannot be used, one sentence a file that names file and key."""
    return tuple(map(str, _read_own(own_files.list_files())[1]))


def add_exercise_file(path: Path) -> Exercise:
    """Know the exercise of a file named in a call, beside those of the user's folder, until the call ends.

    Raises what `load_own_exercise` raises, and ExerciseError when another own file has the id already.
    """
    exercise = load_own_exercise(path)
    if exercise.id in load_shipped_exercises():
        return exercise
    same_name = [other for other, _, _ in own_files.list_files() if other.stem == path.stem]
    for other in same_name:
        if load_own_exercise(other) != exercise:
            raise _make_error(path, "id", f"{exercise.id!r} is the id of another file, {other}; give one another name")
    if not same_name:
        own_files.add_file(path)
    return exercise


def get_exercise(exercise_id: str) -> Exercise:
    """One exercise, or with ``exercise/variation`` a variation of it.

    Raises UsageError that names the nearest ids when there is none, the variations there are, or what is wrong with
    the user's own file of this id.
    """
    name = exercise_id.partition(SEPARATOR)[0]
    for problem in _read_own(own_files.list_files())[1]:
        if problem.path is not None and problem.path.stem == name and name not in load_shipped_exercises():
            raise UsageError(str(problem), path=problem.path, key=problem.key)
    return find_exercise(exercise_id, load_exercises())


def find_exercise(exercise_id: str, known: Mapping[str, Exercise]) -> Exercise:
    """The same among some exercises by id (UsageError)."""
    name, separator, variation_id = exercise_id.partition(SEPARATOR)
    if name in known:
        return apply_variation(known[name], variation_id) if separator else known[name]
    near = difflib.get_close_matches(name, known, n=2, cutoff=0.4)
    hint = f"did you mean {' or '.join(near)}?" if near else f"known are {', '.join(known)}."
    raise UsageError(f"There is no exercise {exercise_id!r}; {hint}")


def get_reviewed_exercise(exercise_id: str) -> Exercise:
    """`get_exercise` for what is stored already: its UsageError says that the exercise is not known any more."""
    try:
        return get_exercise(exercise_id)
    except UsageError as error:
        name, folder = exercise_id.partition(SEPARATOR)[0], own_files.get_own_folder()
        if error.path is not None or name in load_shipped_exercises():
            raise
        where = "" if folder is None else f": there is no file {folder / name}.toml"
        raise UsageError(f"There is no exercise {name!r} any more{where}.") from None


def list_exercises_with(*more: Exercise) -> Collection[Exercise]:
    """All exercises, and those of `more` that are none of them nor variations of them."""
    known = load_exercises()
    return (*known.values(), *(each for each in more if each.id.partition(SEPARATOR)[0] not in known))


@lru_cache(maxsize=8)
def _read_own(files: tuple[own_files.FileState, ...]) -> tuple[tuple[Exercise, ...], tuple[ExerciseError, ...]]:
    exercises, problems = [], []
    for path, _, _ in files:
        try:
            exercises.append(load_own_exercise(path))
        except ExerciseError as error:
            problems.append(error)
    return tuple(exercises), tuple(problems)


def _sort_by_name(exercises: Iterable[Exercise]) -> Mapping[str, Exercise]:
    return {exercise.id: exercise for exercise in sorted(exercises, key=lambda item: item.name)}


def list_joints(exercise_id: str) -> frozenset[Joint]:
    """The joints an exercise or a variation loads; all of them for one that is not known or names none."""
    found = load_exercises().get(exercise_id.partition(SEPARATOR)[0])
    return frozenset(found.joints) if found is not None and found.joints else ALL_JOINTS


def load_own_exercise(path: Path) -> Exercise:
    """Read and check an exercise file of the user's own.

    Raises what `load_exercise_file` raises, and ExerciseError when its id is that of a shipped exercise.
    """
    exercise = load_exercise_file(path)
    if exercise.id in load_shipped_exercises() and path.resolve().parent != FOLDER:
        raise _make_error(path, "id", f"{exercise.id!r} is the id of a shipped exercise; give file and id another name")
    return exercise


def load_exercise_file(path: Path) -> Exercise:
    """Read and check one exercise file.

    Raises ExerciseError naming the file and the key for anything that is not in the format, an unknown
    measure, signal, unit, source or caution, or a file name that is not the id.
    """
    exercise = _validate(path, Exercise, fill_default_views(_read_toml(path)))
    if path.stem != exercise.id:
        raise _make_error(path, "id", f"{exercise.id!r} is not the file's name")
    _check_sources(path, "checks", exercise)
    for variation in exercise.variations:
        prefix = f"variations.{variation.id}"
        try:
            _check_sources(path, f"{prefix}.checks", apply_variation(exercise, variation.id))
        except ValueError as error:
            raise _make_error(path, *_locate(error, prefix)) from None
    for position, key in enumerate(exercise.cautions):
        if key not in load_cautions():
            raise _make_error(path, f"cautions.{position}", f"unknown caution {key!r}")
    return exercise


def fill_default_views(content: dict[str, Any]) -> dict[str, Any]:
    """The content of an exercise file, each measure given by its name alone as a table with the views that show it.

    Those are the ones `measures.toml` lists for the plane the lift moves in; a measure without any keeps none.
    """
    driver = content.get("driver")
    frontal = isinstance(driver, dict) and driver.get("frontal") == "arm_raise"

    def filled(part: dict[str, Any]) -> dict[str, Any]:
        uses = part.get("measures")
        return part | {"measures": [use_of(use) for use in uses]} if isinstance(uses, list) else part

    def use_of(use: object) -> object:
        if not isinstance(use, str):
            return use
        views = _read_default_views().get(use)
        views = views.get("frontal" if frontal else "sagittal") if isinstance(views, dict) else views
        return {"name": use} if views is None else {"name": use, "views": views}

    variations = content.get("variations")
    if isinstance(variations, list):
        content = content | {"variations": [filled(one) if isinstance(one, dict) else one for one in variations]}
    return filled(content)


@cache
def _read_default_views() -> Mapping[str, Any]:
    return _read_toml(FOLDER / "measures.toml")


def _check_sources(path: Path, prefix: str, exercise: Exercise) -> None:
    for position, check in enumerate(exercise.checks):
        if check.source not in load_references():
            raise _make_error(path, f"{prefix}.{position}.source", f"unknown source {check.source!r}")


def _read_entries(name: str, kind: type[Entry]) -> Mapping[str, Entry]:
    """The tables of a shared file by key, each with its key."""
    path = FOLDER / name
    return {key: _validate(path, kind, {**entry, "key": key}, key) for key, entry in _read_toml(path).items()}


def _validate(path: Path, kind: type[Entry], content: Mapping[str, Any], *keys: str) -> Entry:
    try:
        return kind.model_validate(content)
    except ValidationError as error:
        raise _make_error(path, *_locate(error, *keys)) from None


def _locate(error: ValueError, *keys: str) -> tuple[str, str]:
    """The key within the file that an error is about, and what is wrong with it."""
    message = str(error)
    if isinstance(error, ValidationError):
        first = error.errors()[0]
        keys, message = (*keys, *map(str, first["loc"])), explain_validation(first)
        error = first.get("ctx", {}).get("error", error)
    if isinstance(error, FieldError):
        keys = (*keys, error.key)
    return ".".join(keys), message


def _read_toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(read_small_file(path, MOST_BYTES).decode("utf-8"))
    except OSError as error:
        raise _make_error(path, None, f"cannot be read: {error.strerror}") from None
    except RecursionError:
        raise _make_error(path, None, "is not TOML that can be read: its brackets are nested too deep") from None
    except ValueError as error:  # not TOML, not UTF-8, or a zero byte in the name
        raise _make_error(path, None, f"is not TOML: {error}") from None


def _make_error(path: Path, key: str | None, message: str) -> ExerciseError:
    where = ": ".join(filter(None, (path.name, key, message.rstrip("."))))
    return ExerciseError(f"The exercise file {where}.", path=path, key=key)
