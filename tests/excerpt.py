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
