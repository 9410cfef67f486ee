"""What a batch is made of: a folder of clips, or a list of them as a table of comma-separated values.

The list's first line names its columns, in any order and any capitals: ``clip``, and if wanted ``client``,
``exercise``, ``load`` (kilograms), ``target reps``, ``view``, ``session`` (a day such as 2026-03-01) and ``set``. An
empty cell means the default. Clips are named from the folder of the list, or by URL; so are exercise files (``.toml``)
in the column ``exercise``.
"""

import csv
import io
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, get_args

from formcheck.batch.requests import AUTO, ClipRequest
from formcheck.core.errors import ExerciseError, FormcheckError, UsageError
from formcheck.core.model import FIRST_DAY, LAST_DAY, ViewHint
from formcheck.exercises.registry import add_exercise_file, get_exercise
from formcheck.storage.clients import client_name

ENDINGS = {".mp4", ".mov", ".m4v", ".mkv", ".webm", ".avi", ".3gp", ".3g2", ".mts", ".m2ts", ".ts"}
ENDINGS |= {".mpg", ".mpeg", ".wmv", ".flv", ".ogv", ".mxf", ".vob", ".asf"}
MOST_BYTES = 64 * 1024**2
MOST_LOAD_KG = 2000.0
MOST_REPS = 1000
COLUMNS = {
    "clip": "clip",
    "client": "client",
    "exercise": "exercise_id",
    "load": "load_kg",
    "load kg": "load_kg",
    "target reps": "target_reps",
    "view": "view",
    "session": "session_on",
    "set": "set_number",
}
"""Name in the list → field of an order."""


def read_orders(source: Path, defaults: ClipRequest) -> list[ClipRequest]:
    """The orders of a folder or a list.

    Parameters
    ----------
    source : a folder, whose clips are taken in the order of their names, or a list.
    defaults : what holds where nothing else is said; its `clip` is of no meaning.

    Raises UsageError, which names the line, when anything in the list cannot be understood, or there are no clips.
    """
    try:
        if source.is_dir():
            return _of_folder(source, defaults)
        if source.stat().st_size > MOST_BYTES:
            raise UsageError(f"The list {_shown(source)} is too large for a list of clips.")
        data = source.read_bytes()
    except FileNotFoundError:
        raise UsageError(f"There is no folder or list {_shown(source)}.") from None
    except ValueError:  # a zero byte in the name
        raise UsageError(f"There is no folder or list {_shown(source)}.") from None
    except OSError as error:
        raise UsageError(f"{_shown(source)} cannot be read: {error.strerror}.") from None
    return orders_in(data, source, defaults)


def checked_defaults(exercise_id: str, client: str | None, view: str, session_on: date | None) -> ClipRequest:
    """What holds where the list says nothing, from the command line (UsageError)."""
    said: dict[str, Any] = {}
    for field, value in (("exercise_id", exercise_id), ("client", client), ("view", view)):
        try:
            if value is not None:
                said[field] = _READERS[field](value)
        except ValueError as error:
            raise UsageError(f"The command line {error}.") from None
    return ClipRequest("", session_on=session_on, **said)


def _of_folder(folder: Path, defaults: ClipRequest) -> list[ClipRequest]:
    files = (path for path in folder.iterdir() if path.suffix.lower() in ENDINGS and not path.name.startswith("."))
    clips = sorted(path.absolute() for path in files if not path.is_dir())
    if not clips:
        raise UsageError(f"There are no clips in the folder {_shown(folder)}.")
    return [replace(defaults, clip=str(clip)) for clip in clips]


def orders_in(data: bytes, source: Path, defaults: ClipRequest) -> list[ClipRequest]:
    """The orders of a list's bytes (UsageError)."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _wrong(source, line, "is not UTF-8 text; save the list as CSV in UTF-8") from None
    lines = _rows(text, source)
    head_line, head = next(lines, (1, []))
    if not head:
        raise _wrong(source, 1, "is empty, but must name the columns")
    fields = _fields(head, source, head_line)
    found = [_order(fields, row, source, line, defaults) for line, row in lines]
    if not found:
        raise UsageError(f"There are no clips in the list {_shown(source)}.")
    return found


def _rows(text: str, source: Path) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every row that is not empty."""
    first = text.partition("\n")[0]
    separator = max(",;\t", key=first.count)
    # Strict: a quotation mark that is never closed would else swallow the rest of the list.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    while True:
        try:
            row = next(reader, None)
        except csv.Error as error:
            raise _wrong(source, line, f"is not comma-separated text ({error})") from None
        if row is None:
            return
        cells = [cell.strip() for cell in row]
        if any(cells):
            yield line, cells
        line = reader.line_num + 1


def _fields(head: list[str], source: Path, line: int) -> list[str]:
    fields = []
    for name in head:
        field = COLUMNS.get(" ".join(re.split(r"[\s_()]+", name.lower())).strip())
        if field is None:
            known = ", ".join(name for name in COLUMNS if name != "load kg")
            raise _wrong(source, line, f"names a column {_quoted(name)}; known are {known}")
        if field in fields:
            raise _wrong(source, line, f"names the column {_quoted(name)} twice")
        fields.append(field)
    if "clip" not in fields:
        raise _wrong(source, line, "must name the columns, and one of them must be clip")
    return fields


def _order(fields: list[str], row: list[str], source: Path, line: int, defaults: ClipRequest) -> ClipRequest:
    if len(row) > len(fields) and any(row[len(fields) :]):
        raise _wrong(source, line, f"has {len(row)} cells, but the list has {len(fields)} columns")
    said: dict[str, Any] = {}
    for field, cell in zip(fields, row, strict=False):
        if not cell:
            continue
        if field == "exercise_id" and cell.lower().endswith(".toml"):
            cell = str(source.absolute().parent / cell)
        try:
            said[field] = _READERS[field](cell)
        except ValueError as error:
            raise _wrong(source, line, str(error)) from None
    if "clip" not in said:
        raise _wrong(source, line, "names no clip")
    if "://" not in said["clip"]:
        said["clip"] = str(source.absolute().parent / Path(said["clip"]).expanduser())
    return replace(defaults, line=line, **said)


# ---------------------------------------------------------------- cells


def _clip(cell: str) -> str:
    if not cell.isprintable():
        raise ValueError(f"names a clip with characters that cannot be printed: {_quoted(cell)}")
    if cell.startswith("~"):
        try:
            Path(cell).expanduser()
        except RuntimeError:
            raise ValueError(f"names a clip in a home folder that is not known: {_quoted(cell)}") from None
    return cell


def _client(cell: str) -> str:
    try:
        return client_name(cell)
    except FormcheckError as error:
        raise ValueError(f"names a client that cannot be kept: {str(error).rstrip('.')}") from None


def _exercise(cell: str) -> str:
    if cell.lower() == AUTO:
        return AUTO
    try:
        return add_exercise_file(Path(cell)).id if cell.lower().endswith(".toml") else get_exercise(cell).id
    except ExerciseError as error:
        raise ValueError(f"names an exercise file that cannot be used: {str(error).rstrip('.')}") from None
    except FormcheckError as error:
        raise ValueError(f"names an exercise that is not known: {str(error).rstrip('.')}") from None


def _load(cell: str) -> float:
    number = re.fullmatch(r"(\d{1,6})(?:[.,](\d{0,6}))?(?:\s*kg)?", cell, re.ASCII | re.IGNORECASE)
    value = float(f"{number[1]}.{number[2] or 0}") if number else math.nan
    if not value <= MOST_LOAD_KG:
        raise ValueError(f"has the load {_quoted(cell)}, which is not a number from 0 to {MOST_LOAD_KG:.0f} kg")
    return value


def _whole(what: str) -> Callable[[str], int]:
    def read(cell: str) -> int:
        value = int(cell) if re.fullmatch(r"\d{1,6}", cell, re.ASCII) else 0
        if not 1 <= value <= MOST_REPS:
            raise ValueError(f"has the {what} {_quoted(cell)}, which is not a whole number from 1 to {MOST_REPS}")
        return value

    return read


def _view(cell: str) -> str:
    views = get_args(ViewHint)
    if cell.lower() not in views:
        raise ValueError(f"has the view {_quoted(cell)}; known are {', '.join(views)}")
    return cell.lower()


def _day(cell: str) -> date:
    try:
        day = date.fromisoformat(cell) if re.fullmatch(r"\d{4}-\d\d-\d\d", cell, re.ASCII) else None
        if day is not None and FIRST_DAY <= day <= LAST_DAY:
            return day
    except ValueError:
        pass
    raise ValueError(f"has the session {_quoted(cell)}, which is not a day such as 2026-03-01")


_READERS: dict[str, Callable[[str], Any]] = {
    "clip": _clip,
    "client": _client,
    "exercise_id": _exercise,
    "load_kg": _load,
    "target_reps": _whole("target reps"),
    "view": _view,
    "session_on": _day,
    "set_number": _whole("set"),
}


def _wrong(source: Path, line: int, what: str) -> UsageError:
    return UsageError(f"Line {line} of {_shown(source)} {what}.")


def _quoted(text: str) -> str:
    return ascii(text[:60]) if not text.isprintable() else repr(text[:60])


def _shown(path: Path) -> str:
    return _quoted(path.name or str(path))
