"""Writing a file in one step: whoever reads it sees the old file or the new one, never a half.

The new content goes to a part file in the same folder, which then takes the file's name. A part file is empty and
private when it is made, is removed when anything goes wrong, and can be known by its name should its process be killed:
``.NAME.xxxxxxxx.part``.
"""

import errno
import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from formcheck.core.errors import OutputError

PART_ENDING = ".part"
STALE_AFTER_S = 3600.0
"""A part file that nobody has written to for so long has lost its process."""
_NO_SYNC = {errno.EINVAL, errno.ENOSYS, errno.ENOTSUP}
"""What file systems answer that cannot be asked to have written something."""


@contextmanager
def make_part_file(path: Path, *, mode: int = 0o600) -> Iterator[Path]:
    """An empty file beside `path`, removed at the end unless it was moved away (OSError when it cannot be made).

    Parameters
    ----------
    mode : permission bits, from which the process's umask takes away.
    """
    part = _make_part_name(path)
    os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode))
    try:
        yield part
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


@contextmanager
def make_part_folder(path: Path) -> Iterator[Path]:
    """A new private folder beside `path`, removed at the end unless it was moved away (OSError)."""
    part = _make_part_name(path)
    part.mkdir(mode=0o700)
    try:
        yield part
    finally:
        shutil.rmtree(part, ignore_errors=True)


@contextmanager
def atomic_write(path: Path, *, durable: bool = False) -> Iterator[Path]:
    """A part file to write to, which takes the place of `path` unless an error is raised (OSError).

    Parameters
    ----------
    durable : wait until the content is on the disk, so that a power cut cannot take it away again.
    """
    with make_part_file(path) as part:
        yield part
        if durable:
            _sync_file(part)
        part.replace(path)
        if durable:
            with suppress(OSError):  # a folder cannot be synced everywhere
                _sync(path.parent, os.O_RDONLY)


def replace_file(path: Path, content: str | bytes) -> None:
    """Write a whole file in one step; text as UTF-8 with its line ends as they are (OSError)."""
    with atomic_write(path) as part:
        part.write_bytes(content.encode() if isinstance(content, str) else content)


@contextmanager
def write_output(path: Path, *, trial: bool = False) -> Iterator[Path]:
    """`atomic_write` for a file the user asked for: with the user's usual permissions, into pipes and through links.

    Parameters
    ----------
    trial : only find out whether this would work; no file is left.

    Raises OutputError for whatever the file system has against it.
    """
    target = Path(os.path.realpath(path))
    # A pipe or device cannot be replaced; what is written for it is copied in at the end.
    special = target.exists() and not target.is_file() and not target.is_dir()
    beside = Path(tempfile.gettempdir(), target.name) if special else target
    name = str(path)
    try:
        if target.is_dir():
            raise IsADirectoryError(None, "it is a folder")
        if target.exists() and not os.access(target, os.W_OK):
            raise PermissionError(None, "it is write-protected")
        with make_part_file(beside, mode=0o600 if special else 0o666) as part:
            try:
                yield part
            except OutputError as error:  # whoever wrote the part could only name the part
                raise error.with_name(name) from error
            if trial:
                return
            if special:
                with part.open("rb") as source, target.open("wb") as sink:
                    shutil.copyfileobj(source, sink)
            else:
                part.replace(target)
    except OSError as error:
        reason = error.strerror or str(error) or "the system gives no reason"
        raise OutputError(f"The file {name!r} cannot be written: {reason[:1].lower()}{reason[1:]}.") from error


def remove_stale_parts(folder: Path) -> None:
    """Delete what processes that were killed left half written in a folder of formcheck's own; never fails."""
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            # Earlier versions wrote landmarks and curves to names such as .xxxx.tmp.
            if entry.name.endswith(PART_ENDING) or (entry.name.startswith(".") and entry.name.endswith(".tmp")):
                with suppress(OSError):
                    if time.time() - entry.stat().st_mtime > STALE_AFTER_S:
                        Path(entry.path).unlink()


def _make_part_name(path: Path) -> Path:
    return path.with_name(f".{path.name[:60]}.{secrets.token_hex(4)}{PART_ENDING}")


def _sync_file(path: Path) -> None:
    try:
        _sync(path, os.O_RDWR)
    except OSError as error:
        if error.errno not in _NO_SYNC:
            raise


def _sync(path: Path, flags: int) -> None:
    handle = os.open(path, flags)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
