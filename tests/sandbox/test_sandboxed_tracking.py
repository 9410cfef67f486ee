"""Children that look at clips: whatever becomes of one is one sentence, and none is left behind."""

import io
import json
import os
import pickle
import signal
import struct
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.core.errors import ClipError, FormcheckError, PoseModelError
from formcheck.pose.person_selection import PeopleInFrame, Person
from formcheck.pose.survey import SurveySample
from formcheck.sandbox.protocol import (
    ProtocolError,
    Response,
    decode_sample,
    encode_sample,
    read_response,
    send_response,
)
from formcheck.sandbox.sandboxed_tracking import SandboxLimits, track_clip
from formcheck.storage.recording_cache import cached_recording
from formcheck.video.clip_file import ClipLimits
from tests.pose import stand_in_models
from tests.video.clips import FakeEstimator, write_clip, write_sound

needs_proc = pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="asks Linux's /proc for the processes")
needs_limits = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux bounds a process's memory")


def clip_in(folder: Path, seconds: float = 2.0) -> Path:
    return write_clip(folder / "clip.mp4", [step / 30 for step in range(round(30 * seconds))])


def children(pid: int | str = "self") -> list[int]:
    tasks = Path(f"/proc/{pid}/task")
    found: list[int] = []
    for task in tasks.iterdir():
        with suppress(OSError):  # a thread that has ended since
            found += map(int, (task / "children").read_text().split())
    return found


def alive(pid: int) -> bool:
    try:
        return "State:\tZ" not in Path(f"/proc/{pid}/status").read_text()
    except FileNotFoundError:
        return False


@pytest.fixture(autouse=True)
def nothing_left():  # type: ignore[no-untyped-def]  # a fixture
    """No process, thread or open file of ours outlives a call."""
    descriptors = Path("/proc/self/fd")
    before = len(list(descriptors.iterdir())) if descriptors.exists() else 0
    others = set(children()) if descriptors.exists() else set()  # of tests that ran before in this process
    yield
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("formcheck-")]
    if descriptors.exists():
        assert not set(children()) - others
        assert len(list(descriptors.iterdir())) <= before


def refusal(
    path: Path, model: type, sandbox_limits: SandboxLimits | None = None, error: type[FormcheckError] = ClipError
) -> str:
    with pytest.raises(error) as caught:
        track_clip(path, model, sandbox_limits=sandbox_limits)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    return sentence


def test_a_crash_is_one_sentence(tmp_path: Path) -> None:
    sentence = refusal(clip_in(tmp_path), stand_in_models.CrashingModel)
    assert '"clip.mp4"' in sentence
    assert "may be damaged" in sentence


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_a_process_ended_by_the_system_is_one_sentence(tmp_path: Path) -> None:
    assert "ended by the system, probably for want of memory" in refusal(clip_in(tmp_path), stand_in_models.KilledModel)


@needs_limits
def test_memory_is_bounded(tmp_path: Path) -> None:
    sentence = refusal(clip_in(tmp_path), stand_in_models.GreedyModel)
    assert "memory" in sentence
    assert "3.0 GiB" in sentence


def test_a_halt_is_noticed(tmp_path: Path) -> None:
    assert "came to a halt and was ended" in refusal(
        clip_in(tmp_path), stand_in_models.HaltingModel, SandboxLimits(silence_s=3.0)
    )


def test_time_is_bounded(tmp_path: Path) -> None:
    sandbox_limits = SandboxLimits(start_s=2.0, times_length=0.0)
    clip = clip_in(tmp_path, seconds=60)  # 1800 pictures at 20 ms each
    assert "took too long and was ended" in refusal(clip, stand_in_models.SlowModel, sandbox_limits)


def test_time_allowed_grows_with_the_clip_up_to_a_ceiling() -> None:
    sandbox_limits = SandboxLimits()
    assert sandbox_limits.compute_allowed_s(60.0) > sandbox_limits.compute_allowed_s(10.0) > 300
    assert sandbox_limits.compute_allowed_s(1e9) == sandbox_limits.most_s


def test_what_is_no_clip_and_no_model_is_told_as_without_children(tmp_path: Path) -> None:
    assert "holds only sound" in refusal(write_sound(tmp_path / "voice.mp4"), stand_in_models.GreyModel)
    assert "does not exist" in refusal(tmp_path / "none.mp4", stand_in_models.GreyModel)
    assert (
        refusal(clip_in(tmp_path), stand_in_models.MissingModel, error=PoseModelError) == "The pose model is not there."
    )
    single = write_clip(tmp_path / "single.mp4", [0])
    assert "single frame" in refusal(single, stand_in_models.GreyModel)
    with pytest.raises(ClipError, match="too long"):
        track_clip(clip_in(tmp_path), stand_in_models.GreyModel, limits=ClipLimits(max_duration_s=1))


def test_a_bug_in_a_child_is_not_blamed_on_the_clip(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="ZeroDivisionError: a bug of the model's"):
        track_clip(clip_in(tmp_path), stand_in_models.BrokenModel)


def test_noise_of_native_code_harms_nothing(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    clip = clip_in(tmp_path)
    made = track_clip(clip, stand_in_models.LoudModel)
    assert np.array_equal(made.pixels, track_clip(clip, stand_in_models.GreyModel).pixels)
    assert capfd.readouterr() == ("", "")


def test_what_progress_raises_ends_the_children_at_once(tmp_path: Path) -> None:
    class EnoughError(Exception):
        pass

    told: list[float] = []

    def stop(done: float, total: float | None) -> None:
        told.append(done)
        raise EnoughError

    with pytest.raises(EnoughError):
        track_clip(clip_in(tmp_path, seconds=60), stand_in_models.SlowModel, on_progress=stop)
    assert len(told) == 1


def test_what_was_tracked_so_far_is_told_and_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("formcheck.sandbox.sandboxed_tracking.PARTS_EVERY_S", 0.0)
    clip, told = clip_in(tmp_path, seconds=6), []
    made = track_clip(clip, stand_in_models.SlowModel, on_parts=told.append)
    last = told[-1]
    assert max(last.picture.shape[:2]) <= 320
    assert last.landmarks.shape == (33, 6)
    (track,) = last.tracks
    assert len(track.t) > 2
    assert np.isin(track.t, made.t).all()
    assert last.at_s in track.t
    assert np.array_equal(made.pixels, track_clip(clip, stand_in_models.SlowModel).pixels)


SCRIPT = """
import sys
from pathlib import Path
from formcheck.sandbox.sandboxed_tracking import track_clip
from tests.pose.stand_in_models import SlowModel
track_clip(Path(sys.argv[1]), SlowModel, processes=2, chunk_s=4.0, whole_s=5.0,
    on_progress=lambda done, total: print("working", flush=True))
"""


@needs_proc
@pytest.mark.parametrize("how", ["kill", "interrupt"])
def test_no_child_outlives_the_process_that_asked(tmp_path: Path, root: Path, how: str) -> None:
    clip = write_clip(
        tmp_path / "clip.mp4",
        [step / 30 for step in range(1800)],
        codec_options={"preset": "ultrafast", "bf": "0", "g": "30"},
    )
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT, str(clip)],
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as asker:
        assert asker.stdout is not None
        assert asker.stdout.readline() == "working\n"
        made = children(asker.pid)
        assert len(made) == 2
        asker.send_signal(signal.SIGKILL if how == "kill" else signal.SIGINT)
        _, errors = asker.communicate()
    assert asker.returncode in (-signal.SIGKILL, -signal.SIGINT)
    assert errors.count("Traceback") == (0 if how == "kill" else 1)
    for _ in range(600):
        if not any(alive(pid) for pid in made):
            break
        time.sleep(0.05)
    assert not any(alive(pid) for pid in made)


# ---------------------------------------------------------------- with the cache


def test_a_model_that_cannot_be_sent_leaves_nothing_running(tmp_path: Path) -> None:
    estimator = FakeEstimator()
    with pytest.raises((pickle.PicklingError, AttributeError)):
        track_clip(clip_in(tmp_path), lambda: estimator)
    assert not estimator.asked


@pytest.mark.parametrize("processes", [2, None])
def test_the_cache_holds_the_same_bytes_whoever_looked(tmp_path: Path, processes: int | None) -> None:
    clip = clip_in(tmp_path)
    cached_recording(clip, stand_in_models.GreyModel, tmp_path / "one", processes=1)
    cached_recording(clip, stand_in_models.GreyModel, tmp_path / "other", processes=processes)
    (one,), (other,) = (tmp_path / "one").iterdir(), (tmp_path / "other").iterdir()
    assert one.name == other.name
    first, second = np.load(one), np.load(other)
    assert all(np.array_equal(first[name], second[name], equal_nan=name == "t") for name in first.files)


# ---------------------------------------------------------------- messages


def test_messages_arrive_as_sent() -> None:
    rng = np.random.default_rng(1)
    arrays = {
        "rows": rng.random((3, 33, 6)).astype(np.float32),
        "t": rng.random(3),
        "none": np.empty((0, 33, 6), np.float32),
    }
    pipe = io.BytesIO()
    send_response(pipe, Response("track", {"model": {"name": "ü"}}, arrays))
    send_response(pipe, Response("at", {"t": None}))
    pipe.seek(0)
    first, second, third = read_response(pipe), read_response(pipe), read_response(pipe)
    assert first is not None
    assert second is not None
    assert (first.kind, first.values, second.kind, second.values, third) == (
        "track",
        {"model": {"name": "ü"}},
        "at",
        {"t": None},
        None,
    )
    assert all(np.array_equal(first.arrays[name], arrays[name]) for name in arrays)


def test_glimpses_arrive_to_the_bit() -> None:
    """What a child saw is JSON on the way: no number may change, an unknown colour stays unknown."""
    rng = np.random.default_rng(2)
    people = [
        Person(rng.random(2) * 999, float(rng.random()), rng.random(4), rng.random(2), colour)
        for colour in (rng.random(3), np.full(3, np.nan))
    ]
    sent = SurveySample(1080, 1920, (PeopleInFrame(0.1 + 0.2, tuple(people)), PeopleInFrame(1 / 3, ())), (True, False))
    got = decode_sample(json.loads(json.dumps(encode_sample(sent))))
    assert got is not None
    assert (got.width, got.height, got.camera_moved) == (1080, 1920, (True, False))
    assert [frame.t for frame in got.frames] == [0.1 + 0.2, 1 / 3]
    for before, after in zip(people, got.frames[0].people, strict=True):
        assert before.size == after.size
        for name in ("centre", "box", "hands", "colour"):
            assert np.array_equal(getattr(before, name), getattr(after, name), equal_nan=True)
    assert decode_sample(encode_sample(None)) is None


@given(
    st.recursive(
        st.none() | st.integers() | st.text() | st.floats(),
        lambda inner: st.lists(inner) | st.dictionaries(st.sampled_from(["t", "people", "frames", "width"]), inner),
    )
)
def test_an_invalid_survey_sample_is_refused(values: object) -> None:
    with suppress(KeyError, TypeError, ValueError):
        got = decode_sample(values)
        assert (got is None) == (values is None)


@given(data=st.data())
def test_invalid_bytes_from_a_worker_are_refused(data: st.DataObject) -> None:
    pipe = io.BytesIO()
    send_response(pipe, Response("track", {"t": 1.5}, {"t": np.arange(5.0)}))
    content = bytearray(pipe.getvalue())
    for _ in range(data.draw(st.integers(0, 3))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    if data.draw(st.booleans()):
        content = content[: data.draw(st.integers(0, len(content)))] + data.draw(st.binary(max_size=20))
    try:
        answer = read_response(io.BytesIO(content))
    except ProtocolError:
        assert content != pipe.getvalue()
        return
    if content == pipe.getvalue():
        assert answer is not None
        assert np.array_equal(answer.arrays["t"], np.arange(5.0))
    assert answer is None or isinstance(answer.kind, str)


@given(
    st.recursive(
        st.none() | st.integers() | st.text(), lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)
    )
)
def test_heads_of_any_shape_are_read_or_told(head: object) -> None:
    text = json.dumps({"kind": "track", "values": head, "arrays": head}).encode()
    try:
        answer = read_response(io.BytesIO(struct.pack(">I", len(text)) + text))
    except ProtocolError:
        return
    assert answer is not None
    assert answer.values == head
