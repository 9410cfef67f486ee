"""Files and folders that only the user who made them may read: mode 0600 and 0700.

On Windows there are no such modes: there a folder in the user's profile is closed to other users by its access list,
and nothing is done here.
"""

import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

OTHERS = 0o077
"""The mode bits of everybody but the owner."""


def make_new_files_private() -> None:
    """Give everything this process and its children make from now on to the user alone.

    For programs that are formcheck's own; a library must leave the process's umask to its host.
    """
    os.umask(OTHERS)


def make_private_folder(folder: Path) -> None:
    """Make a folder, and what is missing above it, for the user alone; one that is there is closed to others.

    Raises OSError when it cannot be made.
    """
    for missing in reversed([part for part in (folder, *folder.parents) if not part.exists()]):
        missing.mkdir(mode=0o700, exist_ok=True)
    folder.mkdir(mode=0o700, exist_ok=True)
    make_private(folder)


def make_private(path: Path) -> bool:
    """Take everybody else's rights from a file or folder of this user; says whether there were any.

    A folder that several users share by design (sticky, as ``/tmp``) and the user's home folder stay as they are, and
    so does what belongs to somebody else or lies where nothing can be changed.
    """
    if os.name != "posix":
        return False
    with suppress(OSError, RuntimeError):
        found = path.lstat()
        shared = stat.S_ISDIR(found.st_mode) and (found.st_mode & stat.S_ISVTX or path == Path.home())
        ours = found.st_uid == os.geteuid() and not stat.S_ISLNK(found.st_mode)
        if ours and not shared and found.st_mode & OTHERS:
            path.chmod(stat.S_IMODE(found.st_mode) & ~OTHERS)
            return True
    return False


def make_tree_private(folder: Path) -> None:
    """Close a folder to others and, where it was open, everything in it."""
    if make_private(folder):
        for path in _list_below(folder):
            make_private(path)


def _list_below(folder: Path) -> Iterator[Path]:
    for where, folders, files in os.walk(folder):
        yield from (Path(where, name) for name in (*folders, *files))
