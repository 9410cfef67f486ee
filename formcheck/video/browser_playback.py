"""Checks whether a browser can play a clip as it is."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from formcheck.video.clip_file import open_clip, select_video_stream
from formcheck.video.orientation import read_orientation

if TYPE_CHECKING:
    from av.packet import Packet
    from av.video.stream import VideoStream

Playback = Literal["well", "slowly", "not"]
"""How every browser plays a clip as it is. Slowly: it takes long to be loaded, or a seek in it takes long."""

LARGEST_BYTES, LARGEST_SLOW_BYTES = 100 << 20, 300 << 20
"""A larger file is slow to hand to the browser; one larger still takes too much memory while it is shown."""
LARGEST_SIDE, LARGEST_SLOW_SIDE = 1920, 3840
"""Pixels; a larger picture takes a browser longer to decode than a seek may last, or than it is shown."""
SEEK_PIXELS = 250 * 1280 * 720
"""A seek has to decode what lies between two key pictures: more pixels than these, the mean of the clip, take longer
than half a second on two cores (Chromium, tried with clips of 600 to 1080 lines)."""
_FORMATS = frozenset({"yuv420p", "yuvj420p"})
_SOUNDS = frozenset({"aac", "mp3"})


def rate_playback(clip: Path) -> Playback:
    """How every browser plays the clip as it is, with its pictures at their own times.

    It does at all: H.264 with 8 bits in an MP4 or MOV file that begins at 0, square pixels, not mirrored, with sound
    that every browser knows or none. Anything else may well play somewhere, but not everywhere. Raises ClipError when
    the clip cannot be opened.
    """
    size = clip.stat().st_size
    with open_clip(clip) as container:
        stream = select_video_stream(container, clip)
        context = stream.codec_context
        side = max(context.width, context.height)
        if "mp4" not in container.format.name.split(",") or context.name != "h264" or context.pix_fmt not in _FORMATS:
            return "not"
        if size > LARGEST_SLOW_BYTES or side > LARGEST_SLOW_SIDE or (stream.sample_aspect_ratio or 1) != 1:
            return "not"
        # A browser's clock begins with the stream that begins first.
        if stream.start_time not in (0, None) or (container.start_time or 0) < 0:
            return "not"
        if any(sound.codec_context.name not in _SOUNDS for sound in container.streams.audio):
            return "not"
        first, pictures, keys = _count_pictures(container.demux(stream))
        if first != 0.0 or keys == 0:
            return "not"
        container.seek(0, stream=stream)
        picture = next(container.decode(stream), None)
        # Browsers turn a picture by its display matrix, but some do not mirror it.
        if picture is None or read_orientation(picture).mirrors:
            return "not"
        seek_pixels = pictures / keys * context.width * context.height
    return "well" if size <= LARGEST_BYTES and side <= LARGEST_SIDE and seek_pixels <= SEEK_PIXELS else "slowly"


def _count_pictures(packets: "Iterable[Packet[VideoStream]]") -> tuple[float | None, int, int]:
    """Seconds of the first picture shown, how many pictures there are, and how many of them are key pictures."""
    first, pictures, keys = None, 0, 0
    for packet in packets:
        if packet.pts is None or packet.time_base is None:
            continue
        t = float(packet.pts * packet.time_base)
        first = t if first is None else min(first, t)
        pictures += 1
        keys += packet.is_keyframe
    return first, pictures, keys
