"""The survey: which pictures of a span it looks at, and that no others are decoded after the last of them."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from formcheck.pose.estimator import Pose
from formcheck.pose.survey import take_sample
from formcheck.video.chunks import Chunk
from formcheck.video.reader import ClipReader
from tests.video.clips import write_clip


class NobodyFinder:
    """Finds nobody, and counts how often it was asked."""

    asked = 0

    def find_people(self, rgb: np.ndarray) -> tuple[Pose, ...]:
        self.asked += 1
        return ()


@pytest.mark.parametrize(
    ("until_s", "looked_at"),
    [(0.3, [0.0]), (0.6, [0.0, 0.56]), (4.0, [0.0, 0.56, 2.0, 3.92]), (6.0, [0.0, 0.56, 2.0, 3.92])],
)
def test_a_span_is_looked_at_at_its_sample_times_and_read_no_further(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, until_s: float, looked_at: list[float]
) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [step / 25 for step in range(150)], size=(64, 48))
    read: list[float] = []
    pictures = ClipReader.pictures

    def note(reader: ClipReader, chunk: Chunk) -> Iterator[tuple[float, object]]:
        for t, picture in pictures(reader, chunk):
            read.append(t)
            yield t, picture

    monkeypatch.setattr(ClipReader, "pictures", note)
    finder = NobodyFinder()
    with ClipReader(clip) as reader:
        sample = take_sample(reader, finder, Chunk(None, 0.0, until_s))
    assert [frame.t for frame in sample.frames] == pytest.approx(looked_at, abs=0.002)
    assert finder.asked == len(looked_at)
    assert read[-1] == sample.frames[-1].t
