"""Brightness of a drawn clip whose greys are known."""

from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from formcheck.video.brightness import measure_light
from tests.lifter import HEIGHT, WIDTH, film, times


@pytest.mark.parametrize(("lifter", "around"), [(0.8, 0.2), (0.1, 0.9), (0.5, 0.5)])
def test_lifter_and_surroundings_are_told_apart(tmp_path: Path, lifter: float, around: float) -> None:
    t = times(1.0, 12.0)
    recording = film(t)
    body = recording.pixels[0]
    low, high = body.min(axis=0).astype(int), body.max(axis=0).astype(int)
    picture = np.full((HEIGHT, WIDTH, 3), round(255 * around), dtype=np.uint8)
    picture[low[1] : high[1], low[0] : high[0]] = round(255 * lifter)
    clip = tmp_path / "set.mp4"
    with av.open(str(clip), "w") as out:
        stream = out.add_stream("libx264", rate=12)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        for _ in t:
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        out.mux(stream.encode())
    light = measure_light(clip, recording)
    assert light is not None
    # Two of 255 steps for the encoder and its colour conversion.
    assert light.lifter == pytest.approx(lifter, abs=2.5 / 255)
    assert light.around == pytest.approx(around, abs=2.5 / 255)
    empty = replace(recording, pixels=np.full_like(recording.pixels, np.nan))
    assert measure_light(clip, empty) is None
