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
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any, get_args

from formcheck.batch.remote_files import is_url
from formcheck.batch.requests import AUTO, ClipRequest
from formcheck.coaching.plan import MOST_KG
from formcheck.core.errors import ExerciseError, FormcheckError, UsageError
from formcheck.core.file_reading import read_small_file
from formcheck.core.model import FIRST_DAY, LAST_DAY, ViewHint
from formcheck.exercises.registry import add_exercise_file, get_exercise
from formcheck.storage.clients import clean_client_name

ENDINGS = {".mp4", ".mov", ".m4v", ".mkv", ".webm", ".avi", ".3gp", ".3g2", ".mts", ".m2ts", ".ts"}
ENDINGS |= {".mpg", ".mpeg", ".wmv", ".flv", ".ogv", ".mxf", ".vob", ".asf"}
MOST_BYTES = 64 * 1024**2
MOST_REPS = 1000


def read_requests(source: Path, defaults: ClipRequest) -> list[ClipRequest]:
    """The requests of a folder or a list.

    Parameters
    ----------
    source : a folder, whose clips are taken in the order of their names, or a list.
    defaults : what holds where the list has nothing; its `clip` is of no meaning.

    Raises UsageError, which names the line, when anything in the list cannot be understood, or there are no clips.
    """
    try:
        if source.is_dir():
            return _find_clips(source, defaults)
        data = read_small_file(source, MOST_BYTES)
    except (FileNotFoundError, ValueError):  # ValueError: a zero byte in the name
        raise UsageError(f"There is no folder or list {_quote_name(source)}.") from None
    except OSError as error:
        raise UsageError(f"{_quote_name(source)} cannot be read: {error.strerror}.") from None
    return parse_list(data, source, defaults)


def parse_defaults(session_on: date | None, **given: str | None) -> ClipRequest:
    """What holds where a list has nothing, from texts of the command line by field (UsageError)."""
    try:
        values = {field: _PARSERS[field](text) for field, text in given.items() if text is not None}
    except ValueError as error:
        raise UsageError(f"The command line {error}.") from None
    return ClipRequest("", session_on=session_on, **values)


def _find_clips(folder: Path, defaults: ClipRequest) -> list[ClipRequest]:
    files = (path for path in folder.iterdir() if path.suffix.lower() in ENDINGS and not path.name.startswith("."))
    clips = sorted(path.absolute() for path in files if not path.is_dir())
    if not clips:
        raise UsageError(f"There are no clips in the folder {_quote_name(folder)}.")
    return [replace(defaults, clip=str(clip)) for clip in clips]


def parse_list(data: bytes, source: Path, defaults: ClipRequest) -> list[ClipRequest]:
    """The requests of a list's bytes (UsageError)."""
    line, found = 1, []
    fields: list[str] = []
    try:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            raise ValueError("is not UTF-8 text; save the list as CSV in UTF-8") from None
        separator = max(",;\t", key=text.partition("\n")[0].count)
        # Strict: a quotation mark that is never closed would else swallow the rest of the list.
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells) and not fields:
                fields = _parse_head(cells)
            elif any(cells):
                found.append(replace(defaults, line=line, **_parse_row(fields, cells, source.absolute().parent)))
            line = reader.line_num + 1
        if not fields:
            line = 1
            raise ValueError("is empty, but must name the columns")
    except csv.Error as error:
        raise UsageError(f"Line {line} of {_quote_name(source)} is not comma-separated text ({error}).") from None
    except ValueError as error:
        raise UsageError(f"Line {line} of {_quote_name(source)} {error}.") from None
    if not found:
        raise UsageError(f"There are no clips in the list {_quote_name(source)}.")
    return found


def _parse_head(names: list[str]) -> list[str]:
    """The fields of the columns (ValueError, as from all that parse a line or a cell, with the end of a sentence)."""
    fields: list[str] = []
    for name in names:
        field, _ = COLUMNS.get(" ".join(re.split(r"[\s_()]+", name.lower())).strip(), ("", None))
        if not field:
            known = ", ".join(name for name in COLUMNS if name != "load kg")
            raise ValueError(f"names a column {_quote(name)}; known are {known}")
        if field in fields:
            raise ValueError(f"names the column {_quote(name)} twice")
        fields.append(field)
    if "clip" not in fields:
        raise ValueError("must name the columns, and one of them must be clip")
    return fields


def _parse_row(fields: list[str], row: list[str], folder: Path) -> dict[str, Any]:
    if len(row) > len(fields) and any(row[len(fields) :]):
        raise ValueError(f"has {len(row)} cells, but the list has {len(fields)} columns")
    cells = {field: cell for field, cell in zip(fields, row, strict=False) if cell}
    if (name := cells.get("exercise_id", "")).lower().endswith(".toml"):
        cells["exercise_id"] = str(folder / name)
    if reps := re.fullmatch(r"(.*?)\s+each\s+side", cells.get("target_reps", ""), re.IGNORECASE):
        cells["target_reps"] = reps[1]
    values = {field: _PARSERS[field](cell) for field, cell in cells.items()}
    if reps:
        values["target_each_side"] = True
    if "clip" not in values:
        raise ValueError("names no clip")
    if not is_url(values["clip"]):
        values["clip"] = str(folder / Path(values["clip"]).expanduser())
    return values


# ---------------------------------------------------------------- cells


def _parse_clip(cell: str) -> str:
    if not cell.isprintable():
        raise ValueError(f"names a clip with characters that cannot be printed: {_quote(cell)}")
    try:
        Path(cell).expanduser()
    except RuntimeError:
        raise ValueError(f"names a clip in a home folder that is not known: {_quote(cell)}") from None
    return cell


def _parse_client(cell: str) -> str:
    try:
        return clean_client_name(cell)
    except FormcheckError as error:
        raise ValueError(f"names a client that cannot be kept: {str(error).rstrip('.')}") from None


def _parse_exercise(cell: str) -> str:
    if cell.lower() == AUTO:
        return AUTO
    try:
        return add_exercise_file(Path(cell)).id if cell.lower().endswith(".toml") else get_exercise(cell).id
    except FormcheckError as error:
        what = "file that cannot be used" if isinstance(error, ExerciseError) else "that is not known"
        raise ValueError(f"names an exercise {what}: {str(error).rstrip('.')}") from None


def _parse_load(cell: str) -> float:
    number = re.fullmatch(r"(\d{1,6})(?:[.,](\d{0,6}))?(?:\s*kg)?", cell, re.ASCII | re.IGNORECASE)
    value = float(f"{number[1]}.{number[2] or 0}") if number else math.nan
    if not value <= MOST_KG:
        raise ValueError(f"has the load {_quote(cell)}, which is not a number from 0 to {MOST_KG:.0f} kg")
    return value


def _parse_count(column: str, cell: str) -> int:
    value = int(cell) if re.fullmatch(r"\d{1,6}", cell, re.ASCII) else 0
    if not 1 <= value <= MOST_REPS:
        raise ValueError(f"has the {column} {_quote(cell)}, which is not a whole number from 1 to {MOST_REPS}")
    return value


def _parse_view(cell: str) -> str:
    views = get_args(ViewHint)
    if cell.lower() not in views:
        raise ValueError(f"has the view {_quote(cell)}; known are {', '.join(views)}")
    return cell.lower()


def _parse_day(cell: str) -> date:
    with suppress(ValueError):
        day = date.fromisoformat(cell) if re.fullmatch(r"\d{4}-\d\d-\d\d", cell, re.ASCII) else None
        if day is not None and FIRST_DAY <= day <= LAST_DAY:
            return day
    raise ValueError(f"has the session {_quote(cell)}, which is not a day such as 2026-03-01")


COLUMNS: dict[str, tuple[str, Callable[[str], Any]]] = {
    "clip": ("clip", _parse_clip),
    "client": ("client", _parse_client),
    "exercise": ("exercise_id", _parse_exercise),
    "load": ("load_kg", _parse_load),
    "load kg": ("load_kg", _parse_load),
    "target reps": ("target_reps", partial(_parse_count, "target reps")),
    "view": ("view", _parse_view),
    "session": ("session_on", _parse_day),
    "set": ("set_number", partial(_parse_count, "set")),
}
"""Name in the list → field of a request, and what reads a cell of it."""
_PARSERS = dict(COLUMNS.values())


def _quote(text: str) -> str:
    return ascii(text[:60]) if not text.isprintable() else repr(text[:60])


def _quote_name(path: Path) -> str:
    return _quote(path.name or str(path))
