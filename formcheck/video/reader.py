"""Reads a clip as a stream of upright pictures with their true times.

A phone's clip has no fixed frame rate, so the time of a picture is its presentation time stamp times the
stream's time base, never its index over a rate; the first shown picture has time 0.
"""

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import chain, dropwhile
from math import inf
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np

from formcheck.core.errors import FILE, ClipError
from formcheck.video.chunks import WHOLE_CLIP, Chunk
from formcheck.video.clip_file import (
    ClipLimits,
    check_file,
    is_picture,
    open_clip,
    read_stated_duration,
    select_video_stream,
)
from formcheck.video.orientation import Orientation, Rgb, compute_square_pixel_size, fit_size, read_orientation

if TYPE_CHECKING:
    from av.packet import Packet
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

ONE_THREAD_PIXELS = 1920 * 1088
"""Pictures up to this size are decoded by one thread."""
DECODE_SIDE = 1280
"""Longer side of the pictures handed out; larger ones are scaled down. The pose model works on a crop of 256 × 256:
its arm angles from 1280 and from 1920 pixels differ by 0.5° (root mean square) with a bias below 0.1°, and scaling
costs less than handling the large picture."""

READ_ERRORS = 50
"""Damaged stretches of the container that are skipped before the rest is given up."""


class Frame(NamedTuple):
    """One picture of a clip."""

    t: float
    """Seconds from the first shown picture."""
    rgb: Rgb
    """(h, w, 3) upright, square pixels, contiguous."""


@dataclass(frozen=True, slots=True)
class ClipHead:
    """What is known of an opened clip before it is read to its end; fields as in `formcheck.core.model.ClipInfo`."""

    width: int
    height: int
    codec: str
    duration_hint_s: float | None
    """What the file says about its length, or None; the truth is known after reading."""


@dataclass(frozen=True, slots=True)
class FirstPicture:
    """What a clip's first picture tells, so that a chunk that begins later is read without decoding it."""

    start_s: float
    """Its presentation time in the file's own seconds."""
    width: int
    """Of the stored picture with square pixels."""
    height: int
    orientation: Orientation
    header_suffices: bool = False
    """Whether another reader need not decode pictures to learn what a decoder must know, since the header says it. Of
    H.264 it does not say by how many pictures they are reordered, where they are shown in another order than stored."""


class SeekError(Exception):
    """Decoding cannot begin at the key picture asked for."""


class ClipReader:
    """A clip, opened, to be read once from start to end, or one chunk of it; a context manager.

    Parameters
    ----------
    clip : the clip's file.
    limits : what is refused.
    max_side : longest side in pixels of the pictures handed out; None: full size.
    threads : decoding threads; None: one up to full HD, else one a core, four at most.
    known : what an earlier reader of the same clip found in its first picture; None: it is decoded at once.

    Attributes
    ----------
    width, height : pixels of the upright full-size picture with square pixels.
    duration_hint_s : what the file says about its length, or None; the truth is known after reading.
    start_s : presentation time of the first shown picture in the file's own seconds.
    first_picture : what the first picture tells, for another reader of the same clip.
    lost : stretches read so far in which pictures were damaged and are left out: seconds of the last picture handed
        out before and the first after, infinite where there is none.
    backward : pictures left out because their time comes before the one shown earlier.

    Raises ClipError with one sentence when there is no clip to read.
    """

    def __init__(
        self,
        clip: str | Path,
        *,
        limits: ClipLimits | None = None,
        max_side: int | None = DECODE_SIDE,
        threads: int | None = None,
        known: FirstPicture | None = None,
    ):
        self.clip = Path(clip)
        self.limits = limits or ClipLimits()
        self._threads = threads
        self.lost: list[tuple[float, float]] = []
        self.backward = 0
        self._damaged = False
        self._unseen: frozenset[int] = frozenset()
        check_file(self.clip, self.limits)
        self._container = open_clip(self.clip, probed=known is None or not known.header_suffices)
        try:
            self._stream = select_video_stream(self._container, self.clip)
            self._check_header()
            self._decoded = self._decode(self._read_packets())
            self._first: VideoFrame | None = None
            if known is None:
                self._first = self._decode_first()
                known = self._describe(self._first)
            self.first_picture = known
            self._set_size(self.first_picture, max_side)
            self.start_s = self.first_picture.start_s
        except BaseException:
            self._container.close()
            raise
        self._started = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._container.close()

    def __iter__(self) -> Iterator[Frame]:
        """Every picture in the order of time, converted to RGB."""
        for t, picture in self.pictures():
            yield Frame(t, self.rgb(picture))

    def pictures(self, chunk: Chunk = WHOLE_CLIP) -> Iterator[tuple[float, "VideoFrame"]]:
        """Time in seconds and decoded picture, times strictly increasing; convert with `rgb` what is needed.

        A chunk's pictures begin at its key picture, before `Chunk.from_s`, and end before `Chunk.until_s`. Pictures
        that do not come later than the one before are left out, and so are those of `Chunk.unseen`, unless they were
        decoded before the chunk was asked for. Raises ClipError when the clip turns out to be
        longer than the limit or to hold a single picture, SeekError when the chunk's key picture is not found.
        """
        if self._started:
            raise ValueError("a clip reader reads its clip once")
        self._started = True
        first, self._first = self._first, None
        if first is None and chunk.key is None:
            first = self._decode_first()
        self._unseen = frozenset(chunk.unseen)
        if chunk.key is not None:
            self._damaged = False  # what came before the chunk is not its own
            self._decoded = self._decode(self._read_packets_from(chunk.key))
            # pictures that follow the key picture in the file and precede it in time depend on what is not decoded
            first = next((item for item in self._decoded if item.pts is None or item.pts >= chunk.key), first)
            if first is None or first.pts != chunk.key:
                raise SeekError(f"no picture at {chunk.key}")
        assert first is not None
        stamp = self._compute_time_s(first, None)
        last, count = stamp - self.start_s, 1
        self._note_lost(-inf, last)
        yield last, first
        del first
        for picture in self._decoded:
            stamp = self._compute_time_s(picture, stamp)
            t = stamp - self.start_s
            if t <= last:
                self.backward += t < last
                continue
            if t > self.limits.max_duration_s:
                raise self._make_too_long_error(t)
            self._note_lost(last, t)
            if t >= chunk.until_s:
                return
            last, count = t, count + 1
            yield t, picture
        self._note_lost(last, inf)
        if count + len(self._unseen) < 2 and chunk.key is None:
            raise ClipError(self._explain_single_picture(), path=self.clip)

    def _note_lost(self, after: float, until: float) -> None:
        if self._damaged:
            self._damaged = False
            self.lost.append((after, until))

    def compute_times_s(self, stamps: Sequence[int]) -> list[float]:
        """When pictures with these presentation times, in the units of the track, are shown."""
        base = self._stream.time_base
        assert base is not None
        return [float(stamp * base) - self.start_s for stamp in stamps]

    def rgb(self, picture: "VideoFrame") -> Rgb:
        """The picture upright with square pixels, (h, w, 3), scaled to `max_side`."""
        width, height = self._stored_size
        if (width, height) != (picture.width, picture.height):
            # scaling while still 4:2:0 and converting afterwards costs a third of doing both at once
            between = picture.format.name if picture.format.name in ("yuvj420p", "nv12") else "yuv420p"
            picture = self._scaler.reformat(picture, width, height, between, interpolation="BILINEAR")
        converted = self._reformatter.reformat(picture, width, height, "rgb24", interpolation="BILINEAR")
        return self._orientation.apply(np.asarray(converted.to_ndarray(), dtype=np.uint8))

    @property
    def head(self) -> ClipHead:
        """What is known before reading."""
        return ClipHead(self.width, self.height, self._stream.codec_context.name, self.duration_hint_s)

    # ------------------------------------------------------------ inside

    def _check_header(self) -> None:
        width, height = self._stream.codec_context.width, self._stream.codec_context.height
        self._check_side(width, height)
        self._stream.codec_context.options = {"max_pixels": str(self.limits.max_side**2)}
        self._stream.thread_type = "AUTO"
        # Up to full HD one decoding thread keeps ahead of the pose model; more would take its processor from it.
        enough = 1 if width * height <= ONE_THREAD_PIXELS else min(4, os.cpu_count() or 1)
        self._stream.codec_context.thread_count = self._threads or enough
        self.duration_hint_s = read_stated_duration(self._container, self._stream)
        if self.duration_hint_s is not None and self.duration_hint_s > self.limits.max_duration_s:
            raise self._make_too_long_error(self.duration_hint_s)

    def _check_side(self, width: int, height: int) -> None:
        if max(width, height) > self.limits.max_side:
            raise ClipError(
                f"The picture of {FILE} is too large: {width} × {height} pixels, "
                f"and the limit is {self.limits.max_side} a side.",
                path=self.clip,
            )

    def _decode_first(self) -> "VideoFrame":
        first = next(self._decoded, None)
        if first is None:
            raise ClipError(
                f"No picture of {FILE} can be decoded: the clip is damaged, cut off or holds no frames.",
                path=self.clip,
            )
        return first

    def _describe(self, picture: "VideoFrame") -> FirstPicture:
        width, height = compute_square_pixel_size(picture.width, picture.height, self._stream.sample_aspect_ratio)
        alone, context = len(self._container.streams.video) == 1, self._stream.codec_context
        suffices = (
            alone
            and self._container.format.name.startswith("mov,")
            and (context.name == "hevc" or not context.has_b_frames)
        )
        return FirstPicture(self._compute_time_s(picture, None), width, height, read_orientation(picture), suffices)

    def _set_size(self, first: FirstPicture, max_side: int | None) -> None:
        from av.video.reformatter import VideoReformatter

        self._scaler, self._reformatter = VideoReformatter(), VideoReformatter()
        self._orientation = first.orientation
        self._check_side(first.width, first.height)
        self._stored_size = fit_size(first.width, first.height, max_side)
        swap = first.orientation.swap
        self.width, self.height = (first.height, first.width) if swap else (first.width, first.height)

    def _read_packets(self) -> Iterator["Packet[VideoStream]"]:
        """The track's packets from here on; a damaged stretch costs only what is in it."""
        from av.error import FFmpegError

        for _ in range(READ_ERRORS):
            try:
                yield from self._container.demux(self._stream)
                return
            except FFmpegError:
                continue

    def _read_packets_from(self, key: int) -> Iterator["Packet[VideoStream]"]:
        """The packets from a key picture's on, found through the file's index or else by going through the file."""
        from av.error import FFmpegError

        with suppress(FFmpegError):
            self._container.seek(key, stream=self._stream)
            after = dropwhile(lambda packet: packet.pts != key, self._read_packets())
            if (found := next(after, None)) is not None:
                return chain([found], after)
        self._container.close()
        self._container = open_clip(self.clip)
        self._stream = select_video_stream(self._container, self.clip)
        self._check_header()
        return dropwhile(lambda packet: packet.pts != key, self._read_packets())

    def _decode(self, packets: Iterator["Packet[VideoStream]"]) -> Iterator["VideoFrame"]:
        """Sound pictures: one that was damaged is left out, and so is all that follows up to the next key picture."""
        from av.error import FFmpegError

        spoilt, since = False, None
        for packet in packets:
            if packet.pts in self._unseen:
                continue
            try:
                if packet.is_corrupt and not packet.is_discard:
                    spoilt, since, self._damaged = True, packet.pts, True
                pictures = packet.decode()
            except FFmpegError:
                spoilt, since, self._damaged = True, packet.pts, True
                continue
            for picture in pictures:
                if picture.is_corrupt:
                    spoilt, since, self._damaged = True, picture.pts, True
                elif spoilt and picture.key_frame:
                    spoilt = since is not None and picture.pts is not None and picture.pts <= since
                if not spoilt:
                    yield picture

    def _compute_time_s(self, picture: "VideoFrame", before: float | None) -> float:
        """Presentation time in the file's own seconds; where the container has none, decoding order and rate tell."""
        base = picture.time_base or self._stream.time_base
        if picture.pts is not None and base is not None:
            return float(picture.pts * base)
        rate = self._stream.guessed_rate or self._stream.average_rate
        return 0.0 if before is None else before + (float(1 / rate) if rate else 1 / 30)

    def _make_too_long_error(self, seconds: float) -> ClipError:
        if self.duration_hint_s is not None and self.duration_hint_s <= self.limits.max_duration_s:
            return ClipError(
                f"The clip {FILE} is damaged: it says it lasts {self.duration_hint_s:.0f} seconds, "
                f"but has a picture at {seconds:.0f}; copy it again.",
                path=self.clip,
            )
        return ClipError(
            f"The clip {FILE} is too long: {seconds / 60:.1f} minutes or more, "
            f"and the limit is {self.limits.max_duration_s / 60:g}; cut it to the set.",
            path=self.clip,
        )

    def _explain_single_picture(self) -> str:
        with self.clip.open("rb") as file:
            still = is_picture(file.read(16))
        if still:
            return f"{FILE} is a picture, not a video."
        if self.lost:
            return f"The clip {FILE} is damaged: no moving pictures could be read; copy it again."
        return f"The clip {FILE} holds a single frame; a set needs moving pictures."
