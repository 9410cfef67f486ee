"""A clip short enough to be looked at by the real pose model in a test."""

from pathlib import Path

import av
import pytest


@pytest.fixture(scope="session")
def short_clip(tmp_path_factory: pytest.TempPathFactory, root: Path) -> Path:
    """The first eight seconds of a shipped clip, packets copied."""
    path = tmp_path_factory.mktemp("short") / "set.mp4"
    source = root / "clips_demo" / "lateral_raise_front_clean.mp4"
    with av.open(str(source)) as reading, av.open(str(path), "w") as writing:
        track = writing.add_stream_from_template(reading.streams.video[0])
        for packet in reading.demux(video=0):
            if packet.pts is None or packet.time_base is None or packet.pts * packet.time_base > 8:
                continue
            packet.stream = track
            writing.mux(packet)
    return path
