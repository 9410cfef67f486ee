"""The sound of clips written here, so what is in it and when is known."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from formcheck.core.errors import ClipError
from formcheck.video.sound import RATE_HZ, read_sound
from tests.video.clips import write_clip

HZ = 16000


def with_sound(path: Path, sound: np.ndarray, *, later: float = 0.0) -> Path:
    """A clip whose sound (n,) starts `later` seconds after its pictures."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=25)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        audio = out.add_stream("aac", rate=HZ)
        audio.layout = "mono"
        for _ in range(round(len(sound) / HZ * 25)):
            picture = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 90, dtype=np.uint8), format="rgb24")
            out.mux(video.encode(picture))
        out.mux(video.encode(None))
        for start in range(0, len(sound) - 1024, 1024):
            block = np.asarray(sound[None, start : start + 1024], dtype=np.float32)
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
            frame.sample_rate, frame.time_base = HZ, Fraction(1, HZ)
            frame.pts = start + round(later * HZ)
            out.mux(audio.encode(frame))
        out.mux(audio.encode(None))
    return path


def knock(at: float, seconds: float = 3.0) -> np.ndarray:
    t = np.arange(round(seconds * HZ)) / HZ - at
    return np.where(t > 0, np.exp(-25 * np.abs(t)) * np.sin(2 * np.pi * 600 * t), 0.0) * 0.5


@pytest.mark.parametrize("later", [0.0, 0.4])
def test_a_knock_is_heard_when_it_was_made(tmp_path: Path, later: float) -> None:
    sound = read_sound(with_sound(tmp_path / "knock.mp4", knock(1.25), later=later))
    assert sound is not None
    loudest = int(np.argmax(np.abs(sound.samples)))
    assert sound.start_s + loudest / RATE_HZ == pytest.approx(1.25 + later, abs=0.02)


def test_a_clip_without_sound_has_none(tmp_path: Path) -> None:
    assert read_sound(write_clip(tmp_path / "silent.mp4", [0.0, 0.1, 0.2])) is None


def test_damage_leaves_what_came_before_it(tmp_path: Path) -> None:
    path = with_sound(tmp_path / "cut.mkv", knock(0.5))
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 2 // 3])
    sound = read_sound(path)
    assert sound is not None
    assert int(np.argmax(np.abs(sound.samples))) / RATE_HZ + sound.start_s == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("make", [lambda path: path.write_text("words"), lambda path: None], ids=["text", "missing"])
def test_what_is_no_clip_is_refused_in_a_sentence(tmp_path: Path, make: Callable[[Path], object]) -> None:
    path = tmp_path / "none.mp4"
    make(path)
    with pytest.raises(ClipError):
        read_sound(path)
