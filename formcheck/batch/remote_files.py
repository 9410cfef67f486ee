"""Clips and landmarks that lie elsewhere: whatever fsspec reads by URL, such as an object store.

A plain path never needs fsspec. What is fetched lies in a folder of its own that is gone afterwards.
"""

import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from formcheck.core.atomic_write import replace_file
from formcheck.core.errors import ClipError, FormcheckError, RecordingError, UsageError
from formcheck.video.clip_file import ClipLimits, check_file, compute_clip_sha256

_ENDING = ".npz"
_BLOCK = 4 * 1024**2
NamedFiles = tuple[tuple[str, bytes], ...]
"""Names and bytes of files."""


def is_url(address: str) -> bool:
    """Whether an address is a URL and not a path."""
    return "://" in address


def check_url(address: str) -> None:
    """See that a URL can be used at all on this machine (UsageError)."""
    if is_url(address):
        _open_file_system(address)


@contextmanager
def fetch_clip(clip: str) -> Iterator[Path]:
    """The clip as a file of this machine, under its own name (ClipError when it cannot be fetched)."""
    if not is_url(clip):
        yield Path(clip)
        return
    files, path = _open_file_system(clip)
    name = path.rstrip("/").rpartition("/")[2] or "clip"
    most = ClipLimits().max_bytes
    with tempfile.TemporaryDirectory(prefix="formcheck-") as folder:
        target = Path(folder) / name
        with (
            _errors_as(ClipError, f"The clip {name!r} cannot be fetched"),
            files.open(path, "rb") as source,
            target.open("wb") as sink,
        ):
            # One block more than the limit is enough to know that a clip is too large.
            while sink.tell() <= most and (block := source.read(_BLOCK)):
                sink.write(block)
        yield target


@contextmanager
def open_recordings(recordings: str, clip: Path) -> Iterator[Path]:
    """A folder with the stored recordings of this clip; new ones in it are written to where the others are.

    Raises RecordingError when they cannot be read or written there.
    """
    if not is_url(recordings):
        yield Path(recordings)
        return
    files, path = _open_file_system(recordings)
    check_file(clip, ClipLimits())
    sha256 = compute_clip_sha256(clip)
    with tempfile.TemporaryDirectory(prefix="formcheck-") as name:
        folder = Path(name)
        with _errors_as(RecordingError, f"Kept body points (landmarks) cannot be read from {recordings}"):
            for stored in files.glob(f"{path.rstrip('/')}/{sha256[:32]}-*{_ENDING}"):
                (folder / stored.rpartition("/")[2]).write_bytes(files.cat_file(stored))
        before = {entry.name for entry in folder.iterdir()}
        yield folder
        with _errors_as(RecordingError, f"Body points (landmarks) cannot be written to {recordings}"):
            files.makedirs(path, exist_ok=True)
            for entry in folder.glob(f"*{_ENDING}"):
                if entry.name not in before:
                    files.pipe_file(f"{path.rstrip('/')}/{entry.name}", entry.read_bytes())


def pack_recordings(folder: Path) -> NamedFiles:
    """The recordings of a folder, to be part of a result."""
    return tuple((entry.name, entry.read_bytes()) for entry in sorted(folder.glob(f"*{_ENDING}")))


def read_recordings(names: Iterable[str], folder: Path) -> NamedFiles:
    """Recordings of these names as part of a task; what is gone is left out and will be made again."""
    return tuple((name, (folder / name).read_bytes()) for name in names if (folder / name).is_file())


def save_recordings(landmarks: NamedFiles, folder: Path) -> None:
    """Write recordings that came with a task or a result (RecordingError)."""
    for name, data in landmarks:
        target = folder / Path(name).name
        with _errors_as(RecordingError, f"The body points (landmarks) cannot be written to {target}"):
            folder.mkdir(parents=True, exist_ok=True)
            replace_file(target, data)


def _open_file_system(url: str) -> tuple[Any, str]:
    """The file system of a URL, and the path in it (UsageError)."""
    try:
        from fsspec.core import url_to_fs
    except ModuleNotFoundError:
        raise UsageError(
            "Clips and body points (landmarks) behind a URL need the package fsspec: in formcheck's folder, "
            "`.venv/bin/pip install -e '.[cluster]'`."
        ) from None
    # A driver that is missing or refuses the address; some connect at once.
    with _errors_as(UsageError, f"The URL {url!r} cannot be used"):
        files, path = url_to_fs(url)
    return files, str(path)


@contextmanager
def _errors_as(kind: type[FormcheckError], what: str) -> Iterator[None]:
    """Raise an error of `kind` for any other: every kind of store raises its own."""
    try:
        yield
    except Exception as error:
        raise kind(f"{what}: {_describe_reason(error)}.") from error


def _describe_reason(error: BaseException) -> str:
    if isinstance(error, FormcheckError):
        return str(error).rstrip(".")
    if isinstance(error, FileNotFoundError):
        return "it does not exist"
    text = (getattr(error, "strerror", None) or str(error)).strip() or type(error).__name__
    return " ".join(text.splitlines()[0].split())[:200].rstrip(".")
