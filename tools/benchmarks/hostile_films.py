"""Films that must be reviewed like the reference: the same pictures in every container, codec, shape and time there is.

The pictures are those of a shipped clip of an invented lifter. Each case is a function that writes one file.
"""

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import numpy as np

from formcheck.video.orientation import Rgb
from formcheck.video.reader import ClipReader

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "clips_demo" / "lateral_raise_front_clean.mp4"
RATE, SECONDS, SIZE = 15, 9.0, (360, 640)
os.environ.setdefault("SVT_LOG", "0")  # the AV1 encoder else tells its settings at every film
Want = Literal["same", "told", "none", "sentence", "either"]
"""same: the reference's reps and top angles; told: that, or a note that says what limits the clip; none: a review
without reps; sentence: refused; either: a review or refused, as long as it ends in one of them."""


@dataclass(frozen=True, slots=True)
class Case:
    """One input: how it is made and in what it must end."""

    name: str
    make: Callable[[Path], Path]
    """Writes the file into an empty folder and returns its path."""
    want: Want
    says: str = ""
    """Words the sentence must hold."""
    within_deg: float = 4.0
    """How far a top angle may be from the reference's; a picture coded or scaled anew is not the same picture."""


@cache
def pictures(source: Path = SOURCE, seconds: float = SECONDS, size: tuple[int, int] = SIZE) -> tuple[Rgb, ...]:
    """The pictures of a shipped clip at `RATE` a second, (height, width, 3)."""
    import cv2

    taken: list[Rgb] = []
    with ClipReader(source) as reader:
        for t, rgb in reader:
            if t >= seconds:
                break
            if t * RATE >= len(taken):
                taken.append(np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8))
    return tuple(taken)


@dataclass(frozen=True, slots=True)
class Film:
    """How a file is written; `write` writes it."""

    name: str = "clip.mp4"
    codec: str = "libx264"
    pix_fmt: str = "yuv420p"
    codec_options: Mapping[str, str] = field(default_factory=dict)
    container_options: Mapping[str, str] = field(default_factory=dict)
    rotation: tuple[float, bool, bool] | None = None
    """Degrees counter-clockwise, mirrored in x, mirrored in y: what the file asks the player to do."""
    pixel_shape: Fraction | None = None
    hdr: bool = False
    ticks: int = 90_000
    rate: int = RATE

    def write(self, folder: Path, frames: Sequence[Rgb], times: Sequence[float] | None = None) -> Path:
        """Encode the pictures, at these seconds or at the film's own rate."""
        import av

        path = folder / self.name
        times = [k / self.rate for k in range(len(frames))] if times is None else times
        clock = Fraction(1, self.ticks)
        with av.open(str(path), "w", options=dict(self.container_options)) as container:
            stream: Any = container.add_stream(self.codec, rate=self.rate)
            stream.height, stream.width = frames[0].shape[:2]
            stream.pix_fmt = self.pix_fmt
            stream.codec_context.time_base = stream.time_base = clock
            usual = {"preset": "ultrafast", "bf": "0"} if self.codec == "libx264" else {}
            stream.codec_context.options = {**usual, **self.codec_options}
            stream.bit_rate = 4_000_000
            if self.pixel_shape is not None:
                stream.codec_context.sample_aspect_ratio = self.pixel_shape
            if self.rotation is not None:
                stream.set_display_rotation(self.rotation[0], hflip=self.rotation[1], vflip=self.rotation[2])
            if self.hdr:  # BT.2020 primaries and matrix, PQ transfer: ITU-T H.273, tables 2 to 4
                context = stream.codec_context
                context.color_primaries, context.color_trc, context.colorspace = 9, 16, 9
            for picture, t in zip(frames, times, strict=True):
                frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
                frame.pts, frame.time_base = round(t * self.ticks), clock
                container.mux(stream.encode(frame))
            container.mux(stream.encode(None))
        return path


def film(name: str, title: str, *, want: Want = "same", within_deg: float = 4.0, **how: Any) -> Case:
    """A case of the plain pictures, written in a special way."""
    return Case(title, lambda folder: Film(name, **how).write(folder, pictures()), want, within_deg=within_deg)


def changed(
    title: str, change: Callable[[Rgb], Rgb], how: Film, *, want: Want = "same", within_deg: float = 4.0
) -> Case:
    """A case of changed pictures."""
    return Case(title, lambda folder: how.write(folder, [change(p) for p in pictures()]), want, within_deg=within_deg)


@cache
def plain(name: str = "clip.mp4", index_first: bool = False) -> bytes:
    """The bytes of the plain film in the container its name stands for."""
    options = {"movflags": "+faststart"} if index_first and name.endswith((".mp4", ".mov")) else {}
    with TemporaryDirectory() as folder:
        made = Film(name, container_options=options, ticks=1000).write(Path(folder), pictures())
        return made.read_bytes()


def holding(title: str, data: Callable[[], bytes], want: Want, says: str = "", name: str = "clip.mp4") -> Case:
    """A case of a file with these bytes."""

    def make(folder: Path) -> Path:
        path = folder / name
        path.write_bytes(data())
        return path

    return Case(title, make, want, says)


FRAME_CLOCK: dict[str, Any] = {"ticks": RATE}
SVT = {"preset": "12", "svtav1-params": "lp=1"}


def coded() -> list[Case]:
    """Containers, codecs, depths."""
    fast = {"deadline": "realtime", "cpu-used": "8"}
    deep = {**fast, "profile": "2"}
    x265 = {"preset": "ultrafast", "x265-params": "log-level=none:pools=1"}
    return [
        film("clip.mp4", "H.264, mp4"),
        film("clip.mov", "H.264, mov"),
        film("clip.m4v", "H.264, index first", container_options={"movflags": "+faststart"}),
        film("clip.mp4", "H.264, fragmented mp4", container_options={"movflags": "frag_keyframe+empty_moov"}),
        film("clip.mkv", "H.264, mkv", ticks=1000),
        film("clip.ts", "H.264, mpegts"),
        film("clip.avi", "H.264, avi", **FRAME_CLOCK),
        film("clip.flv", "H.264, flv", ticks=1000),
        film("clip.mp4", "H.264, b-pictures", codec_options={"preset": "veryfast", "bf": "3"}),
        film("clip.mp4", "H.264, open groups", codec_options={"preset": "veryfast", "x264-params": "open-gop=1"}),
        film("clip.mp4", "H.264, one key picture in all", codec_options={"g": "9999", "preset": "ultrafast"}),
        film("clip.mp4", "H.264, 10 bit", pix_fmt="yuv420p10le"),
        film("clip.mp4", "H.264, 4:4:4", pix_fmt="yuv444p"),
        film("clip.mp4", "H.264, grey", pix_fmt="gray", within_deg=6.0),
        film("clip.mp4", "HEVC, mp4", codec="libx265", codec_options=x265),
        film("clip.mov", "HEVC, 10 bit", codec="libx265", pix_fmt="yuv420p10le", codec_options=x265),
        film(
            "clip.mov", "HEVC, 10 bit, HDR tags", codec="libx265", pix_fmt="yuv420p10le", codec_options=x265, hdr=True
        ),
        film("clip.webm", "VP8, webm", codec="libvpx", codec_options=fast, ticks=1000),
        film("clip.webm", "VP9, webm", codec="libvpx-vp9", codec_options=fast, ticks=1000),
        film("clip.mp4", "VP9, mp4", codec="libvpx-vp9", codec_options=fast),
        film("clip.webm", "VP9, 10 bit", codec="libvpx-vp9", pix_fmt="yuv420p10le", codec_options=deep, ticks=1000),
        film("clip.mp4", "AV1, mp4", codec="libsvtav1", codec_options=SVT, **FRAME_CLOCK),
        film("clip.mkv", "AV1, 10 bit", codec="libsvtav1", pix_fmt="yuv420p10le", codec_options=SVT, **FRAME_CLOCK),
        film("clip.mp4", "MPEG-4, mp4", codec="mpeg4", **FRAME_CLOCK),
        film("clip.avi", "MPEG-4, avi", codec="mpeg4", **FRAME_CLOCK),
        film("clip.mpg", "MPEG-2, mpg", codec="mpeg2video", rate=30, ticks=30),
        film("clip.mov", "ProRes, 10 bit", codec="prores_ks", pix_fmt="yuv422p10le", **FRAME_CLOCK),
        film("clip.mov", "ProRes, 4:4:4:4", codec="prores_ks", pix_fmt="yuva444p10le", **FRAME_CLOCK),
        film("clip.avi", "MJPEG, avi", codec="mjpeg", pix_fmt="yuvj420p", **FRAME_CLOCK),
        film("clip.mov", "MJPEG, mov", codec="mjpeg", pix_fmt="yuvj420p", **FRAME_CLOCK),
        film("clip.gif", "GIF, moving", codec="gif", pix_fmt="rgb8", ticks=100, within_deg=8.0),
        film("clip.mkv", "FFV1, mkv", codec="ffv1", ticks=1000),
        film("clip.wmv", "WMV, asf", codec="wmv2", ticks=1000),
        film("clip.mkv", "raw pictures", codec="rawvideo", ticks=1000),
    ]


def shaped() -> list[Case]:
    """Rotated, mirrored, pixels that are not square, odd and extreme sizes."""
    import cv2

    def size(width: int, height: int) -> Callable[[Rgb], Rgb]:
        return lambda picture: np.asarray(cv2.resize(picture, (width, height)), dtype=np.uint8)

    def turn(quarters: int, mirror: bool) -> Callable[[Rgb], Rgb]:
        return lambda picture: np.rot90(picture[:, ::-1] if mirror else picture, -quarters)

    turned = [
        changed(
            f"turned {degrees}°{', mirrored' if mirror else ''}",
            turn(degrees // 90, mirror),
            Film(rotation=(degrees, mirror, False)),
        )
        for degrees in (0, 90, 180, 270)
        for mirror in (False, True)
    ]
    return [
        *turned,
        changed("upside down by a mirror", lambda p: p[::-1], Film(rotation=(0, False, True))),
        changed("pixels 4:3", size(270, 640), Film(pixel_shape=Fraction(4, 3))),
        changed("pixels 1:2", size(720, 640), Film(pixel_shape=Fraction(1, 2))),
        changed("landscape", lambda p: np.pad(p, ((0, 0), (390, 390), (0, 0)), mode="edge"), Film()),
        changed("odd size, 4:4:4", size(361, 641), Film(pix_fmt="yuv444p")),
        changed("odd size, raw", size(359, 639), Film("clip.mkv", "ffv1", "bgr0", ticks=1000)),
        changed("very wide picture", lambda p: np.pad(p, ((0, 0), (1100, 1100), (0, 0))), Film(), want="told"),
        changed("90 × 160", size(90, 160), Film(), want="told", within_deg=12.0),
        changed("16 × 16", size(16, 16), Film(), want="none"),
        Case("4K", lambda f: Film().write(f, [size(2160, 3840)(p) for p in pictures()[:12]]), "none"),
        Case("8K", lambda f: Film().write(f, [size(7680, 4320)(p) for p in pictures()[:3]]), "none"),
        Case("wider than 8K", lambda f: Film().write(f, [size(8704, 128)(p) for p in pictures()[:3]]), "sentence",
             "too large"),
    ]  # fmt: skip
