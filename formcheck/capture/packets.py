"""From a clip's packets, undecoded, to the plan by which it is tracked."""

from array import array
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from formcheck.capture.container import open_clip, video_stream
from formcheck.capture.plan import CHUNK_S, WHOLE_S, KeyPicture, Plan, glances_at, lay_out, picture_step, thinning_of
from formcheck.capture.video import ClipReader

SEEKABLE = ("mov", "matroska")
"""Containers in which a key picture is marked as one and every packet carries its own presentation time; what has
others is tracked in one piece."""
MAX_PACKETS = 2_000_000
"""A file with more is tracked in one piece: a quarter of an hour at 240 pictures a second has a tenth of them."""
PACKETS_A_SIGN = 2000


@dataclass(frozen=True, slots=True)
class PacketIndex:
    """A track's packets in the order of the file; times in seconds from the first shown picture."""

    t: "np.ndarray[tuple[int], np.dtype[np.float64]]"
    """(n,) presentation times; empty when some packet has none."""
    keys: tuple[KeyPicture, ...]
    """Key pictures from the first shown picture on; none when decoding cannot safely begin at them."""


def plan_of(
    reader: ClipReader,
    *,
    chunk_s: float = CHUNK_S,
    whole_s: float = WHOLE_S,
    sign_of_life: Callable[[], None] | None = None,
) -> Plan:
    """The plan by which a clip is tracked.

    Parameters
    ----------
    reader : the clip, opened; it is not read any further.
    chunk_s, whole_s : as for `formcheck.capture.plan.lay_out`.
    sign_of_life : called now and then while a large file is gone through.
    """
    index = packet_index(reader.path, reader.start_s, sign_of_life=sign_of_life)
    if len(index.t) < 2:
        return Plan()
    t = np.sort(index.t[index.t >= 0])
    end_s = float(t[-1]) if len(t) else 0.0
    thinning = thinning_of(picture_step(t)) if len(t) > 1 else None
    chunks = lay_out(index.keys, end_s, chunk_s=chunk_s, whole_s=whole_s)
    return Plan(chunks, thinning, end_s, glances_at(index.keys, end_s))


def packet_index(path: Path, start_s: float, *, sign_of_life: Callable[[], None] | None = None) -> PacketIndex:
    """Go through a clip's packets without decoding any.

    Parameters
    ----------
    start_s : presentation time of the first shown picture in the file's own seconds.
    """
    from av.error import FFmpegError

    stamps, keys, safe = array("q"), array("q"), True
    with open_clip(path) as container:
        stream = video_stream(container, path)
        base = float(stream.time_base or 0)
        safe = container.format.name.split(",")[0] in SEEKABLE and base > 0
        try:
            for number, packet in enumerate(container.demux(stream)):
                if packet.size == 0:  # the end
                    continue
                if packet.pts is None or number >= MAX_PACKETS:
                    return PacketIndex(np.empty(0), ())
                shown = packet.pts * base - start_s >= 0
                # a packet that is read but not shown, in mid-clip, is the seam of an edit
                safe = safe and not packet.is_corrupt and not (packet.is_discard and shown)
                stamps.append(packet.pts)
                if packet.is_keyframe and shown:
                    keys.append(packet.pts)
                if sign_of_life is not None and number % PACKETS_A_SIGN == 0:
                    sign_of_life()
        except FFmpegError:
            safe = False
    safe = safe and len(set(stamps)) == len(stamps) and all(a < b for a, b in pairwise(keys))
    marks = tuple(KeyPicture(stamp * base - start_s, stamp) for stamp in keys) if safe else ()
    return PacketIndex(np.array(stamps, dtype=np.float64) * base - start_s, marks)
