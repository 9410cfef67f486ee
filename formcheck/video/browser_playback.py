"""Checks whether a browser can play a clip as it is."""

from pathlib import Path

from formcheck.video.clip_file import open_clip, select_video_stream
from formcheck.video.orientation import read_orientation

LARGEST_BYTES = 100 << 20
"""A larger file is slow to hand to the browser."""
LARGEST_SIDE = 1920
"""Pixels; a larger picture takes a browser longer to decode than a seek may last."""
KEY_PICTURE_S = 2.0
"""With key pictures farther apart than this a seek has too many pictures to decode."""
_FORMATS = frozenset({"yuv420p", "yuvj420p"})


def plays_in_browser(clip: Path) -> bool:
    """Whether every browser plays the clip as it is, shows its pictures at their own times, and seeks in it fast.

    H.264 with 8 bits in an MP4 or MOV file that begins at 0, square pixels, not mirrored, of moderate size. Anything
    else may well play somewhere, but not everywhere. Raises ClipError when the clip cannot be opened.
    """
    if clip.stat().st_size > LARGEST_BYTES:
        return False
    with open_clip(clip) as container:
        stream = select_video_stream(container, clip)
        context = stream.codec_context
        if "mp4" not in container.format.name.split(",") or context.name != "h264":
            return False
        if context.pix_fmt not in _FORMATS or max(context.width, context.height) > LARGEST_SIDE:
            return False
        if (stream.sample_aspect_ratio or 1) != 1 or stream.start_time not in (0, None):
            return False
        keys, last, first = 0, 0.0, None
        for packet in container.demux(stream):
            if packet.pts is None or packet.time_base is None:
                continue
            t = float(packet.pts * packet.time_base)
            first = t if first is None else min(first, t)
            last = max(last, t)
            keys += packet.is_keyframe
        if first != 0.0 or keys == 0 or last / keys > KEY_PICTURE_S:
            return False
        container.seek(0, stream=stream)
        picture = next(container.decode(stream), None)
        # Browsers turn a picture by its display matrix, but some do not mirror it.
        return picture is not None and not read_orientation(picture).mirrors
