"""A covered head: nothing of its fine detail is left, and the rest of the picture is as it was."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.model import Array, LandmarkRecording
from formcheck.privacy import other_faces
from formcheck.privacy.head_cover import LONGEST_GAP_S, Circle, make_head_cover
from formcheck.report.figures import draw_key_pictures
from formcheck.report.overlay import write_overlay
from formcheck.video.orientation import Rgb
from formcheck.video.reader import ClipReader
from tests.web.synthetic import synthetic_analysis, synthetic_recording

HEAD, HEAD_RADIUS = (304.0, 180.0), 60
RATE = 15.0


class NobodyElse:
    """A finder of faces that finds none, so that what is seen is the cover of the lifter's own head."""

    def __enter__(self) -> "NobodyElse":
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def faces(self, rgb: Rgb, *, bodies_only: bool = False) -> list[Circle]:
        return []


def with_face(recording: LandmarkRecording, path: Array) -> LandmarkRecording:
    """The synthetic set with a face 60 pixels in radius whose head moves along a path."""
    pixels = np.array(recording.pixels)
    spread = np.linspace(-0.7, 0.7, 11) * HEAD_RADIUS
    pixels[:, :11, 0] = path[:, :1] + spread
    pixels[:, :11, 1] = path[:, 1:] + spread[::-1] / 3
    pixels[:, 7], pixels[:, 8] = path + np.array([50, 0]), path - np.array([50, 0])
    return replace(recording, pixels=pixels)


def picture_of(centre: Array) -> Rgb:
    """Fine noise everywhere, so that whatever is not covered is full of detail."""
    return np.random.default_rng(int(centre.sum())).integers(0, 256, (1080, 608, 3), dtype=np.uint8)


def detail(rgb: Rgb, centre: Array, radius: float) -> float:
    """Root mean square of the difference between neighbouring pixels inside a circle, in grey values."""
    down, across = np.ogrid[: rgb.shape[0], : rgb.shape[1]]
    inside = (across - centre[0]) ** 2 + (down - centre[1]) ** 2 <= radius**2
    steps = np.diff(rgb.astype(float).mean(axis=2), axis=1, prepend=0)
    return float(np.sqrt(np.mean(steps[inside] ** 2)))


@pytest.fixture(scope="module")
def moving() -> tuple[LandmarkRecording, Array]:
    recording = synthetic_recording(synthetic_analysis())
    path = np.stack([HEAD[0] + 80 * np.sin(recording.t), HEAD[1] + 40 * np.cos(recording.t)], axis=1)
    return with_face(recording, path), path


def test_every_picture_loses_the_detail_of_the_head_and_nothing_else(moving: tuple[LandmarkRecording, Array]) -> None:
    recording, path = moving
    cover = make_head_cover(recording)
    for index in range(0, len(recording.t), 60):
        before = picture_of(path[index])
        after = cover.hide(before.copy(), float(recording.t[index]))
        assert detail(after, path[index], HEAD_RADIUS) < 0.05 * detail(before, path[index], HEAD_RADIUS)
        assert np.array_equal(after[600:], before[600:])  # from the hips down nothing is touched


def test_between_two_pictures_and_in_a_short_gap_the_head_stays_covered(
    moving: tuple[LandmarkRecording, Array],
) -> None:
    recording, path = moving
    pixels = np.array(recording.pixels)
    gap = slice(60, 66)  # 0.2 s at 30 pictures a second
    pixels[gap] = np.nan
    cover = make_head_cover(replace(recording, pixels=pixels))
    for index in range(gap.start, gap.stop):
        before = picture_of(path[index])
        after = cover.hide(before.copy(), float(recording.t[index]) + 0.01)
        assert detail(after, path[index], HEAD_RADIUS) < 0.05 * detail(before, path[index], HEAD_RADIUS)


def test_where_the_head_is_not_known_the_whole_picture_is_covered(moving: tuple[LandmarkRecording, Array]) -> None:
    recording, path = moving
    pixels = np.array(recording.pixels)
    lost = (recording.t > 4) & (recording.t < 8)
    pixels[lost] = np.nan
    before = picture_of(path[0])
    for cover, t in (
        (make_head_cover(replace(recording, pixels=pixels)), 4 + LONGEST_GAP_S + 0.1),
        (make_head_cover(replace(recording, pixels=np.full_like(pixels, np.nan))), 1.0),
    ):
        after = cover.hide(before.copy(), t)
        assert detail(after, np.array([304, 540]), 300) < 0.05 * detail(before, np.array([304, 540]), 300)


def test_a_head_at_the_edge_or_outside_is_no_trouble(moving: tuple[LandmarkRecording, Array]) -> None:
    recording, path = moving
    for place in ((-400.0, -400.0), (0.0, 0.0), (607.0, 1079.0)):
        moved = with_face(recording, np.broadcast_to(np.array(place), path.shape))
        before = picture_of(path[0])
        after = make_head_cover(moved).hide(before.copy(), 1.0)
        if min(place) < 0:
            assert np.array_equal(after, before)
        else:
            seen = np.clip(place, 30, np.array([608, 1080]) - 30)
            assert detail(after, seen, 25) < 0.1 * detail(before, seen, 25)
            assert np.array_equal(after[400:600], before[400:600])


def write_noise(target: Path, recording: LandmarkRecording, every: int) -> list[float]:
    """A clip whose pictures are coarse noise, which survives the encoder; returns the pictures' times."""
    import av

    times = []
    with av.open(str(target), "w") as container:
        stream = container.add_stream("libx264", rate=Fraction(RATE))
        stream.width, stream.height, stream.pix_fmt = 608, 1080, "yuv420p"
        stream.options = {"crf": "18", "preset": "ultrafast"}
        for index in range(0, 24 * every, every):
            coarse = np.random.default_rng(index).integers(0, 256, (135, 76, 1), dtype=np.uint8)
            rgb = np.repeat(coarse.repeat(8, axis=0).repeat(8, axis=1), 3, axis=2)
            frame = av.VideoFrame.from_ndarray(rgb, format="rgb24")
            container.mux(stream.encode(frame))
            times.append(float(recording.t[index]))
        container.mux(stream.encode(None))
    return times


def test_the_film_and_the_stills_show_no_head_when_asked(
    moving: tuple[LandmarkRecording, Array], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(other_faces, "FaceFinder", NobodyElse)
    recording, path = moving
    clip, plain, covered = (tmp_path / f"{name}.mp4" for name in ("clip", "plain", "covered"))
    times = write_noise(clip, recording, every=2)
    write_overlay(clip, recording, plain, captions=(), skeleton=False)
    write_overlay(clip, recording, covered, captions=(), skeleton=False, blur_faces=True)
    with ClipReader(plain) as shown, ClipReader(covered) as hidden:
        pairs = list(zip(shown, hidden, strict=True))
    assert len(pairs) == len(times)
    for t, ((_, before), (_, after)) in zip(times, pairs, strict=True):
        place = path[int(np.argmin(np.abs(recording.t - t)))]
        assert detail(before, place, HEAD_RADIUS) > 10
        assert detail(after, place, HEAD_RADIUS) < 0.15 * detail(before, place, HEAD_RADIUS)
    reps = synthetic_analysis().review.reps[:1]
    open_, closed = (draw_key_pictures(clip, recording, reps, blur_faces=blur) for blur in (False, True))
    assert all(a.data_uri != b.data_uri for a, b in zip(open_, closed, strict=True))
    assert sum(len(item.data_uri) for item in closed) < sum(len(item.data_uri) for item in open_)
