"""The beginning of a clip as a clip of its own, for tests that need a real set but not all of it."""

from pathlib import Path

import av


def excerpt(clip: Path, path: Path, until_s: float) -> Path:
    """The beginning of a clip, up to `until_s` seconds: packets copied, every picture what it is in the whole clip.

    It ends before a picture that leans only on earlier ones: all of it can be decoded, and none is missing in between.
    """
    with av.open(str(clip)) as reading, av.open(str(path), "w") as writing:
        source = reading.streams.video[0]
        tick = source.time_base
        assert tick is not None
        track = writing.add_stream_from_template(source)
        newest = None
        for packet in reading.demux(source):
            if packet.pts is None or packet.dts is None:
                continue
            if newest is not None and packet.pts > newest >= until_s / tick:
                break
            newest = packet.pts if newest is None else max(newest, packet.pts)
            packet.stream = track
            writing.mux(packet)
    return path


def smaller(clip: Path, path: Path, *, width: int, every: int) -> Path:
    """A whole clip with fewer pixels a side and every so many pictures, for tests that look at it and draw it."""
    with av.open(str(clip)) as reading, av.open(str(path), "w") as writing:
        source = reading.streams.video[0]
        assert source.average_rate is not None
        rate = source.average_rate / every
        track = writing.add_stream("libx264", rate=rate)
        track.width, track.height = width, round(source.height * width / source.width / 2) * 2
        track.pix_fmt = "yuv420p"
        track.options = {"crf": "20", "preset": "veryfast", "g": "15"}
        pictures = (picture for index, picture in enumerate(reading.decode(source)) if index % every == 0)
        for index, picture in enumerate(pictures):
            small = picture.reformat(track.width, track.height, "yuv420p")
            small.pts, small.time_base = index, 1 / rate
            writing.mux(track.encode(small))
        writing.mux(track.encode())
    return path
