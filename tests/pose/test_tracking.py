"""From clip to recording: times, full-size pixels, rounding, progress, errors on either side of the queue."""

import threading
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from formcheck.core.errors import ClipError
from formcheck.pose.estimator import Pose
from formcheck.pose.tracking import track_chunk
from formcheck.sandbox import sandboxed_tracking, worker
from formcheck.video.clip_file import ClipLimits
from formcheck.video.reader import ClipReader
from tests.in_process import track_here
from tests.video.clips import FakeEstimator, Rgb, middle_pose, write_clip

TIMES = [0, 0.033, 0.066, 0.1, 0.15, 0.2, 0.24, 0.31]
TRACKED = [0, 0.066, 0.15, 0.2, 0.31]
"""The first in each fifteenth of a second: 0, 1/15 = 0.067 to the millisecond, 0.133, 0.2, 0.267."""


def decoding() -> list[threading.Thread]:
    return [thread for thread in threading.enumerate() if thread.name == "formcheck-decode"]


def no_thread_left() -> bool:
    return not decoding()


def test_recording_of_a_clip(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "clip.mp4", TIMES)
    estimator = FakeEstimator()
    recording = track_here(clip, lambda: estimator)
    assert recording.t == pytest.approx(TRACKED, abs=1e-5)
    assert estimator.asked == list(recording.t)
    assert recording.clip.frames == len(TIMES)
    assert recording.clip.variable_rate
    assert recording.pose_model == estimator.info
    assert np.array_equal(recording.pixels, np.tile([48.0, 12.0], (len(TRACKED), 33, 1)))
    assert recording.visibility == pytest.approx(0.7, abs=1 / 512)


def test_pixels_are_those_of_the_full_size_picture(tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "large.mp4", [0, 0.1], size=(2000, 1000))
    seen: list[tuple[int, ...]] = []

    def see(rgb: Rgb, t_s: float) -> Pose:
        seen.append(rgb.shape)
        return middle_pose(rgb, t_s)

    recording = track_here(clip, lambda: FakeEstimator(see))
    assert max(seen[0]) == 1280
    assert (recording.clip.width, recording.clip.height) == (2000, 1000)
    assert np.array_equal(recording.pixels[0, 0], [1500, 250])


def test_values_are_rounded_to_their_steps(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)

    def see(rgb: Rgb, t_s: float) -> Pose:
        return Pose(rng.normal(30, 500, (33, 2)), rng.normal(0, 0.5, (33, 3)), rng.uniform(-0.01, 1.01, 33))

    recording = track_here(write_clip(tmp_path / "clip.mp4", TIMES), lambda: FakeEstimator(see))
    for values, steps in ((recording.pixels, 32), (recording.world, 1024), (recording.visibility, 256)):
        assert np.array_equal(values * steps, np.round(values * steps))
    assert recording.visibility.min() >= 0
    assert recording.visibility.max() <= 1


def test_frames_without_a_person(tmp_path: Path) -> None:
    def see(rgb: Rgb, t_s: float) -> Pose | None:
        return None if 0.05 < t_s < 0.16 else middle_pose(rgb, t_s)

    recording = track_here(write_clip(tmp_path / "clip.mp4", TIMES), lambda: FakeEstimator(see))
    missing = [1, 2]
    assert np.isnan(recording.pixels[missing]).all()
    assert np.isnan(recording.world[missing]).all()
    assert (recording.visibility[missing] == 0).all()
    others = [0, 3, 4]
    assert np.isfinite(recording.pixels[others]).all()


def test_progress_rises_to_the_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker, "PROGRESS_EVERY_S", 0.0)
    told: list[tuple[float, float | None]] = []
    clip = write_clip(tmp_path / "clip.mp4", TIMES)
    recording = track_here(clip, FakeEstimator, on_progress=lambda done, total: told.append((done, total)))
    done = [item[0] for item in told]
    assert done == sorted(done)
    assert len(told) == len(TRACKED) + 1
    assert told[-1] == (recording.clip.duration_s, recording.clip.duration_s)
    live = write_clip(tmp_path / "live.mkv", TIMES, container_options={"live": "1"})
    told.clear()
    track_here(live, FakeEstimator, on_progress=lambda done, total: told.append((done, total)))
    assert told[0] == (0.0, None)
    assert told[-1][1] is not None


def test_pictures_are_read_ahead_only_where_a_core_is_free(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = write_clip(tmp_path / "clip.mp4", [i / 30 for i in range(100)])
    found = []
    for cores in (1, 2):
        monkeypatch.setattr(sandboxed_tracking, "count_cores", lambda cores=cores: cores)
        beside: list[int] = []

        def see(rgb: Rgb, t_s: float, beside: list[int] = beside) -> Pose:
            beside.append(len(decoding()))
            return middle_pose(rgb, t_s)

        found.append(track_here(clip, partial(FakeEstimator, see), processes=1))
        assert any(beside) == (cores == 2)
    assert np.array_equal(found[0].t, found[1].t)
    assert np.array_equal(found[0].pixels, found[1].pixels)


def test_error_of_the_model_ends_the_decoding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sandboxed_tracking, "count_cores", lambda: 2)

    def see(rgb: Rgb, t_s: float) -> Pose:
        assert decoding()
        raise RuntimeError("model broke")

    clip = write_clip(tmp_path / "clip.mp4", [i / 30 for i in range(200)])
    with pytest.raises(RuntimeError, match="model broke"):
        track_here(clip, lambda: FakeEstimator(see))
    assert no_thread_left()


def test_leaving_a_chunk_early_ends_the_decoding(tmp_path: Path) -> None:
    def stop(t_s: float) -> None:
        if t_s > 0.5:
            assert decoding()
            raise KeyboardInterrupt

    clip = write_clip(tmp_path / "clip.mp4", [i / 30 for i in range(200)])
    with ClipReader(clip) as reader, FakeEstimator() as model, pytest.raises(KeyboardInterrupt):
        track_chunk(reader, model, on_picture=stop)
    assert no_thread_left()


def test_error_of_the_clip_comes_through(tmp_path: Path) -> None:
    with pytest.raises(ClipError, match="does not exist"):
        track_here(tmp_path / "none.mp4", FakeEstimator)
    live = write_clip(tmp_path / "live.mkv", [i / 10 for i in range(40)], container_options={"live": "1"})
    with pytest.raises(ClipError, match="too long"):
        track_here(live, FakeEstimator, limits=ClipLimits(max_duration_s=2))
    single = write_clip(tmp_path / "single.mp4", [0])
    with pytest.raises(ClipError, match="single frame"):
        track_here(single, FakeEstimator)
    assert no_thread_left()
