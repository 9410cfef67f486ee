"""Opens a clip's container and selects its video track."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from formcheck.core.errors import FILE, ClipError
from formcheck.video.clip_file import explain_not_a_clip

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream

FORMATS = "mov,matroska,webm,avi,mpegts,mpeg,flv,asf,ogg,gif,apng,mxf,nut,ivf,dv,rm,wtv,mp3,wav,flac,aac,aiff,amr,caf"
"""Containers that are opened. Playlists and scripts, which would read other files, are not among them; nor are
bare streams, which carry no times. Sound containers are, so that the user is told "only sound"."""


def open_clip(clip: Path) -> "InputContainer":
    """The opened container; raises ClipError with the reason when no video reader opens the file."""
    import av
    from av.error import FFmpegError

    av.logging.set_level(None)
    options = {"format_whitelist": FORMATS, "protocol_whitelist": "file"}
    try:
        # without "file:" a name such as "concat:x.mp4" would be taken for a protocol
        return av.open(f"file:{clip}", mode="r", container_options=options, metadata_errors="ignore")
    except (FFmpegError, ValueError, OSError):
        raise ClipError(explain_not_a_clip(clip), path=clip) from None


def video_stream(container: "InputContainer", clip: Path) -> "VideoStream":
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

    def worth(stream: "VideoStream") -> tuple[int, bool]:
        context: Any = stream.codec_context  # None, whatever its type says, for what cannot be decoded
        area = 0 if context is None else context.width * context.height
        return area, best is not None and stream.index == best.index

    stream = max(video, key=worth)
    if cast(Any, stream.codec_context) is None:
        raise ClipError(f"The clip {FILE} uses a video format that cannot be decoded here.", path=clip)
    return stream


def read_stated_duration(container: "InputContainer", stream: "VideoStream") -> float | None:
    """Seconds the file claims to last, or None when it does not say."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / 1_000_000 if container.duration and container.duration > 0 else None
