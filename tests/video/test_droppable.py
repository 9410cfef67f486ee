"""Pictures that need not be decoded: which they are, and that leaving them out changes nothing to the bit."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from formcheck.pose import tracking
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.pose.tracking import AllNeededError, track_chunk
from formcheck.sandbox import worker
from formcheck.sandbox.sandboxed_tracking import track_clip
from formcheck.video.chunks import TRACKED_PER_S, Plan
from formcheck.video.droppable import REFERENCED, PictureUse, make_use_reader
from formcheck.video.packets import plan_tracking
from formcheck.video.reader import ClipReader
from tests.in_process import track_here
from tests.pose.stand_in_models import GreyModel
from tests.video.clips import FakeEstimator, write_clip

ROOT = Path(__file__).resolve().parents[2]
LENGTH = {"chunk_s": 1.0, "whole_s": 3.0}
X265 = "keyint=30:log-level=0:pools=1:bframes=3:b-adapt=0"
CODERS: dict[str, dict[str, Any]] = {
    "b-pictures.mp4": {"codec_options": {"preset": "veryfast", "bf": "3", "g": "30", "x264-params": "b-adapt=0"}},
    "pyramid.mp4": {"codec_options": {"preset": "veryfast", "bf": "7", "g": "30", "x264-params": "b-adapt=0"}},
    "open-group.mp4": {
        "codec_options": {"preset": "veryfast", "bf": "3", "g": "30", "x264-params": "b-adapt=0:open-gop=1"}
    },
    "slices.mkv": {"codec_options": {"preset": "veryfast", "bf": "1", "g": "30", "x264-params": "b-adapt=0:slices=4"}},
    "hevc.mp4": {"codec": "libx265", "codec_options": {"preset": "ultrafast", "x265-params": X265}},
    "hevc-sublayers.mkv": {
        "codec": "libx265",
        "codec_options": {"preset": "ultrafast", "x265-params": f"{X265}:temporal-layers=1"},
    },
}


def textured(width: int, height: int, step: int) -> np.ndarray:
    """Grain that moves and a bar that crosses it, so that pictures lean on each other."""
    grain = np.random.default_rng(1).integers(0, 90, (height, width + 400, 3), dtype=np.uint8)
    picture = grain[:, step % 400 :][:, :width].copy()
    picture[:, (3 * step) % (width - 8) :][:, :8] = 200
    return picture


def moving_clip(path: Path, rate: float = 30.0, seconds: float = 4.0) -> Path:
    times = [step / rate for step in range(round(rate * seconds))]
    return write_clip(path, times, size=(96, 64), picture=textured, **CODERS[path.name])


def plan_of(path: Path, **length: float) -> Plan:
    with ClipReader(path) as reader:
        return plan_tracking(reader, **length)


@pytest.mark.parametrize("name", ["b-pictures.mp4", "pyramid.mp4", "open-group.mp4", "slices.mkv", "hevc.mp4"])
def test_the_decoder_of_ffmpeg_leaves_out_the_same_pictures(tmp_path: Path, name: str) -> None:
    path = moving_clip(tmp_path / name)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        read_use = make_use_reader(stream.codec_context.name, stream.codec_context.extradata)
        assert read_use is not None
        packets = [packet for packet in container.demux(stream) if packet.size]
        unreferenced = {packet.pts for packet in packets if read_use(memoryview(packet)).unreferenced}
        everything = {packet.pts for packet in packets}
    with av.open(str(path)) as container:
        context = container.streams.video[0].codec_context
        context.skip_frame = "NONREF"  # FFmpeg's own: discard all non-reference frames
        decoded = {picture.pts for picture in container.decode(video=0)}
    assert 30 < len(unreferenced) < len(everything)
    assert everything - unreferenced == decoded


@pytest.mark.parametrize("rate", [30.0, 60.0])
@pytest.mark.parametrize("name", sorted(CODERS))
def test_landmarks_are_the_same_with_and_without_them(tmp_path: Path, name: str, rate: float) -> None:
    path = moving_clip(tmp_path / name, rate)
    for length in ({}, LENGTH):
        plan = plan_of(path, **length)
        assert sum(len(chunk.unseen) for chunk in plan.chunks) > 20
        for chunk in plan.chunks:
            shown: list[list[bytes]] = [[], []]
            tracks = []
            for pictures, part in zip(shown, (chunk, replace(chunk, unseen=())), strict=True):
                with ClipReader(path) as reader, GreyModel() as model:
                    tracks.append(
                        track_chunk(
                            reader,
                            model,
                            part,
                            TRACKED_PER_S,
                            on_pose=lambda _t, _row, rgb, pictures=pictures: pictures.append(rgb.tobytes()),  # type: ignore[misc]
                        )
                    )
            assert shown[0] == shown[1]
            assert len(shown[0]) >= 7
            for array in ("times", "t", "rows", "observations", "lost", "backward"):
                assert np.array_equal(getattr(tracks[0], array), getattr(tracks[1], array), equal_nan=True)


def test_the_pose_model_sees_the_same_of_a_set_with_b_pictures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with ClipReader(ROOT / "clips_demo" / "lateral_raise_front_clean.mp4") as reader:
        pictures = [rgb[:, : rgb.shape[1] // 2 * 2] for _, (_, rgb) in zip(range(60), reader, strict=False)]
    path = write_clip(
        tmp_path / "set.mp4",
        [step / 30 for step in range(len(pictures))],
        size=(pictures[0].shape[1], pictures[0].shape[0]),
        picture=lambda _width, _height, step: pictures[step],
        codec_options={"preset": "veryfast", "bf": "3", "g": "60", "x264-params": "b-adapt=0"},
    )
    left_out = track_here(path, MediaPipeEstimator)
    assert len(plan_of(path).chunks[0].unseen) > 15
    monkeypatch.setattr(worker, "plan_tracking", lambda *args, **kwargs: Plan())
    decoded = track_here(path, MediaPipeEstimator)
    assert np.isfinite(decoded.pixels).all()
    assert left_out.clip == decoded.clip
    for name in ("t", "pixels", "world", "visibility"):
        assert np.array_equal(getattr(left_out, name), getattr(decoded, name))


@pytest.mark.parametrize("name", ["b-pictures.mp4", "hevc.mp4"])
def test_any_number_of_processes_leaves_them_out_alike(tmp_path: Path, name: str) -> None:
    path = moving_clip(tmp_path / name)
    alone, several = (track_clip(path, GreyModel, processes=count, **LENGTH) for count in (1, 3))
    assert alone.clip == several.clip
    assert alone.clip.frames == 120
    assert np.array_equal(alone.pixels, several.pixels)
    assert np.array_equal(alone.world, several.world)


def test_every_picture_is_decoded_and_tracked_when_asked_for(tmp_path: Path) -> None:
    path = moving_clip(tmp_path / "pyramid.mp4")
    every, some = (track_clip(path, GreyModel, processes=1, every_picture=asked) for asked in (True, False))
    assert len(every.t) == every.clip.frames == some.clip.frames == 120
    assert len(some.t) == 60


def test_where_pictures_are_not_what_the_packets_said_all_are_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = moving_clip(tmp_path / "b-pictures.mp4")
    plan = plan_of(path)
    with ClipReader(path) as reader:
        shown = [picture.pts for _, picture in reader.pictures()]
    wrong = replace(plan.chunks[0], unseen=tuple(stamp for stamp in shown[2:40] if stamp is not None))
    with ClipReader(path) as reader, pytest.raises(AllNeededError):
        track_chunk(reader, FakeEstimator(), wrong, TRACKED_PER_S)
    monkeypatch.setattr(worker, "plan_tracking", lambda *args, **kwargs: replace(plan, chunks=(wrong,)))
    mistaken = track_here(path, GreyModel)
    monkeypatch.setattr(worker, "plan_tracking", lambda *args, **kwargs: Plan())
    assert np.array_equal(mistaken.pixels, track_here(path, GreyModel).pixels)


def test_a_damaged_clip_is_decoded_whole(tmp_path: Path) -> None:
    path = moving_clip(tmp_path / "b-pictures.mp4")
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat")
    middle = start + (data.index(b"moov") - start) // 2
    data[middle : middle + 3000] = bytes(3000)
    path.write_bytes(data)
    chunk = plan_of(path).chunks[0]
    tracks = []
    for part in (chunk, replace(chunk, unseen=())):
        try:
            with ClipReader(path) as reader:
                tracks.append(track_chunk(reader, FakeEstimator(), part, TRACKED_PER_S))
        except AllNeededError:
            assert part.unseen
    assert len(tracks[-1].lost)
    assert len(tracks) == 1


@pytest.mark.parametrize("name", ["interlaced.mp4"])
def test_of_an_interlaced_clip_all_pictures_are_decoded(tmp_path: Path, name: str) -> None:
    coder = {"preset": "veryfast", "bf": "3", "g": "30", "flags": "+ilme+ildct", "x264-params": "tff=1"}
    path = write_clip(
        tmp_path / name,
        [step / 30 for step in range(120)],
        size=(160, 128),
        picture=textured,
        codec_options=coder,
    )
    chunk = plan_of(path).chunks[0]
    assert chunk.unseen
    with ClipReader(path) as reader, pytest.raises(AllNeededError):
        list(tracking._read_all(reader, chunk))


def test_what_a_packet_says() -> None:
    h264 = make_use_reader("h264", bytes([1, 100, 0, 31, 0xFF, 0xE1, 0, 0]))
    h265 = make_use_reader("hevc", bytes([1, *[0] * 20, 0x0F, 0, 0]))
    assert h264 is not None
    assert h265 is not None

    def packet(*units: bytes) -> memoryview:
        return memoryview(b"".join(len(unit).to_bytes(4, "big") + unit for unit in units))

    # Rec. ITU-T H.264, 7.3.1: forbidden_zero_bit, nal_ref_idc (2 bits), nal_unit_type (5 bits)
    free, referred, parameters, words = b"\x01\x9a", b"\x41\x9a", b"\x67\x64", b"\x06\x05"
    assert h264(packet(words, free, free)) == PictureUse(True)
    for units in ((free, referred), (referred,), (parameters, free), (words,), ()):
        assert h264(packet(*units)) == REFERENCED
    assert h264(memoryview(bytes(packet(free))[:-1])) == REFERENCED
    # Rec. ITU-T H.265, 7.3.1.2: forbidden_zero_bit, nal_unit_type (6 bits), nuh_layer_id (6), nuh_temporal_id_plus1 (3)
    trail_n, trail_r, upper, other_view = b"\x00\x01\x80", b"\x02\x01\x80", b"\x00\x02\x80", b"\x00\x09\x80"
    assert h265(packet(trail_n)) == PictureUse(True, 0)
    assert h265(packet(upper)) == PictureUse(True, 1)
    for unit in (trail_r, other_view, b"\x40\x01\x80", b"\x00"):
        assert not h265(packet(unit)).unreferenced
    assert make_use_reader("vp9", b"\x01" * 30) is None
    assert make_use_reader("h264", None) is None
    assert make_use_reader("h264", b"\x00\x00\x00\x01\x67\x64\x00") is None
