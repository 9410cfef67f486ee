"""Clips: those that come with the program, and those handed in to the page."""

import hashlib
import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Protocol

from formcheck.core.atomic_write import make_part_file, remove_stale_parts
from formcheck.core.errors import ClipError
from formcheck.storage.data_folder import DataFolder

UPLOAD_LIMIT_MB = 1000
CLIP_TYPES = ("mp4", "mov", "m4v", "mkv", "webm", "avi", "3gp", "mts", "mpg", "mpeg")
_CHUNK = 1 << 20
_PACKAGE = Path(__file__).resolve().parents[1]
_SHIPPED = (_PACKAGE.parent / "clips_demo", _PACKAGE / "demo" / "clips")
"""In a checkout; in an installed package."""


class Readable(Protocol):
    """What an upload is read from."""

    def read(self, most: int, /) -> bytes:
        """At most so many bytes more; nothing at the end."""


@dataclass(frozen=True, slots=True)
class ShippedClip:
    """A demo clip and the exercise it shows."""

    path: Path
    exercise: str | None


def shipped_folder() -> Path:
    """The folder of the demo clips."""
    return next((folder for folder in _SHIPPED if folder.is_dir()), _SHIPPED[-1])


def shipped_clips(folder: Path | None = None) -> list[ShippedClip]:
    """The demo clips of a folder, by default those that come with the program; empty when there are none."""
    clips = []
    for path in sorted((folder or shipped_folder()).glob("*.mp4")):
        try:
            truth = json.loads(path.with_suffix(".truth.json").read_text(encoding="utf-8"))
            exercise = truth.get("exercise")
        except (OSError, ValueError, AttributeError):
            exercise = None
        clips.append(ShippedClip(path, exercise if isinstance(exercise, str) else None))
    return clips


def store_upload(home: Path, source: Readable, limit_mb: int = UPLOAD_LIMIT_MB) -> Path:
    """Write an upload to disk under its checksum, which is the only name it has there.

    Raises ClipError when it is larger than the limit, OSError when it cannot be written.
    """
    folder = DataFolder(home).clips
    folder.mkdir(parents=True, exist_ok=True)
    remove_stale_parts(folder)
    digest = hashlib.sha256()
    with make_part_file(folder / "upload") as part:
        size = 0
        with part.open("wb") as file:
            while block := source.read(_CHUNK):
                size += len(block)
                if size > limit_mb * _CHUNK:
                    raise ClipError(f"The clip is larger than {limit_mb} MB; send a shorter one.")
                digest.update(block)
                file.write(block)
        path = DataFolder(home).upload(digest.hexdigest())
        part.replace(path)
    return path


@lru_cache(maxsize=1024)
def clip_seconds(path: str) -> float | None:
    """Length of a clip as its file says it; None when it says none or is no clip. Read once."""
    from formcheck.video.reader import ClipReader

    try:
        with ClipReader(path) as reader:
            return reader.duration_hint_s
    except ClipError:
        return None


def check_clip(path: Path, shown_name: str) -> None:
    """See by its content that a stored upload is a clip that can be reviewed; what is none is deleted.

    Raises ClipError, in whose sentence the file has the name the user knows, when it is not.
    """
    from formcheck.video.reader import ClipReader

    try:
        ClipReader(path).close()
    except ClipError as error:
        path.unlink(missing_ok=True)
        raise error.with_name(" ".join(shown_name.split())) from None
