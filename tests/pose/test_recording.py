"""Landmark recordings on disk: loaded as saved, damage told, the cache trusted only when it is right."""

import io
import json
import os
import pickle
import subprocess
import sys
import time
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formcheck.core.atomic_write import STALE_AFTER_S
from formcheck.core.errors import ClipError, RecordingError
from formcheck.core.model import ClipInfo, LandmarkRecording, PoseModelInfo
from formcheck.pose.estimator import Pose
from formcheck.pose.model_bundle import read_expected_sha256
from formcheck.pose.recording import load_recording, save_recording
from formcheck.pose.tracking import TRACKER_VERSION
from formcheck.storage.recording_cache import cached_recording, find_recording
from formcheck.video.clip_file import ClipLimits
from tests.in_process import track_here
from tests.video.clips import FakeEstimator, Rgb, middle_pose, write_clip


def made_up(seed: int = 1, frames: int = 40, lost: float = 0.2) -> LandmarkRecording:
    """A recording on the steps tracking rounds to, with lost frames."""
    rng = np.random.default_rng(seed)
    found = rng.random(frames) >= lost
    pixels = np.round(np.cumsum(rng.normal(0, 3, (frames, 33, 2)), axis=0) * 32 + 16_000) / 32
    world = np.round(rng.normal(0, 0.5, (frames, 33, 3)) * 1024) / 1024
    visibility = np.round(rng.random((frames, 33)) * 256) / 256
    pixels[~found], world[~found], visibility[~found] = np.nan, np.nan, 0
    return LandmarkRecording(
        clip=ClipInfo("Übung 1.mp4", "a" * 64, 1080, 1920, frames / 30, frames, 30.0, False, "h264"),
        pose_model=PoseModelInfo("made-up", "b" * 64),
        t=np.cumsum(rng.uniform(0.01, 0.05, frames)),
        pixels=pixels,
        world=world,
        visibility=visibility,
    )


def same(first: LandmarkRecording, second: LandmarkRecording) -> bool:
    arrays = ("t", "pixels", "world", "visibility")
    equal = all(np.array_equal(getattr(first, n), getattr(second, n), equal_nan=True) for n in arrays)
    return equal and first.clip == second.clip and first.pose_model == second.pose_model


@given(seed=st.integers(0, 2**32 - 1), frames=st.integers(0, 60), lost=st.sampled_from([0.0, 0.3, 1.0]))
@settings(max_examples=30)
def test_loaded_is_saved_to_the_bit(
    tmp_path_factory: pytest.TempPathFactory, seed: int, frames: int, lost: float
) -> None:
    recording = made_up(seed, frames, lost)
    path = tmp_path_factory.mktemp("recordings") / "set.npz"
    save_recording(recording, path)
    assert same(load_recording(path), recording)


def test_tracked_recording_is_loaded_to_the_bit(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)

    def see(rgb: Rgb, t_s: float) -> Pose:
        return Pose(rng.normal(30, 500, (33, 2)), rng.normal(0, 0.5, (33, 3)), rng.random(33))

    recording = track_here(write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.3]), lambda: FakeEstimator(see))
    save_recording(recording, tmp_path / "clip.npz")
    assert same(load_recording(tmp_path / "clip.npz"), recording)


def test_file_is_small(tmp_path: Path) -> None:
    save_recording(made_up(frames=300, lost=0.0), tmp_path / "set.npz")
    assert (tmp_path / "set.npz").stat().st_size < 300 * 33 * 6 * 2  # a quarter of the arrays as float64


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="does not exist"):
        load_recording(tmp_path / "none.npz")
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(tmp_path)


@given(data=st.data())
@settings(max_examples=60)
def test_damaged_files_are_told_or_read_right(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    recording = made_up(frames=8)
    path = tmp_path_factory.mktemp("damage") / "set.npz"
    save_recording(recording, path)
    content = bytearray(path.read_bytes())
    if data.draw(st.booleans()):
        content = content[: data.draw(st.integers(0, len(content) - 1))]
    else:
        content[data.draw(st.integers(0, len(content) - 1))] ^= data.draw(st.integers(1, 255))
    path.write_bytes(content)
    try:
        loaded = load_recording(path)
    except RecordingError:
        return
    assert same(loaded, recording)  # the zip archive's checksums let nothing else through


def test_no_pickled_object_is_loaded(tmp_path: Path) -> None:
    path = tmp_path / "set.npz"
    save_recording(made_up(frames=4), path)
    rewrite(path, "t", npy(np.array([Trap()], dtype=object)))
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(path)
    path.write_bytes(pickle.dumps(Trap()))
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(path)
    assert not Trap.sprung


class Trap:
    """Notes when something unpickles it."""

    sprung = False

    def __reduce__(self) -> tuple[Any, ...]:
        return (_spring, ())


def _spring() -> None:
    Trap.sprung = True


def test_other_versions_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "set.npz"
    save_recording(made_up(frames=4), path)
    with np.load(path) as arrays:
        meta = json.loads(arrays["meta"].tobytes())
    assert (meta["format"], meta["version"]) == ("formcheck-landmarks", 1)
    meta["version"] = 2
    rewrite(path, "meta", npy(np.frombuffer(json.dumps(meta).encode(), dtype=np.uint8)))
    with pytest.raises(RecordingError, match="another version"):
        load_recording(path)


@pytest.mark.parametrize("shape", [(2, 33, 2), (4, 32, 2), (4,), (0, 33, 2)])
def test_wrong_shapes_are_refused(tmp_path: Path, shape: tuple[int, ...]) -> None:
    path = tmp_path / "set.npz"
    save_recording(made_up(frames=4, lost=0.0), path)
    rewrite(path, "pixels", npy(np.zeros(shape, np.int32)))
    with pytest.raises(RecordingError, match="damaged"):
        load_recording(path)


def test_promised_size_is_bounded(tmp_path: Path) -> None:
    path = tmp_path / "set.npz"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in range(9):
            archive.writestr(f"{part}.npy", bytes(64 * 1024**2))
    with pytest.raises(RecordingError, match="too large"):
        load_recording(path)


def test_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "set.npz"
    save_recording(made_up(1), path)

    def full(file: Any, **arrays: Any) -> None:
        file.write(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(np, "savez_compressed", full)
    with pytest.raises(RecordingError, match=r"cannot be written: No space left on device\.$"):
        save_recording(made_up(2), path)
    assert same(load_recording(path), made_up(1))
    assert [item.name for item in tmp_path.iterdir() if item.is_file()] == ["set.npz"]


# ---------------------------------------------------------------- cache


@pytest.mark.usefixtures("in_process")
def test_second_time_the_model_is_not_loaded(tmp_path: Path) -> None:
    clip, cache = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2]), tmp_path / "cache"
    first, second = FakeEstimator(), FakeEstimator()
    told: list[float] = []
    made = cached_recording(clip, lambda: first, cache)
    assert (first.entered, first.left, len(first.asked)) == (1, 1, 3)
    again = cached_recording(clip, lambda: second, cache, on_progress=lambda done, total: told.append(done))
    assert (second.entered, second.asked) == (0, [])
    assert same(made, again)
    assert told == [made.clip.duration_s]


@pytest.mark.usefixtures("in_process")
def test_what_a_killed_process_left_half_written_goes_with_the_next_clip(tmp_path: Path) -> None:
    """Whatever is seen in the clip, here nobody: curves, which are kept beside, may never be made of it."""
    clip, cache = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2]), tmp_path / "cache"
    cache.mkdir()
    old, young = cache / ".set.npz.01234567.part", cache / ".set.npz.89abcdef.part"
    for path in (old, young):
        path.write_bytes(b"half")
    long_ago = time.time() - 2 * STALE_AFTER_S
    os.utime(old, (long_ago, long_ago))
    cached_recording(clip, FakeEstimator, cache)
    assert not old.exists()
    assert young.exists()


@pytest.mark.usefixtures("in_process")
def test_other_clip_or_model_is_tracked_anew(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    cached_recording(clip, FakeEstimator, cache)
    other_model = FakeEstimator(sha256="e" * 64)
    assert cached_recording(clip, lambda: other_model, cache).pose_model.sha256 == "e" * 64
    assert other_model.entered == 1
    other_clip = FakeEstimator()
    write_clip(clip, [0, 0.1, 0.2, 0.3])  # same name, other content
    assert cached_recording(clip, lambda: other_clip, cache).clip.frames == 4
    assert other_clip.entered == 1


@pytest.mark.usefixtures("in_process")
def test_landmarks_of_another_tracker_are_not_taken_for_todays(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    made = cached_recording(clip, FakeEstimator, cache)
    (path,) = cache.iterdir()
    older = path.with_name(path.name.replace(f"-{TRACKER_VERSION}.npz", f"-{TRACKER_VERSION - 1}.npz"))
    assert older != path
    path.rename(older)
    assert same(find_recording(made.clip.sha256, made.pose_model, cache), made)  # readable as before
    estimator = FakeEstimator()
    cached_recording(clip, lambda: estimator, cache)
    assert estimator.entered == 1
    assert {item.name for item in cache.iterdir()} == {path.name, older.name}


@pytest.mark.usefixtures("in_process")
def test_landmarks_of_every_picture_are_cached_beside_the_usual_ones(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    clip = write_clip(tmp_path / "clip.mp4", [step / 30 for step in range(40)])
    usual, every = (cached_recording(clip, FakeEstimator, cache, every_picture=asked) for asked in (False, True))
    assert (len(usual.t), len(every.t), every.clip.frames) == (20, 40, 40)
    assert (usual.pose_model.every_picture, every.pose_model.every_picture) == (False, True)
    for made in (usual, every):
        assert same(find_recording(made.clip.sha256, made.pose_model, cache), made)
        again = FakeEstimator()
        asked = made.pose_model.every_picture
        assert same(cached_recording(clip, lambda model=again: model, cache, every_picture=asked), made)
        assert again.entered == 0


@pytest.mark.usefixtures("in_process")
def test_same_content_under_another_name(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    cached_recording(clip, FakeEstimator, cache)
    copy = tmp_path / "copy of clip.mp4"
    copy.write_bytes(clip.read_bytes())
    estimator = FakeEstimator()
    assert cached_recording(copy, lambda: estimator, cache).clip.name == "copy of clip.mp4"
    assert estimator.entered == 0


@pytest.mark.parametrize("damage", ["cut", "empty", "other clip", "text"])
@pytest.mark.usefixtures("in_process")
def test_damaged_cache_is_made_anew(tmp_path: Path, damage: str) -> None:
    cache = tmp_path / "cache"
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    made = cached_recording(clip, FakeEstimator, cache)
    (kept,) = cache.iterdir()
    if damage == "other clip":
        save_recording(replace(made, clip=replace(made.clip, sha256="0" * 64)), kept)
    else:
        kept.write_bytes({"cut": kept.read_bytes()[:-200], "empty": b"", "text": b"hello"}[damage])
    estimator = FakeEstimator()
    assert same(cached_recording(clip, lambda: estimator, cache), made)
    assert estimator.entered == 1
    assert same(load_recording(kept), made)


@pytest.mark.usefixtures("in_process")
def test_cache_that_cannot_be_written_costs_only_time(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    clip = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2])
    recording = cached_recording(clip, FakeEstimator, blocked / "cache")
    assert recording.clip.frames == 3
    assert "cannot be written" in caplog.text


@pytest.mark.usefixtures("in_process")
def test_limits_hold_for_cached_clips(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    clip = write_clip(tmp_path / "clip.mp4", [i / 10 for i in range(40)])
    cached_recording(clip, FakeEstimator, cache)
    with pytest.raises(ClipError, match="too long"):
        cached_recording(clip, FakeEstimator, cache, limits=ClipLimits(max_duration_s=1))
    with pytest.raises(ClipError, match="too large"):
        cached_recording(clip, FakeEstimator, cache, limits=ClipLimits(max_bytes=10))


@pytest.mark.usefixtures("in_process")
def test_nothing_heavy_is_imported_the_second_time(tmp_path: Path) -> None:
    clip, cache = write_clip(tmp_path / "clip.mp4", [0, 0.1, 0.2]), tmp_path / "cache"
    packaged = FakeEstimator(middle_pose, sha256=read_expected_sha256())
    cached_recording(clip, lambda: packaged, cache)
    code = (
        "import sys; from formcheck.pose.estimator import MediaPipeEstimator; "
        "from formcheck.storage.recording_cache import cached_recording; "
        "r = cached_recording(sys.argv[1], MediaPipeEstimator, sys.argv[2]); "
        "print(r.clip.frames, [m for m in ('mediapipe', 'cv2', 'av') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, clip, cache], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "3 []"


def npy(array: Any) -> bytes:
    """The array as a .npy file."""
    out = io.BytesIO()
    np.save(out, array, allow_pickle=True)
    return out.getvalue()


def rewrite(path: Path, name: str, content: bytes) -> None:
    """Replace one array of a .npz file."""
    with zipfile.ZipFile(path) as archive:
        parts = {item: archive.read(item) for item in archive.namelist()}
    parts[f"{name}.npy"] = content
    with zipfile.ZipFile(path, "w") as archive:
        for item, part in parts.items():
            archive.writestr(item, part)
