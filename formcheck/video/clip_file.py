"""A clip's file: checked, opened, its video track selected, its checksum, and the messages for what is no clip."""

import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from formcheck.core.errors import FILE, ClipError

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream


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


def make_readable_name(clip: Path) -> str:
    """The file's name as text that every format takes: bytes of it that are no UTF-8 become U+FFFD."""
    return os.fsencode(clip.name).decode("utf-8", "replace")


def check_file(clip: Path, limits: ClipLimits) -> None:
    """Raise ClipError when the path is missing, a folder, empty, not readable or larger than the limit."""
    try:
        status = clip.stat()
        if stat.S_ISDIR(status.st_mode):
            raise ClipError(f"{FILE} is a folder, not a clip.", path=clip)
        if not stat.S_ISREG(status.st_mode):
            raise ClipError(f"{FILE} is not a file.", path=clip)
        if status.st_size == 0:
            raise ClipError(f"The clip {FILE} is empty (0 bytes).", path=clip)
        with clip.open("rb"):
            pass
    except FileNotFoundError:
        raise ClipError(f"The clip {FILE} does not exist.", path=clip) from None
    except OSError as error:
        raise ClipError(f"The clip {FILE} cannot be read: {error.strerror}.", path=clip) from None
    except ValueError:  # a zero byte in the name
        raise ClipError(f"The clip {FILE} does not exist.", path=clip) from None
    if status.st_size > limits.max_bytes:
        size, most = _format_size(status.st_size), _format_size(limits.max_bytes)
        raise ClipError(f"The clip {FILE} is too large: {size}, and the limit is {most}.", path=clip)


def compute_clip_sha256(clip: Path) -> str:
    """SHA-256 of the file's bytes, hex, read in blocks; raises ClipError when it cannot be read."""
    try:
        with clip.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ClipError(f"The clip {FILE} cannot be read: {error.strerror}.", path=clip) from None


def check_unchanged(clip: Path, sha256: str) -> None:
    """Raise ClipError when a file's bytes are no longer those of its checksum."""
    try:
        if compute_clip_sha256(clip) == sha256:
            return
    except ClipError:  # gone meanwhile
        pass
    raise make_changed_error(clip)


def make_changed_error(clip: Path) -> ClipError:
    """The error for a clip that changed while it was read."""
    return ClipError(
        f"The clip {FILE} changed while it was looked at, and nothing was kept; start again once it is there in full.",
        path=clip,
    )


def explain_not_a_clip(clip: Path) -> str:
    """The message for a file no video reader opens, by its first bytes."""
    try:
        with clip.open("rb") as file:
            head = file.read(512)
    except OSError:
        head = b""
    if is_picture(head):
        return f"{FILE} is a picture, not a video."
    if head.startswith(ARCHIVE_SIGNATURES) or head[257:262] == b"ustar":
        return f"{FILE} is an archive, not a video; unpack it first."
    if head[4:8] in MP4_BOXES or head.startswith(VIDEO_SIGNATURES) or head[8:12] == b"AVI ":
        return f"The clip {FILE} is cut off or damaged and cannot be opened; copy it again from the camera."
    return f"{FILE} is not a video."


def is_picture(head: bytes) -> bool:
    """True when the first bytes of a file are those of a still picture format."""
    webp = head.startswith(b"RIFF") and head[8:12] == b"WEBP"
    brand = head[4:8] == b"ftyp" and head[8:12] in PICTURE_BRANDS
    return head.startswith(PICTURE_SIGNATURES) or webp or brand


def _format_size(count: float) -> str:
    for unit in ("bytes", "KiB", "MiB"):
        if count < 1024:
            return f"{count:.0f} {unit}" if unit == "bytes" else f"{count:.1f} {unit}"
        count /= 1024
    return f"{count:.1f} GiB"


# ---------------------------------------------------------------- the container

FORMATS = "mov,matroska,webm,avi,mpegts,mpeg,flv,asf,ogg,gif,apng,mxf,nut,ivf,dv,rm,wtv,mp3,wav,flac,aac,aiff,amr,caf"
"""Containers that are opened. Playlists and scripts, which would read other files, are not among them; nor are
bare streams, which carry no times. Sound containers are, so that the user is told "only sound"."""


def open_clip(clip: Path, *, probed: bool = True) -> "InputContainer":
    """The opened container; raises ClipError with the reason when no video reader opens the file.

    Parameters
    ----------
    probed : whether the first pictures are decoded for what the file's header does not say.
    """
    import av
    from av.error import FFmpegError

    av.logging.set_level(None)
    options = {"format_whitelist": FORMATS, "protocol_whitelist": "file"}
    try:
        # without "file:" a name such as "concat:x.mp4" would be taken for a protocol
        return av.open(
            f"file:{clip}",
            mode="r",
            container_options=options,
            options={} if probed else {"probesize": "32", "skip_frame": "all"},
            metadata_errors="ignore",
        )
    except (FFmpegError, ValueError, OSError):
        raise ClipError(explain_not_a_clip(clip), path=clip) from None


def select_video_stream(container: "InputContainer", clip: Path) -> "VideoStream":
    """The video track to read: of several the one with the largest picture, cover pictures left aside.

    Raises ClipError when there is only sound or no video.
    """
    from av.stream import Disposition

    video = [s for s in container.streams.video if not s.disposition & Disposition.attached_pic]
    if not video:
        if container.streams.audio:
            raise ClipError(f"{FILE} holds only sound, no picture.", path=clip)
        raise ClipError(f"{FILE} holds no video.", path=clip)
    best = container.streams.best("video")

    def rank(stream: "VideoStream") -> tuple[int, bool]:
        context: Any = stream.codec_context  # None, whatever its type says, for what cannot be decoded
        area = 0 if context is None else context.width * context.height
        return area, best is not None and stream.index == best.index

    stream = max(video, key=rank)
    if cast(Any, stream.codec_context) is None:
        raise ClipError(f"The clip {FILE} uses a video format that cannot be decoded here.", path=clip)
    return stream


def read_stated_duration(container: "InputContainer", stream: "VideoStream") -> float | None:
    """Seconds the file claims to last, or None when it does not say."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / 1_000_000 if container.duration and container.duration > 0 else None


EBML, SEGMENT = b"\x1a\x45\xdf\xa3", b"\x18\x53\x80\x67"


def read_stated_bytes(clip: Path) -> int | None:
    """How long a Matroska, WebM or AVI file says it is (RFC 8794, RFC 9559; RIFF); None where it does not say."""
    with clip.open("rb") as file:
        head = file.read(4096)
    if head[:4] == b"RIFF":
        size = int.from_bytes(head[4:8], "little")
        return 8 + size if 0 < size < 0xFFFFFFF0 else None
    if head[:4] != EBML:
        return None
    try:
        header, at = _read_element_size(head, 4)
        at += header or 0
        if head[at : at + 4] != SEGMENT:
            return None
        segment, at = _read_element_size(head, at + 4)
    except IndexError:
        return None
    return None if segment is None else at + segment


def _read_element_size(data: bytes, at: int) -> tuple[int | None, int]:
    """An EBML element's size (None: not known when it was written) and where its content begins; IndexError."""
    length = 9 - data[at].bit_length()
    if length > 8:
        return None, at + 1
    value = int.from_bytes(data[at : at + length], "big") & ((1 << 7 * length) - 1)
    return (None if value == (1 << 7 * length) - 1 else value), at + length
