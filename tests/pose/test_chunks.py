"""Clips cut into chunks: borders fixed by the clip, every picture once, the same to the bit however it is done."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import inf
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.model import Array, LandmarkRecording
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.person_selection import SurveyResult
from formcheck.pose.tracking import join_tracks, make_recording, track_chunk
from formcheck.sandbox import worker
from formcheck.sandbox.sandboxed_tracking import track_clip
from formcheck.signals.skeleton import INDEX
from formcheck.video.chunks import (
    WARM_UP_S,
    WHOLE_CLIP,
    Chunk,
    KeyPicture,
    Plan,
    choose_fine_rate,
    plan_chunks,
    take_at_rate,
)
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader, SeekError
from tests.excerpt import excerpt, smaller
from tests.in_process import track_here
from tests.pose.stand_in_models import GreyModel
from tests.video.clips import write_clip

LENGTH = {"chunk_s": 2.0, "whole_s": 3.0}
"""Chunks short enough for small clips."""


def moving_grey(width: int, height: int, step: int) -> np.ndarray:
    """A grey that tells the picture's number modulo 97, and a bar that moves, so that pictures lean on each other."""
    picture = np.full((height, width, 3), 40 + 2 * (step % 97), dtype=np.uint8)
    picture[height // 2 :, (3 * step) % (width - 8) :][:, :8] = 250
    return picture


def long_clip(path: Path, seconds: float = 9.0, rate: float = 25.0, group: int = 10, **options: object) -> Path:
    options.setdefault("codec_options", {"preset": "ultrafast", "bf": "2", "g": str(group)})
    times = [step / rate for step in range(round(seconds * rate))]
    return write_clip(path, times, picture=moving_grey, **options)  # type: ignore[arg-type]


def same(first: LandmarkRecording, second: LandmarkRecording) -> bool:
    arrays = ("t", "pixels", "world", "visibility")
    equal = all(np.array_equal(getattr(first, n), getattr(second, n), equal_nan=True) for n in arrays)
    return equal and first.clip == second.clip and first.pose_model == second.pose_model


# ---------------------------------------------------------------- the layout


@given(
    end_s=st.floats(1, 900),
    gap=st.floats(0.04, 20),
    first=st.floats(0, 5),
    chunk_s=st.floats(2, 20),
)
def test_chunks_follow_each_other_without_gap(end_s: float, gap: float, first: float, chunk_s: float) -> None:
    keys = [KeyPicture(float(t), round(1000 * t)) for t in np.arange(first, end_s, gap)]
    chunks = plan_chunks(keys, end_s, chunk_s=chunk_s, whole_s=2 * chunk_s)
    assert (chunks[0].from_s, chunks[0].key, chunks[-1].until_s) == (0.0, None, inf)
    for before, after in pairwise(chunks):
        assert before.until_s == after.from_s
        assert after.from_s - before.from_s >= chunk_s / 4
        assert after.key in {key.stamp for key in keys}
        assert after.from_s == pytest.approx(after.key / 1000 + WARM_UP_S, abs=0.002)  # type: ignore[operator]
    if len(chunks) > 1:
        assert end_s - chunks[-1].from_s >= chunk_s / 4
    if gap <= chunk_s / 8 and first < gap and end_s > 2 * chunk_s:
        lengths = np.diff([*(chunk.from_s for chunk in chunks), end_s])
        assert len(chunks) % 4 == 0
        assert lengths.max() <= chunk_s + 2 * gap + WARM_UP_S


def test_short_clips_and_clips_without_key_pictures_stay_whole() -> None:
    keys = [KeyPicture(float(t), t) for t in range(60)]
    assert plan_chunks(keys, 20.0, chunk_s=15, whole_s=32) == (WHOLE_CLIP,)
    assert plan_chunks([], 600.0) == (WHOLE_CLIP,)
    assert plan_chunks(keys[:1], 60.0) == (WHOLE_CLIP,)


def looked_at(times: Sequence[float], rate: float) -> Array:
    """As a chunk is read: picture by picture, each told the time of the one before."""
    befores = [None, *times[:-1]]
    taken = [bool(take_at_rate(np.array([t]), rate, b)[0]) for t, b in zip(times, befores, strict=True)]
    assert np.array_equal(taken, take_at_rate(np.array(times), rate))
    return np.array(times)[taken]


@pytest.mark.parametrize("rate", [24, 25, 30000 / 1001, 30, 48, 50, 60000 / 1001, 60, 90, 120, 240])
@pytest.mark.parametrize("ticks", [1000, 90_000])  # matroska keeps milliseconds
def test_fifteen_a_second_of_any_rate(rate: float, ticks: int) -> None:
    times = [round(step / rate * ticks) / ticks for step in range(4000)]
    chosen = looked_at(times, 15.0)
    assert chosen[0] == 0.0
    # One in each fifteenth of a second, each at most a picture late: so many between any two moments.
    assert abs(len(chosen) - (times[-1] * 15 + 1)) <= 1
    assert np.abs(chosen - np.arange(len(chosen)) / 15 - 0.5 / rate).max() <= 0.5 / rate + 0.003
    if round(rate) % 15 == 0:
        assert np.diff(np.searchsorted(times, chosen)).max() <= round(rate / 15) + 1


@pytest.mark.parametrize("rate", [8, 12, 15])
def test_all_pictures_of_a_slow_clip(rate: float) -> None:
    times = [round(step / rate, 3) for step in range(400)]
    assert len(looked_at(times, 15.0)) == 400


def test_an_uneven_clip_has_a_picture_in_each_fifteenth_of_a_second() -> None:
    # a telephone that films 60 a second and drops to 24 in the dark, its times off by some milliseconds
    even = np.concatenate([np.arange(0, 5, 1 / 60), np.arange(5, 8, 1 / 24)])
    times = even + np.random.default_rng(1).uniform(0, 0.004, len(even))
    chosen = looked_at(list(times), 15.0)
    assert len(np.unique(np.floor(chosen * 15 + 0.02))) == len(chosen)
    assert np.diff(chosen).max() < 2 / 15
    assert len(chosen) == pytest.approx(8 * 15, abs=1)


def test_of_what_is_fast_every_picture_or_thirty_a_second() -> None:
    for rate, fine in ((24, None), (30, None), (48, None), (50, 30.0), (60, 30.0), (240, 30.0)):
        assert choose_fine_rate(np.arange(200) / rate) == fine
    assert np.diff(looked_at(list(np.arange(600) / 60), 30.0)) == pytest.approx(1 / 30)


# ---------------------------------------------------------------- reading a chunk


CONTAINERS = {
    "plain.mp4": {},
    "late.mp4": {},
    "index-first.mp4": {"container_options": {"movflags": "+faststart"}},
    "fragments.mp4": {"container_options": {"movflags": "frag_keyframe+empty_moov"}},
    "plain.mov": {},
    "plain.mkv": {},
    "live.mkv": {"container_options": {"live": "1"}},
    "sound.mp4": {"sound": True},
    "turned.mp4": {"rotation": (90, False, False)},
    "open-group.mp4": {"codec_options": {"preset": "veryfast", "bf": "3", "g": "10", "x264-params": "open-gop=1"}},
    "mpeg4.mp4": {"codec": "mpeg4", "codec_options": {"g": "10", "bf": "2"}, "ticks": 1000},
    "vp9.webm": {"codec": "libvpx-vp9", "codec_options": {"g": "10", "deadline": "realtime", "cpu-used": "8"}},
    "hevc.mp4": {"codec": "libx265", "codec_options": {"preset": "ultrafast", "x265-params": "keyint=10:log-level=0"}},
    "mjpeg.mov": {"codec": "mjpeg", "pix_fmt": "yuvj420p", "codec_options": {}},
}


def clip_of(folder: Path, name: str) -> Path:
    if name == "late.mp4":
        times = [5.0 + step / 25 for step in range(225)]
        return write_clip(folder / name, times, picture=moving_grey, codec_options={"g": "10", "preset": "ultrafast"})
    return long_clip(folder / name, **CONTAINERS[name])


@pytest.mark.parametrize("name", sorted(CONTAINERS))
def test_chunks_hold_exactly_the_pictures_of_the_whole_clip(tmp_path: Path, name: str) -> None:
    path = clip_of(tmp_path, name)
    with ClipReader(path) as reader:
        whole = [(t, rgb.tobytes()) for t, rgb in reader]
    with ClipReader(path) as reader:
        plan = plan_tracking(reader, **LENGTH)
        known = reader.first_picture
        reader.first_picture = replace(known, header_suffices=False)
        assert plan_tracking(reader, **LENGTH) == plan
    assert known.header_suffices == (name in ("late.mp4", "mjpeg.mov", "hevc.mp4"))  # H.264 without B-pictures, H.265
    assert len(plan.chunks) == 8  # 9 s in chunks of at most 2 s, a multiple of four
    pieces = []
    for chunk in plan.without_unseen:
        with ClipReader(path) as reader:
            seen = [(t, reader.rgb(picture).tobytes()) for t, picture in reader.pictures(chunk)]
        with ClipReader(path, known=known) as reader:
            assert [(t, reader.rgb(picture).tobytes()) for t, picture in reader.pictures(chunk)] == seen
        if chunk.key is not None:
            assert chunk.from_s - seen[0][0] == pytest.approx(WARM_UP_S, abs=0.001)
        pieces += [item for item in seen if item[0] >= chunk.from_s]
    assert [t for t, _ in pieces] == [t for t, _ in whole]
    assert pieces == whole


def test_a_later_chunk_is_read_without_the_first_picture(tmp_path: Path) -> None:
    path = long_clip(tmp_path / "clip.mp4")
    with ClipReader(path) as reader:
        later, known = plan_tracking(reader, **LENGTH).without_unseen[-1], reader.first_picture
    with ClipReader(path) as reader:
        sound = [(t, reader.rgb(picture).tobytes()) for t, picture in reader.pictures(later)]
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat") + 4
    data[start : start + 5000] = bytes(5000)
    path.write_bytes(data)
    with ClipReader(path) as reader:
        assert reader.first_picture.start_s > known.start_s  # what is there now begins later
    with ClipReader(path, known=known) as reader:
        assert [(t, reader.rgb(picture).tobytes()) for t, picture in reader.pictures(later)] == sound


@pytest.mark.parametrize("name", ["plain.avi", "plain.ts", "intra-refresh.mp4", "one-key.mp4"])
def test_clips_that_cannot_be_entered_midway_stay_whole_or_are_caught(tmp_path: Path, name: str) -> None:
    options: dict[str, object] = {}
    if name == "plain.avi":
        options = {"codec": "mpeg4", "codec_options": {"g": "10"}, "ticks": 25}
    elif name == "intra-refresh.mp4":
        options = {"codec_options": {"preset": "veryfast", "bf": "0", "g": "10", "x264-params": "intra-refresh=1"}}
    path = long_clip(tmp_path / name, group=1000 if name == "one-key.mp4" else 10, **options)
    whole = track_here(path, GreyModel)
    with ClipReader(path) as reader:
        plan = plan_tracking(reader, **LENGTH)
    if name != "intra-refresh.mp4":
        assert plan.without_unseen == (WHOLE_CLIP,)
    by_plan = track_here(path, GreyModel, **LENGTH)
    # the grey level of each picture is what it is in the whole clip: no picture decoded from half of what it needs
    assert np.array_equal(by_plan.t, whole.t)
    assert np.array_equal(by_plan.pixels, whole.pixels)


def test_a_clip_with_an_edit_in_the_middle_stays_whole_or_is_read_the_same(tmp_path: Path) -> None:
    path = edited(long_clip(tmp_path / "plain.mp4"), tmp_path / "edited.mp4")
    whole = track_here(path, GreyModel)
    by_plan = track_here(path, GreyModel, **LENGTH)
    assert len(whole.t) == pytest.approx(15 * 6.5, abs=1)
    assert np.array_equal(by_plan.t, whole.t)
    assert np.array_equal(by_plan.pixels, whole.pixels)


def edited(source: Path, path: Path) -> Path:
    """The clip with an edit list (ISO/IEC 14496-12, 8.6.6) that shows 1 s to 4 s and then 5 s to 8.5 s."""
    import struct

    data = bytearray(source.read_bytes())
    at = data.index(b"elst") - 4
    size = struct.unpack(">I", data[at : at + 4])[0]
    movie_ticks = struct.unpack(">I", data[data.index(b"mvhd") + 16 :][:4])[0]
    track_ticks = struct.unpack(">I", data[data.index(b"mdhd") + 16 :][:4])[0]
    entries = b"".join(
        struct.pack(">IiHH", round(length * movie_ticks), round(start * track_ticks), 1, 0)
        for start, length in ((1.0, 3.0), (5.0, 3.5))
    )
    box = struct.pack(">I4sII", 16 + len(entries), b"elst", 0, 2) + entries
    growth = len(box) - size
    data[at : at + size] = box
    for name in (b"edts", b"trak", b"moov"):
        start = data.index(name) - 4
        data[start : start + 4] = struct.pack(">I", struct.unpack(">I", data[start : start + 4])[0] + growth)
    assert data.index(b"moov") > data.index(b"mdat"), "the pictures come first, so no offset into them moves"
    path.write_bytes(data)
    return path


def test_a_damaged_clip_is_read_the_same_in_chunks_by_any_number_of_processes(tmp_path: Path) -> None:
    path = long_clip(tmp_path / "damaged.mp4")
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat")
    middle = start + (data.index(b"moov") - start) // 2
    data[middle : middle + 600] = bytes(600)
    path.write_bytes(data)
    one = track_here(path, GreyModel, **LENGTH)
    two = track_clip(path, GreyModel, processes=2, **LENGTH)
    assert same(one, two)
    assert len(one.t) > 90


def test_a_key_picture_that_is_not_there_is_told_and_the_clip_is_tracked_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = long_clip(tmp_path / "clip.mp4")
    with ClipReader(path) as reader, pytest.raises(SeekError):
        next(reader.pictures(Chunk(key=12345, from_s=3.0)))
    wrong = Plan((Chunk(None, 0.0, 3.0), Chunk(12345, 3.0, inf)))
    with monkeypatch.context() as patched:
        patched.setattr(worker, "plan_tracking", lambda reader, whole_s, **_: wrong if whole_s < inf else Plan())
        by_plan = track_here(path, GreyModel)
    assert same(by_plan, track_here(path, GreyModel))


def plan_for(path: Path) -> Plan:
    with ClipReader(path) as reader:
        return plan_tracking(reader, **LENGTH)


# ---------------------------------------------------------------- the same to the bit


def test_any_number_of_processes_gives_the_same_to_the_bit(tmp_path: Path) -> None:
    path = long_clip(tmp_path / "clip.mp4")
    plan = plan_for(path)
    assert len(plan.chunks) == 8
    alone = track_here(path, GreyModel, **LENGTH)
    for processes in (1, 2, 4):
        told: list[tuple[float, float | None]] = []
        made = track_clip(
            path,
            GreyModel,
            processes=processes,
            on_progress=lambda done, total, told=told: told.append((done, total)),  # type: ignore[misc]
            **LENGTH,
        )
        assert same(made, alone)
        done = [item[0] for item in told]
        assert done == sorted(done)
        assert told[-1] == (made.clip.duration_s, made.clip.duration_s)
    whole = track_here(path, GreyModel)
    assert np.array_equal(whole.t, alone.t)
    assert np.array_equal(whole.pixels, alone.pixels)
    # what leans on the pictures before agrees but for what the warm-up of half a second (7 pictures) forgets
    assert np.abs(whole.world - alone.world).max() <= 0.5**7 * 0.3 + 1 / 1024
    assert whole.clip == alone.clip


def test_threads_of_the_decoder_do_not_matter(tmp_path: Path) -> None:
    path = long_clip(tmp_path / "clip.mp4")
    read = []
    for threads in (1, 3):
        with ClipReader(path, threads=threads) as reader:
            read.append([(t, rgb.tobytes()) for t, rgb in reader])
    assert read[0] == read[1]


@pytest.mark.parametrize("rate", [60, 120])
def test_fast_clips_keep_their_true_times(tmp_path: Path, rate: int) -> None:
    path = long_clip(tmp_path / "fast.mp4", seconds=6, rate=rate)
    made = track_clip(path, GreyModel, processes=2, **LENGTH)
    whole = track_here(path, GreyModel)
    assert made.clip == whole.clip
    assert made.clip.frame_rate == pytest.approx(rate)
    assert made.clip.frames == 6 * rate
    assert len(made.t) == 6 * 15
    assert np.isin(made.t, whole.t).all()
    assert np.array_equal(made.pixels, whole.pixels[np.isin(whole.t, made.t)])
    assert same(made, track_here(path, GreyModel, **LENGTH))


def test_every_picture_is_compared_with_the_one_before_whatever_the_chunks(tmp_path: Path) -> None:
    """Also a chunk's first one, since its warm-up is observed too."""
    path = long_clip(tmp_path / "clip.mp4", size=(320, 240))

    def observed(*chunks: Chunk) -> Array:
        tracks = []
        for chunk in chunks:
            with ClipReader(path) as reader, GreyModel() as model:
                tracks.append(track_chunk(reader, model, chunk, survey=SurveyResult()))
        whole = join_tracks(tracks)
        with ClipReader(path) as reader:
            assert len(make_recording(path, reader.head, GreyModel.info, tracks).t) == len(whole.t) == 225
        return whole.observations

    whole, chunked = observed(WHOLE_CLIP), observed(*plan_for(path).without_unseen)
    assert whole.shape == (225, 5)
    assert (whole[1:, 0] > 0).all()  # `moving_grey`: no two pictures in a row are the same
    assert np.array_equal(whole, chunked)


def test_memory_is_bounded_by_the_pictures_read_ahead(tmp_path: Path) -> None:
    import weakref

    alive: set[int] = set()
    most = 0

    class Watching(GreyModel):
        def detect(self, rgb, t_s):  # type: ignore[no-untyped-def]  # a test's own
            nonlocal most
            alive.add(id(rgb))
            weakref.finalize(rgb, alive.discard, id(rgb))
            most = max(most, len(alive))
            return super().detect(rgb, t_s)

    path = long_clip(tmp_path / "clip.mp4", seconds=12)
    track_here(path, Watching, **LENGTH)
    assert 1 <= most <= 3


@pytest.mark.pose
def test_the_real_model_gives_the_same_to_the_bit(root: Path, tmp_path: Path) -> None:
    shipped = root / "clips_demo" / "lateral_raise_oblique_clean.mp4"
    start = excerpt(shipped, tmp_path / "start.mp4", 9.0)
    clip = smaller(start, tmp_path / "set.mp4", width=360, every=2)
    length = {"chunk_s": 4.0, "whole_s": 5.0}
    with ClipReader(clip) as reader:
        plan = plan_tracking(reader, **length)
    assert len(plan.chunks) == 4
    alone = track_clip(clip, MediaPipeEstimator, processes=1, **length)
    assert same(track_clip(clip, MediaPipeEstimator, processes=2, **length), alone)
    whole = track_clip(clip, MediaPipeEstimator, whole_s=inf)
    first = whole.t < plan.chunks[1].from_s
    assert np.array_equal(whole.pixels[first], alone.pixels[first])
    shoulder, hip = (
        alone.pixels[:, [INDEX[f"left_{part}"], INDEX[f"right_{part}"]]].mean(axis=1) for part in ("shoulder", "hip")
    )
    torso = float(np.median(np.linalg.norm(shoulder - hip, axis=1)))
    apart = np.linalg.norm(whole.pixels[~first] - alone.pixels[~first], axis=2) / torso
    # what the model's own noise allows: a track begun one picture later differs as much
    # (tools/benchmarks/speed.py)
    assert np.percentile(apart, 95) < 0.04
