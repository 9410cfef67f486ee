"""Scans a clip's packets without decoding them, and plans from them how the clip is tracked."""

from array import array
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from formcheck.core.model import Array
from formcheck.video.chunks import (
    CHUNK_S,
    TRACKED_PER_S,
    WARM_UP_S,
    WHOLE_S,
    Chunk,
    KeyPicture,
    Plan,
    choose_survey_spans,
    plan_chunks,
    take_at_rate,
)
from formcheck.video.clip_file import open_clip, read_stated_bytes, read_stated_duration, select_video_stream
from formcheck.video.damage import LATE_S, LATE_SHARE, MOST_HOLES, NOTICED_S, UNKNOWN_EXTENT, Extent, Span
from formcheck.video.droppable import REFERENCED, PictureUse, make_use_reader
from formcheck.video.reader import READ_ERRORS, ClipReader

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.packet import Packet
    from av.video.stream import VideoStream

SEEKABLE = ("mov", "matroska")
"""Containers in which a key picture is marked as one and every packet carries its own presentation time; what has
others is tracked in one piece."""
MAX_PACKETS = 2_000_000
"""A file with more is tracked in one piece: a quarter of an hour at 240 pictures a second has a tenth of them."""
PACKETS_PER_CALL = 2000
MAX_UNSEEN = 300_000
"""More pictures than this are never left out: their times would not fit into a worker's answer."""
HOLE_BYTES, HOLE_SHARE = 4096, 0.01
"""So many bytes between two packets, and so large a share of the file, are no container's own: packets are missing."""


@dataclass(frozen=True, slots=True)
class PacketIndex:
    """A track's packets in the order of the file; times in seconds from the first shown picture."""

    t: "np.ndarray[tuple[int], np.dtype[np.float64]]"
    """(n,) presentation times; empty when some packet has none."""
    keys: tuple[KeyPicture, ...]
    """Key pictures from the first shown picture on; none when decoding cannot safely begin at them."""
    extent: Extent = UNKNOWN_EXTENT
    unseen: "tuple[tuple[float, int], ...]" = ()
    """Time and presentation time of the pictures that need not be decoded, in the order of time
    (`formcheck.video.chunks.Chunk.unseen`)."""


def plan_tracking(
    reader: ClipReader,
    *,
    chunk_s: float = CHUNK_S,
    whole_s: float = WHOLE_S,
    report_alive: Callable[[], None] | None = None,
) -> Plan:
    """The plan by which a clip is tracked.

    Parameters
    ----------
    reader : the clip, opened; it is not read any further.
    chunk_s, whole_s : as for `formcheck.video.chunks.plan_chunks`.
    report_alive : called now and then while a large file is gone through.
    """
    first = reader.first_picture
    index = read_packet_index(reader.clip, first.start_s, probed=not first.header_suffices, report_alive=report_alive)
    if len(index.t) < 2:
        return Plan(extent=index.extent)
    t = np.sort(index.t[index.t >= 0])
    end_s = float(t[-1]) if len(t) else 0.0
    chunks = [_leave_out(index, chunk) for chunk in plan_chunks(index.keys, end_s, chunk_s=chunk_s, whole_s=whole_s)]
    return Plan(tuple(chunks), end_s, choose_survey_spans(index.keys, end_s), index.extent)


def _leave_out(index: PacketIndex, chunk: Chunk) -> Chunk:
    """The chunk with its pictures that need not be decoded."""
    from_s = chunk.from_s if chunk.key is None else chunk.from_s - WARM_UP_S
    return replace(chunk, unseen=tuple(stamp for t, stamp in index.unseen if from_s < t < chunk.until_s))


def read_packet_index(
    clip: Path, start_s: float, *, probed: bool = True, report_alive: Callable[[], None] | None = None
) -> PacketIndex:
    """Scan a clip's packets without decoding any.

    Parameters
    ----------
    start_s : presentation time of the first shown picture in the file's own seconds.
    probed : as for `formcheck.video.clip_file.open_clip`.
    """
    stamps, keys = array("q"), array("q")
    uses: list[PictureUse] = []
    with open_clip(clip, probed=probed) as container:
        stream = select_video_stream(container, clip)
        base = float(stream.time_base or 0)
        scan = _PacketScan(container, stream, clip.stat().st_size, start_s)
        safe = scan.indexed and base > 0
        read_use = make_use_reader(stream.codec_context.name, stream.codec_context.extradata)
        for number, packet in enumerate(scan.read_packets()):
            if packet.pts is None or number >= MAX_PACKETS:
                return PacketIndex(np.empty(0), (), scan.make_extent(read_stated_bytes(clip), timed=False))
            shown = packet.pts * base - start_s >= 0
            # a packet that is read but not shown, in mid-clip, is the seam of an edit
            safe = safe and not packet.is_corrupt and not (packet.is_discard and shown)
            stamps.append(packet.pts)
            uses.append(REFERENCED if read_use is None else read_use(memoryview(packet)))
            if packet.is_keyframe and shown:
                keys.append(packet.pts)
            if report_alive is not None and number % PACKETS_PER_CALL == 0:
                report_alive()
        safe = safe and not scan.errors
        extent = scan.make_extent(read_stated_bytes(clip), timed=base > 0)
    safe = safe and not extent.holes and len(set(stamps)) == len(stamps) and all(a < b for a, b in pairwise(keys))
    marks = tuple(KeyPicture(stamp * base - start_s, stamp) for stamp in keys) if safe else ()
    t = np.array(stamps, dtype=np.float64) * base - start_s
    return PacketIndex(t, marks, extent, _find_unseen(t, stamps, uses) if safe else ())


def _find_unseen(t: Array, stamps: Sequence[int], uses: Sequence[PictureUse]) -> tuple[tuple[float, int], ...]:
    """Times (s) and presentation times of pictures that are not tracked and that no other depends on.

    Parameters
    ----------
    t, stamps, uses : (n,) of each packet, in the order of the file.
    """
    highest = max((use.sublayer for use in uses), default=0)
    order = np.argsort(t)
    order = order[t[order] >= 0]
    tracked = take_at_rate(t[order], TRACKED_PER_S)
    unseen = [
        (float(t[at]), stamps[at])
        for at, seen in zip(order, tracked, strict=True)
        if not seen and uses[at].unreferenced and uses[at].sublayer == highest
    ]
    return tuple(unseen) if len(unseen) <= MAX_UNSEEN else ()


class _PacketScan:
    """Scans all packets of a file and collects what they say of its length.

    Times are in the file's own seconds, except in `extent`.
    """

    def __init__(self, container: "InputContainer", stream: "VideoStream", size: int, start_s: float):
        self._container, self._stream, self._size, self._start = container, stream, size, start_s
        self._kind = container.format.name.split(",")[0]
        self.indexed = self._kind in SEEKABLE
        self.errors = 0
        self._first, self._last, self._ends = np.inf, -np.inf, -np.inf
        self._first_key = np.inf
        self._all_end = -np.inf
        self._position = 0
        self._hole = False
        self._truncated = False
        """The packet read last is incomplete."""
        self._holes: list[Span] = []

    def read_packets(self) -> "Iterator[Packet[VideoStream]]":
        """The packets of the selected track, in the order of the file."""
        from av.error import FFmpegError

        # the other tracks tell how long a container lasts that has one length for all; an MP4 file has one a track
        watched: Any = () if self._kind != "mov" else (self._stream,)
        for _ in range(READ_ERRORS):
            try:
                for packet in self._container.demux(*watched):
                    if packet.size == 0:  # the end
                        continue
                    self._note(packet)
                    if packet.stream_index == self._stream.index:
                        yield packet
                return
            except FFmpegError:
                self.errors += 1

    def _note(self, packet: "Packet[Any]") -> None:
        if packet.pos is not None and packet.pos >= 0:
            self._hole = self._hole or (self._position > 0 and self._is_hole(packet.pos - self._position))
            self._position = max(self._position, packet.pos + packet.size)
        self._truncated = packet.is_corrupt
        if packet.pts is None or packet.time_base is None:
            return
        t = float(packet.pts * packet.time_base)
        end = t + float((packet.duration or 0) * packet.time_base)
        self._all_end = max(self._all_end, end)
        if packet.stream_index != self._stream.index or packet.is_discard:
            return
        if self._holes and self._holes[-1][1] == np.inf and packet.is_keyframe:
            self._holes[-1] = (self._holes[-1][0], t)  # what comes before it depends on what is missing
        if self._hole and self._kind != "mov" and t - self._last > NOTICED_S and len(self._holes) < MOST_HOLES:
            self._holes.append((self._last, t if packet.is_keyframe else np.inf))
        self._hole = False
        self._first, self._last, self._ends = min(self._first, t), max(self._last, t), max(self._ends, end)
        if packet.is_keyframe:
            self._first_key = min(self._first_key, t)

    def _is_hole(self, count: int) -> bool:
        return count > max(HOLE_BYTES, HOLE_SHARE * self._size)

    def make_extent(self, stated_bytes: int | None, *, timed: bool) -> Extent:
        """What the file states of its length, once all packets are scanned.

        Parameters
        ----------
        stated_bytes : bytes the file says it has.
        timed : every picture has its own time.
        """
        timed = timed and self._first < np.inf
        # what comes before the first key picture was cut away with what it depends on; nobody could ever see it
        first = min(self._first_key - self._start, 0.0) if timed and self.indexed else 0.0
        ends = max(self._ends, self._last) - self._start if timed else 0.0
        stated = self._compute_stated_end_s() if timed else None
        whole_file = self._kind == "mov" and self._stream.frames > 0  # its header lists every picture
        unread = not whole_file and self._position > 0 and self._is_hole(self._size - self._position)
        short = stated_bytes is not None and stated_bytes > self._size
        if short and timed:
            self._holes.append((self._last, np.inf))
        cut = unread or short
        noticed = (
            0.0 if short or self._truncated else NOTICED_S
        )  # where the end is surely missing, the header is believed
        if stated is not None and stated - ends > noticed and (cut or self._kind != "matroska"):
            return replace(self._make_extent(first), end_s=stated)
        late = ends - stated if stated is not None and whole_file else 0.0
        return replace(
            self._make_extent(first),
            end_s=ends,
            read_share=min(1.0, self._position / (stated_bytes or self._size)) if cut else 1.0,
            contradicted=late > max(LATE_S, LATE_SHARE * (stated or 0.0)),
        )

    def _make_extent(self, first_s: float) -> Extent:
        holes = tuple((a - self._start, b - self._start) for a, b in self._holes)
        return Extent(first_s, holes=holes, ordered=self.indexed)

    def _compute_stated_end_s(self) -> float | None:
        """When the film ends by its header, seconds from the first shown picture; None where it does not say so.

        A length for all tracks is the film's own only where no other track lasts so long.
        """
        stated = read_stated_duration(self._container, self._stream)
        if stated is None or (self._kind == "mov" and not self._stream.frames):
            return None
        if self._stream.duration:
            return stated + self._first - self._start
        return stated - self._start if stated > self._all_end else None
