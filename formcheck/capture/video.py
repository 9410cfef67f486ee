"""Clips as a stream of upright pictures with their true times.

A phone's clip has no fixed frame rate, so the time of a picture is its presentation time stamp times the
stream's time base, never its index over a rate; the first shown picture has time 0.
"""

import os
import threading
from array import array
from collections import deque
from collections.abc import Generator, Iterator
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np

from formcheck.capture.clip_file import ClipLimits, check_file, clip_sha256, is_picture, shown
from formcheck.capture.container import open_clip, stated_duration, video_stream
from formcheck.capture.upright import Rgb, fitted, orientation_of, square_pixel_size
from formcheck.errors import ClipError
from formcheck.model import ClipInfo

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

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


class ClipReader:
    """A clip, opened, to be read once from start to end; a context manager.

    Parameters
    ----------
    path : the clip.
    limits : what is refused.
    max_side : longest side in pixels of the pictures handed out; None: full size.

    Attributes
    ----------
    width, height : pixels of the upright full-size picture with square pixels.
    duration_hint_s : what the file says about its length, or None; the truth is known after reading.

    Raises ClipError with one sentence when there is no clip to read.
    """

    def __init__(self, path: str | Path, *, limits: ClipLimits | None = None, max_side: int | None = DECODE_SIDE):
        self.path = Path(path)
        self.limits = limits or ClipLimits()
        check_file(self.path, self.limits)
        self._container = open_clip(self.path)
        try:
            self._stream = video_stream(self._container, self.path)
            self._check_header()
            self._decoded = self._decode()
            self._first = next(self._decoded, None)
            if self._first is None:
                raise ClipError(
                    f"No picture of {shown(self.path)} can be decoded: the clip is damaged, cut off or holds no frames."
                )
            self._lay_out(self._first, max_side)
        except BaseException:
            self._container.close()
            raise
        self._times = array("d")
        self._started = False
        self._complete = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._container.close()

    def __iter__(self) -> Iterator[Frame]:
        """Every picture in the order of time, converted to RGB."""
        for t, picture in self.pictures():
            yield Frame(t, self.rgb(picture))

    def pictures(self) -> Iterator[tuple[float, "VideoFrame"]]:
        """Time in seconds and decoded picture, times strictly increasing; convert with `rgb` what is needed.

        Pictures that do not come later than the one before are left out. Raises ClipError when the clip turns out
        to be longer than the limit or to hold a single picture.
        """
        if self._started:
            raise ValueError("a clip reader reads its clip once")
        self._started = True
        assert self._first is not None
        start = stamp = self._stamp(self._first, None)
        self._times.append(0.0)
        yield 0.0, self._first
        self._first = None
        for picture in self._decoded:
            stamp = self._stamp(picture, stamp)
            t = stamp - start
            if t <= self._times[-1]:
                continue
            if t > self.limits.max_duration_s:
                raise self._too_long(t)
            self._times.append(t)
            yield t, picture
        if len(self._times) < 2:
            raise ClipError(self._single_picture())
        self._complete = True

    def rgb(self, picture: "VideoFrame") -> Rgb:
        """The picture upright with square pixels, (h, w, 3), scaled to `max_side`."""
        width, height = self._stored_size
        if (width, height) != (picture.width, picture.height):
            # scaling while still 4:2:0 and converting afterwards costs a third of doing both at once
            between = picture.format.name if picture.format.name in ("yuvj420p", "nv12") else "yuv420p"
            picture = self._scaler.reformat(picture, width, height, between, interpolation="BILINEAR")
        converted = self._reformatter.reformat(picture, width, height, "rgb24", interpolation="BILINEAR")
        return self._orientation.apply(np.asarray(converted.to_ndarray(), dtype=np.uint8))

    def info(self, *, sha256: str | None = None) -> ClipInfo:
        """What is known of the clip after it has been read to its end.

        Parameters
        ----------
        sha256 : the file's checksum, when it is known already.

        Raises ValueError when the clip has not been read to its end.
        """
        if not self._complete:
            raise ValueError("the clip has not been read to its end yet")
        t = np.frombuffer(self._times, dtype=np.float64)
        steps = np.diff(t)
        return ClipInfo(
            name=self.path.name,
            sha256=sha256 or clip_sha256(self.path),
            width=self.width,
            height=self.height,
            duration_s=float(t[-1] + np.median(steps)),
            frames=len(t),
            frame_rate=float((len(t) - 1) / t[-1]),
            variable_rate=varies(steps),
            codec=self._stream.codec_context.name,
        )

    # ------------------------------------------------------------ inside

    def _check_header(self) -> None:
        width, height = self._stream.codec_context.width, self._stream.codec_context.height
        self._check_side(width, height)
        self._stream.codec_context.options = {"max_pixels": str(self.limits.max_side**2)}
        self._stream.thread_type = "AUTO"
        # Up to full HD one decoding thread keeps ahead of the pose model; more would take its processor from it.
        enough = width * height <= ONE_THREAD_PIXELS
        self._stream.codec_context.thread_count = 1 if enough else min(4, os.cpu_count() or 1)
        self.duration_hint_s = stated_duration(self._container, self._stream)
        if self.duration_hint_s is not None and self.duration_hint_s > self.limits.max_duration_s:
            raise self._too_long(self.duration_hint_s)

    def _check_side(self, width: int, height: int) -> None:
        if max(width, height) > self.limits.max_side:
            raise ClipError(
                f"The picture of {shown(self.path)} is too large: {width} × {height} pixels, "
                f"and the limit is {self.limits.max_side} a side."
            )

    def _lay_out(self, picture: "VideoFrame", max_side: int | None) -> None:
        from av.video.reformatter import VideoReformatter

        self._scaler, self._reformatter = VideoReformatter(), VideoReformatter()
        self._orientation = orientation_of(picture)
        width, height = square_pixel_size(picture.width, picture.height, self._stream.sample_aspect_ratio)
        self._check_side(width, height)
        self._stored_size = fitted(width, height, max_side)
        self.width, self.height = (height, width) if self._orientation.swap else (width, height)

    def _decode(self) -> Iterator["VideoFrame"]:
        """Decoded pictures; a damaged packet or stretch costs only the pictures in it."""
        from av.error import FFmpegError

        for _ in range(READ_ERRORS):
            try:
                for packet in self._container.demux(self._stream):
                    try:
                        pictures = packet.decode()
                    except FFmpegError:
                        continue
                    yield from pictures
                return
            except FFmpegError:
                continue

    def _stamp(self, picture: "VideoFrame", before: float | None) -> float:
        """Presentation time in the file's own seconds; where the container has none, decoding order and rate tell."""
        base = picture.time_base or self._stream.time_base
        if picture.pts is not None and base is not None:
            return float(picture.pts * base)
        rate = self._stream.guessed_rate or self._stream.average_rate
        return 0.0 if before is None else before + (float(1 / rate) if rate else 1 / 30)

    def _too_long(self, seconds: float) -> ClipError:
        return ClipError(
            f"The clip {shown(self.path)} is too long: {seconds / 60:.1f} minutes or more, "
            f"and the limit is {self.limits.max_duration_s / 60:g}; cut it to the set."
        )

    def _single_picture(self) -> str:
        with self.path.open("rb") as file:
            still = is_picture(file.read(16))
        if still:
            return f"{shown(self.path)} is a picture, not a video."
        return f"The clip {shown(self.path)} holds a single frame; a set needs moving pictures."


def varies(steps: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> bool:
    """Whether frame intervals (seconds) vary more than rounding to milliseconds and a few lost frames explain."""
    spread = float(np.quantile(steps, 0.95) - np.quantile(steps, 0.05))
    return spread > max(0.1 * float(np.median(steps)), 0.0021)


def read_ahead(frames: Iterator[Frame], depth: int = 24, refill_at: int = 6) -> Generator[Frame]:
    """The same frames, read in a thread of their own at most `depth` frames ahead.

    Decoding and the pose model then run side by side. The thread rests until only `refill_at` frames are left and
    then fills up in one go: a thread that wakes for every frame would push the pose model off its core each time.
    An error of the reader appears here; closing this iterator stops the thread.
    """
    ready: deque[Frame] = deque()
    changed = threading.Condition()
    stop = False
    ended = False
    failure: BaseException | None = None

    def work() -> None:
        nonlocal ended, failure
        try:
            for frame in frames:
                with changed:
                    if len(ready) >= depth:
                        changed.wait_for(lambda: stop or len(ready) <= refill_at)
                    if stop:
                        return
                    ready.append(frame)
                    changed.notify()
        except BaseException as error:  # handed to the consumer, which raises it
            failure = error
        finally:
            with changed:
                ended = True
                changed.notify()

    thread = threading.Thread(target=work, name="formcheck-decode", daemon=True)
    thread.start()
    try:
        while True:
            with changed:
                changed.wait_for(lambda: ready or ended)
                if not ready:
                    break
                frame = ready.popleft()
                if len(ready) == refill_at:
                    changed.notify()
            yield frame
        if failure is not None:
            raise failure
    finally:
        with changed:
            stop = True
            changed.notify()
        thread.join()
