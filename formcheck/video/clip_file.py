"""Checks of a clip file before it is decoded, its checksum, and the messages for files that are no clip."""

import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path

from formcheck.core.errors import ClipError


@dataclass(frozen=True, slots=True)
class ClipLimits:
    """How large a clip may be before it is refused."""

    max_duration_s: float = 15 * 60.0
    max_bytes: int = 4 * 1024**3
    max_side: int = 8192
    """Pixels of the longer side of the picture, as stored and as shown."""


PICTURE_SIGNATURES = (b"\xff\xd8\xff", b"\x89PNG\r\n", b"GIF8", b"BM", b"II*\x00", b"MM\x00*", b"\x00\x00\x01\x00")
PICTURE_BRANDS = (b"heic", b"heix", b"mif1", b"avif", b"jxl ")
ARCHIVE_SIGNATURES = (
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"\x1f\x8b",
    b"7z\xbc\xaf",
    b"Rar!",
    b"\xfd7zXZ",
    b"BZh",
    b"\x28\xb5/\xfd",
)
MP4_BOXES = (b"ftyp", b"moov", b"mdat", b"wide")
VIDEO_SIGNATURES = (b"\x1aE\xdf\xa3", b"FLV", b"\x30\x26\xb2\x75", b"OggS", b"DKIF")


def quote_name(path: Path) -> str:
    """The file's name for one line of text: quoted, control characters escaped."""
    name = path.name or str(path)
    safe = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in name)
    return f'"{safe}"'


def readable_name(path: Path) -> str:
    """The file's name as text that every format takes: bytes of it that are no UTF-8 become U+FFFD."""
    return os.fsencode(path.name).decode("utf-8", "replace")


def check_file(path: Path, limits: ClipLimits) -> None:
    """Raise ClipError when the path is missing, a folder, empty, not readable or larger than the limit."""
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise ClipError(f"{quote_name(path)} is a folder, not a clip.")
        if not stat.S_ISREG(status.st_mode):
            raise ClipError(f"{quote_name(path)} is not a file.")
        if status.st_size == 0:
            raise ClipError(f"The clip {quote_name(path)} is empty (0 bytes).")
        with path.open("rb"):
            pass
    except FileNotFoundError:
        raise ClipError(f"The clip {quote_name(path)} does not exist.") from None
    except OSError as error:
        raise ClipError(f"The clip {quote_name(path)} cannot be read: {error.strerror}.") from None
    except ValueError:  # a zero byte in the name
        raise ClipError(f"The clip {quote_name(path)} does not exist.") from None
    if status.st_size > limits.max_bytes:
        raise ClipError(
            f"The clip {quote_name(path)} is too large: {_size(status.st_size)}, "
            f"and the limit is {_size(limits.max_bytes)}."
        )


def clip_sha256(path: Path) -> str:
    """SHA-256 of the file's bytes, hex, read in blocks; raises ClipError when it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ClipError(f"The clip {quote_name(path)} cannot be read: {error.strerror}.") from None


def check_unchanged(path: Path, sha256: str) -> None:
    """Raise ClipError when a file's bytes are no longer those of its checksum."""
    try:
        if clip_sha256(path) == sha256:
            return
    except ClipError:  # gone meanwhile
        pass
    raise clip_changed_error(path)


def clip_changed_error(path: Path) -> ClipError:
    """The error for a clip that changed while it was read."""
    return ClipError(
        f"The clip {quote_name(path)} changed while it was looked at, and nothing was kept; start again once it is "
        "there in full."
    )


def explain_not_a_clip(path: Path) -> str:
    """The sentence for a file no video reader opens, by its first bytes."""
    try:
        with path.open("rb") as file:
            head = file.read(512)
    except OSError:
        head = b""
    if is_picture(head):
        return f"{quote_name(path)} is a picture, not a video."
    if head.startswith(ARCHIVE_SIGNATURES) or head[257:262] == b"ustar":
        return f"{quote_name(path)} is an archive, not a video; unpack it first."
    if head[4:8] in MP4_BOXES or head.startswith(VIDEO_SIGNATURES) or head[8:12] == b"AVI ":
        return f"The clip {quote_name(path)} is cut off or damaged and cannot be opened; copy it again from the camera."
    return f"{quote_name(path)} is not a video."


def is_picture(head: bytes) -> bool:
    """True when the first bytes of a file are those of a still picture format."""
    webp = head.startswith(b"RIFF") and head[8:12] == b"WEBP"
    brand = head[4:8] == b"ftyp" and head[8:12] in PICTURE_BRANDS
    return head.startswith(PICTURE_SIGNATURES) or webp or brand


def _size(count: float) -> str:
    for unit in ("bytes", "KiB", "MiB"):
        if count < 1024:
            return f"{count:.0f} {unit}" if unit == "bytes" else f"{count:.1f} {unit}"
        count /= 1024
    return f"{count:.1f} GiB"
