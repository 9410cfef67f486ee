"""Reads the sound of a clip, timed from its first shown picture."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from formcheck.core.model import Array
from formcheck.video.clip_file import open_clip, select_video_stream

if TYPE_CHECKING:
    from av.container import InputContainer

RATE_HZ = 8000
MAX_SAMPLES = 3600 * RATE_HZ


@dataclass(frozen=True, eq=False)
class Sound:
    """Mono sound.

    Parameters
    ----------
    start_s : time of the first sample, seconds from the clip's first shown picture; may be negative.
    samples : (n,) -1..1, `RATE_HZ` a second.
    """

    start_s: float
    samples: Array


def read_sound(clip: str | Path) -> Sound | None:
    """The first audio track of a clip, mixed to one channel, an hour at most; None when none can be decoded.

    Raises ClipError when the file is no clip.
    """
    clip = Path(clip)
    with open_clip(clip) as container:
        select_video_stream(container, clip)
        if not container.streams.audio:
            return None
        first_picture = _read_first_picture_s(container)
    if first_picture is None:
        return None
    with open_clip(clip) as container:
        start, samples = _decode(container)
    return None if start is None or not len(samples) else Sound(start - first_picture, samples)


def _read_first_picture_s(container: "InputContainer") -> float | None:
    """Presentation time of the first shown picture in the file's own seconds."""
    from av.error import FFmpegError

    try:
        for picture in container.decode(video=0):
            if picture.pts is not None and picture.time_base is not None:
                return float(picture.pts * picture.time_base)
    except FFmpegError:
        pass
    return None


def _decode(container: "InputContainer") -> tuple[float | None, Array]:
    """Time of the first sample in the file's own seconds, and the samples up to the first damage."""
    import av
    from av.error import FFmpegError

    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
    start, count = None, 0
    blocks: list[Array] = []
    try:
        for frame in container.decode(audio=0):
            if start is None and frame.pts is not None and frame.time_base is not None:
                start = float(frame.pts * frame.time_base)
            for part in resampler.resample(frame):
                blocks.append(np.asarray(part.to_ndarray()[0], dtype=float))
                count += len(blocks[-1])
            if count > MAX_SAMPLES:
                break
    except (FFmpegError, ValueError):
        pass  # what could be decoded up to the damage still tells when the clip was made
    return start, np.concatenate(blocks) if blocks else np.empty(0)
