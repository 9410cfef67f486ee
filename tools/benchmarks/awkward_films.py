"""Whole films of awkward kinds, none of which has lost anything: cut without coding anew, odd lengths, odd containers.

Each is a function that writes one file into a folder. The pictures are coloured noise that moves, small enough that all
of them are made in seconds.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import av
import numpy as np

from formcheck.video.orientation import Rgb
from hostile_films import Film

RATE, COUNT, SIZE = 30, 150, (96, 64)


@dataclass(frozen=True, slots=True)
class WholeFilm:
    """One film: what is awkward about it, and how it is written."""

    name: str
    make: Callable[[Path], Path]


@cache
def frames() -> tuple[Rgb, ...]:
    """Pictures (height, width, 3) of a soft pattern that moves to the right by two pixels each."""
    width, height = SIZE
    rng = np.random.default_rng(11)
    wide = rng.integers(40, 216, (height // 8, width // 4, 3), dtype=np.uint8)
    base = np.kron(wide, np.ones((8, 8, 1), dtype=np.uint8))
    return tuple(np.ascontiguousarray(np.roll(base, 2 * step, axis=1)[:, :width]) for step in range(COUNT))


def film(title: str, name: str, times: Sequence[float] | None = None, **how: Any) -> WholeFilm:
    """A film of the plain pictures."""
    how = {"rate": RATE, **how}
    return WholeFilm(title, lambda folder: Film(name, **how).write(folder, frames(), times))


def remuxed(
    title: str,
    name: str,
    source: Film,
    *,
    options: dict[str, str] | None = None,
    keep: Callable[[int, Any], bool] = lambda number, packet: True,
    shift_s: float = 0.0,
) -> WholeFilm:
    """A film whose packets are put into another container, some left out or shifted, none coded anew."""

    def make(folder: Path) -> Path:
        made = source.write(folder, frames())
        path = folder / f"again-{name}"
        with av.open(str(made)) as reading, av.open(str(path), "w", options=options or {}) as writing:
            track: Any = writing.add_stream_from_template(reading.streams.video[0])
            for number, packet in enumerate(reading.demux(video=0)):
                if packet.pts is None or packet.dts is None or not keep(number, packet):
                    continue
                assert packet.time_base is not None
                shift = round(shift_s / packet.time_base)
                packet.stream, packet.pts, packet.dts = track, packet.pts + shift, packet.dts + shift
                writing.mux(packet)
        made.unlink()
        return path

    return WholeFilm(title, make)


def with_sound(title: str, name: str, seconds: float, codec: str = "aac", video: str = "libx264") -> WholeFilm:
    """A film with sound of another length."""

    def make(folder: Path) -> Path:
        path = folder / name
        with av.open(str(path), "w") as container:
            stream: Any = container.add_stream(video, rate=RATE)
            stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
            sound: Any = container.add_stream(codec, rate=48_000, layout="mono")
            for step, picture in enumerate(frames()):
                frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
                frame.pts, frame.time_base = step, Fraction(1, RATE)
                container.mux(stream.encode(frame))
            container.mux(stream.encode(None))
            size = sound.codec_context.frame_size if sound.codec_context.frame_size > 0 else 1024
            kind = sound.codec_context.format.name
            for start in range(0, round(48_000 * seconds), size):
                silence = np.zeros((1, size), dtype=np.float32 if kind.startswith("flt") else np.int16)
                block = av.AudioFrame.from_ndarray(silence, format=kind, layout="mono")
                block.sample_rate, block.pts = 48_000, start
                container.mux(sound.encode(block))
            container.mux(sound.encode(None))
        return path

    return WholeFilm(title, make)


def tail(title: str, name: str, more: bytes, **how: Any) -> WholeFilm:
    """A whole film with other bytes behind it."""

    def make(folder: Path) -> Path:
        path = Film(name, rate=RATE, **how).write(folder, frames())
        with path.open("ab") as file:
            file.write(more)
        return path

    return WholeFilm(title, make)


class FromKey:
    """Keeps the packets from a film's second key picture on."""

    def __init__(self) -> None:
        self._keys = 0

    def __call__(self, number: int, packet: Any) -> bool:
        self._keys = packet.is_keyframe + (self._keys if number else 0)
        return self._keys >= 2


def _from_packet(first: int) -> Callable[[int, Any], bool]:
    return lambda number, packet: number >= first


B_PICTURES = {"preset": "veryfast", "bf": "3", "g": "30"}
OPEN = {"preset": "veryfast", "bf": "3", "g": "30", "x264-params": "open-gop=1:b-pyramid=normal"}
X265 = {"preset": "ultrafast", "x265-params": "log-level=none:pools=1:keyint=30:open-gop=1:bframes=3"}
SVT = {"preset": "12", "svtav1-params": "lp=1"}
VP = {"deadline": "realtime", "cpu-used": "8"}
ALT_REF = {"deadline": "good", "cpu-used": "5", "auto-alt-ref": "1", "lag-in-frames": "16", "g": "60"}
MKV: dict[str, Any] = {"ticks": 1000}
FRAME_CLOCK: dict[str, Any] = {"ticks": RATE}


def _rates() -> list[WholeFilm]:
    even = [k / RATE for k in range(COUNT)]
    rng = np.random.default_rng(3)
    uneven = np.cumsum(rng.choice([0.016, 0.033, 0.034, 0.066, 0.1, 0.4], COUNT)).astype(float).tolist()
    paused = [t if k < COUNT // 2 else t + 7.0 for k, t in enumerate(even)]
    held = [*even[:-1], even[-1] + 4.0]
    return [
        film("variable rate, mp4", "film.mp4", uneven),
        film("variable rate, mkv", "film.mkv", uneven, **MKV),
        film("variable rate, webm", "film.webm", uneven, codec="libvpx", codec_options=VP, **MKV),
        film("recording paused for 7 s, mp4", "film.mp4", paused),
        film("recording paused for 7 s, mkv", "film.mkv", paused, **MKV),
        film("last picture held for 4 s, mkv", "film.mkv", held, **MKV),
        film("last picture held for 4 s, mp4", "film.mp4", held),
        film("240 a second", "film.mp4", [k / 240 for k in range(COUNT)], codec_options={"g": "240"}),
        film("1 a second", "film.mp4", [float(k) for k in range(COUNT)]),
        film("starts at 100 s, mkv", "film.mkv", [t + 100 for t in even], **MKV),
        film("starts at 3 s, mp4 (empty edit)", "film.mp4", [t + 3 for t in even]),
        film("negative times, nut", "film.nut", [t - 1 for t in even], **MKV),
        film("negative times, mp4", "film.mp4", [t - 1 for t in even]),
    ]


def _cut() -> list[WholeFilm]:
    closed = Film("film.mp4", codec_options=B_PICTURES, rate=RATE)
    opened = Film("film.mp4", codec_options=OPEN, rate=RATE)
    hevc = Film("film.mp4", codec="libx265", codec_options=X265, rate=RATE)
    stream = Film("film.ts", codec_options=B_PICTURES, rate=RATE)
    return [
        remuxed("edit list, begins in mid-group", "film.mp4", closed, options={"use_editlist": "1"}, shift_s=-1.4),
        remuxed("front cut off at a key picture", "film.mp4", closed, keep=FromKey()),
        remuxed("front cut off in mid-group", "film.mp4", closed, keep=_from_packet(40)),
        remuxed("open groups, front cut off", "film.mp4", opened, keep=FromKey()),
        remuxed("open groups, front cut off, mkv", "film.mkv", opened, keep=FromKey()),
        remuxed("HEVC, open groups, front cut off", "film.mp4", hevc, keep=FromKey()),
        remuxed("MPEG-TS cut in mid-group", "film.ts", stream, keep=_from_packet(40)),
        remuxed("end cut off in storing order", "film.mp4", closed, keep=lambda number, packet: number < 100),
        remuxed("rotated by its header", "film.mov", Film("film.mov", rotation=(90, False, False), rate=RATE)),
        remuxed("fragmented, no index", "film.mp4", closed, options={"movflags": "frag_keyframe+empty_moov"}),
        remuxed("fragmented by picture", "film.mp4", closed, options={"movflags": "frag_every_frame+empty_moov"}),
        remuxed("fragmented, with an index of fragments", "film.mp4", closed, options={"movflags": "dash"}),
        remuxed("live, no length, mkv", "film.mkv", closed, options={"live": "1"}),
        remuxed("index first", "film.mp4", closed, options={"movflags": "+faststart"}),
    ]


def _coded() -> list[WholeFilm]:
    return [
        film("one key picture in all", "film.mp4", codec_options={"g": "9999", "preset": "veryfast"}),
        film("refreshed by columns, no key pictures", "film.mp4", codec_options={"x264-params": "intra-refresh=1"}),
        film("fields, H.264", "film.mp4", codec_options={"x264-params": "interlaced=1"}),
        film("several slices, H.264", "film.mp4", codec_options={"x264-params": "slices=4"}),
        film("HEVC, 10 bit, open groups", "film.mov", codec="libx265", pix_fmt="yuv420p10le", codec_options=X265),
        film("VP8 with pictures that are not shown", "film.webm", codec="libvpx", codec_options=ALT_REF, **MKV),
        film("VP9 with pictures that are not shown", "film.webm", codec="libvpx-vp9", codec_options=ALT_REF, **MKV),
        film("AV1, mkv", "film.mkv", codec="libsvtav1", codec_options=SVT, **FRAME_CLOCK),
        film("AV1, mp4", "film.mp4", codec="libsvtav1", codec_options=SVT, **FRAME_CLOCK),
        film("MJPEG, avi", "film.avi", codec="mjpeg", pix_fmt="yuvj420p", **FRAME_CLOCK),
        film("MJPEG, mkv", "film.mkv", codec="mjpeg", pix_fmt="yuvj420p", **MKV),
        film("MPEG-4 with b-pictures, avi", "film.avi", codec="mpeg4", codec_options={"bf": "2"}, **FRAME_CLOCK),
        film("MPEG-2 with b-pictures, mpg", "film.mpg", codec="mpeg2video", codec_options={"bf": "2"}, **FRAME_CLOCK),
        film("ProRes", "film.mov", codec="prores_ks", pix_fmt="yuv422p10le", **FRAME_CLOCK),
        film("FLV", "film.flv", **MKV),
        film("WMV", "film.wmv", codec="wmv2", **MKV),
    ]


def _sound() -> list[WholeFilm]:
    length = COUNT / RATE
    return [
        with_sound("sound 6 s longer, mp4", "film.mp4", length + 6),
        with_sound("sound 6 s longer, mkv", "film.mkv", length + 6),
        with_sound("sound 6 s longer, webm", "film.webm", length + 6, "libopus", "libvpx-vp9"),
        with_sound("sound 6 s longer, flv", "film.flv", length + 6),
        with_sound("sound 6 s longer, avi", "film.avi", length + 6, "pcm_s16le", "mpeg4"),
        with_sound("sound 3 s shorter, mp4", "film.mp4", length - 3),
        with_sound("sound 3 s shorter, mkv", "film.mkv", length - 3),
        with_sound("sound 6 s longer, MPEG-TS", "film.ts", length + 6),
    ]


def _bytes_behind() -> list[WholeFilm]:
    padding = 200_000
    free = padding.to_bytes(4, "big") + b"free" + bytes(padding - 8)
    return [
        tail("room left free at the end, mp4", "film.mp4", free),
        tail("zeros behind the film, mp4", "film.mp4", bytes(padding)),
        tail("another film's bytes behind it", "film.mp4", np.random.default_rng(2).bytes(padding)),
    ]


def awkward() -> list[WholeFilm]:
    """All of them."""
    return [*_rates(), *_cut(), *_coded(), *_sound(), *_bytes_behind()]
