"""Which exercise files of the user's own there are: those of a folder, and those named in a call.

Nothing is read here but names and times, so that it costs a command nothing; `formcheck.exercises.registry` reads them.
Without a folder and without names, as in a program that imports formcheck, only the shipped exercises are known.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

FileState = tuple[Path, int, int]
"""A file, when it was last changed (nanoseconds) and its size (bytes)."""

_find_folder: Callable[[], Path] | None = None
_added: list[Path] = []


def use_folder(find_folder: Callable[[], Path]) -> None:
    """Take exercise files from this folder as well, from now on; it need not exist."""
    global _find_folder  # one folder a process, set where it starts
    _find_folder = find_folder


def get_own_folder() -> Path | None:
    """The folder of own exercise files, None where none was set."""
    return None if _find_folder is None else _find_folder()


def add_file(path: Path) -> None:
    """Take this file as well."""
    _added.append(path.absolute())


@contextmanager
def forget_added_files() -> Iterator[None]:
    """Forget on leaving which files were added inside."""
    before = list(_added)
    try:
        yield
    finally:
        _added[:] = before


def find_added_file(exercise_id: str) -> Path | None:
    """The file added by its own name whose exercise has this id (a file is named after its id)."""
    return next((path for path in _added if path.stem == exercise_id), None)


def list_files() -> tuple[FileState, ...]:
    """Every own exercise file, in the order of their names; one that cannot be looked at has the time and size 0."""
    folder = get_own_folder()
    paths = [] if folder is None else sorted(folder.glob("*.toml"))
    states = []
    for path in dict.fromkeys((*paths, *_added)):
        changed, size = 0, 0
        with suppress(OSError):
            found = path.stat()
            changed, size = found.st_mtime_ns, found.st_size
        states.append((path, changed, size))
    return tuple(states)
