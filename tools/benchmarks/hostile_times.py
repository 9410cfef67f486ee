"""Films with rates, time stamps, edit lists and tracks that are not as one would like them."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from hostile_films import RATE, Case, Film, Want, pictures


def timed() -> list[Case]:
    """Rates, time stamps, edit lists, tracks."""
    n = len(pictures())
    plain = [k / RATE for k in range(n)]
    rng = np.random.default_rng(7)
    jitter = [t + float(d) for t, d in zip(plain, rng.uniform(-0.03, 0.03, n).cumsum() % 0.03, strict=True)]

    def at(title: str, times: Sequence[float], how: Film | None = None, want: Want = "same") -> Case:
        return Case(title, lambda folder: (how or Film()).write(folder, pictures(), times), want)

    def often(folder: Path, times: int) -> Path:
        frames = [p[::2, ::2] for p in pictures() for _ in range(times)]
        return Film(rate=RATE * times).write(folder, frames)

    return [
        Case("1 a second", lambda f: Film(rate=1).write(f, pictures()[::RATE]), "told"),
        Case("5 a second", lambda f: Film(rate=5).write(f, pictures()[::3]), "told"),
        Case("60 a second", lambda f: often(f, 4), "same", within_deg=6.0),
        Case("240 a second", lambda f: often(f, 16), "same", within_deg=6.0),
        at("variable rate", jitter),
        at("starts at 100 s", [t + 100 for t in plain], Film("clip.mkv", ticks=1000)),
        at("negative time stamps, mp4", [t - 1 for t in plain], want="told"),
        at("negative time stamps, nut", [t - 1 for t in plain], Film("clip.nut", ticks=1000)),
        at("a gap of 5 s", [t if k < n // 2 else t + 5 for k, t in enumerate(plain)], want="told"),
        Case("repeated time stamps", lambda f: retimed(f, lambda k, pts: pts if k % 5 else pts - 1), "told"),
        Case("time stamps that run back", lambda f: retimed(f, lambda k, pts: pts if k % 7 else pts - 3), "told"),
        Case("edit list, 1 s cut off in front", edited, "told"),
        Case("two video tracks, the first smaller", two_tracks, "same"),
    ]


def retimed(folder: Path, stamp: Callable[[int, int], int]) -> Path:
    """The film packet by packet into a container that takes any presentation time."""
    import av

    source = Film("plain.mkv", ticks=1000).write(folder, pictures())
    path = folder / "clip.nut"
    with av.open(str(source)) as reading, av.open(str(path), "w") as writing:
        track: Any = writing.add_stream_from_template(reading.streams.video[0])
        track.time_base = Fraction(1, RATE)
        for k, packet in enumerate(p for p in reading.demux(video=0) if p.pts is not None):
            packet.stream, packet.time_base = track, Fraction(1, RATE)
            packet.dts, packet.pts = k - 10, max(stamp(k, k), k - 10)
            writing.mux(packet)
    source.unlink()
    return path


def edited(folder: Path) -> Path:
    """An edit list that begins a second into the track: packets before zero are kept and not shown."""
    import av

    source = Film("plain.mp4", codec_options={"preset": "ultrafast", "g": "250"}).write(folder, pictures())
    path = folder / "clip.mp4"
    with av.open(str(source)) as reading, av.open(str(path), "w", options={"use_editlist": "1"}) as writing:
        track: Any = writing.add_stream_from_template(reading.streams.video[0])
        for packet in reading.demux(video=0):
            if packet.pts is None or packet.dts is None or packet.time_base is None:
                continue
            packet.stream = track
            second = round(1 / packet.time_base)
            packet.pts, packet.dts = packet.pts - second, packet.dts - second
            writing.mux(packet)
    source.unlink()
    return path


def two_tracks(folder: Path) -> Path:
    """A small second view before the film itself."""
    import av

    path = folder / "clip.mkv"
    with av.open(str(path), "w") as container:
        streams: list[Any] = [container.add_stream("libx264", rate=RATE) for _ in range(2)]
        views = [[np.zeros((64, 48, 3), np.uint8)] * len(pictures()), list(pictures())]
        for stream, view in zip(streams, views, strict=True):
            stream.height, stream.width = view[0].shape[:2]
            stream.pix_fmt, stream.codec_context.options = "yuv420p", {"preset": "ultrafast", "bf": "0"}
        for k, pair in enumerate(zip(*views, strict=True)):
            for stream, picture in zip(streams, pair, strict=True):
                frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
                frame.pts, frame.time_base = k, Fraction(1, RATE)
                container.mux(stream.encode(frame))
        for stream in streams:
            container.mux(stream.encode(None))
    return path
