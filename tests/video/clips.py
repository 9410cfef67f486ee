"""Makes small clips with known pictures and times, and a pose model that sees what it is told."""

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import av
import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import PoseModelInfo
from formcheck.pose.estimator import Pose

RED, GREEN, BLUE, WHITE = (220, 30, 30), (30, 200, 30), (30, 30, 220), (235, 235, 235)
Rgb = NDArray[np.uint8]


def quarters(width: int, height: int, step: int = 0) -> Rgb:
    """Red, green over blue, white: tells every one of the eight orientations apart."""
    picture = np.empty((height, width, 3), dtype=np.uint8)
    picture[: height // 2, : width // 2] = RED
    picture[: height // 2, width // 2 :] = GREEN
    picture[height // 2 :, : width // 2] = BLUE
    picture[height // 2 :, width // 2 :] = WHITE
    return picture


def grey_levels(width: int, height: int, step: int) -> Rgb:
    """One grey a frame, so that a decoded picture tells its number: level 20 + 2 × number."""
    return np.full((height, width, 3), 20 + 2 * step, dtype=np.uint8)


def write_clip(
    path: Path,
    times: Sequence[float],
    *,
    size: tuple[int, int] = (64, 48),
    picture: Callable[[int, int, int], Rgb] = quarters,
    rotation: tuple[float, bool, bool] | None = None,
    pixel_shape: Fraction | None = None,
    codec: str = "libx264",
    pix_fmt: str = "yuv420p",
    sound: bool = False,
    metadata: dict[str, str] | None = None,
    container_options: dict[str, str] | None = None,
    codec_options: dict[str, str] | None = None,
    ticks: int = 90_000,
) -> Path:
    """A clip with a frame at each time (seconds); rotation is (degrees counter-clockwise, mirror x, mirror y)."""
    clock = Fraction(1, ticks)
    with av.open(str(path), "w", options=container_options or {}) as container:
        container.metadata.update(metadata or {})
        stream: Any = container.add_stream(codec, rate=30)
        stream.width, stream.height, stream.pix_fmt = *size, pix_fmt
        stream.codec_context.time_base = stream.time_base = clock
        default = {"preset": "ultrafast", "bf": "0"} if codec == "libx264" else {}
        stream.codec_context.options = codec_options or default
        if pixel_shape is not None:
            stream.codec_context.sample_aspect_ratio = pixel_shape
        if rotation is not None:
            stream.set_display_rotation(rotation[0], hflip=rotation[1], vflip=rotation[2])
        audio: Any = container.add_stream("aac", rate=16_000, layout="mono") if sound else None
        for step, t in enumerate(times):
            frame = av.VideoFrame.from_ndarray(picture(*size, step), format="rgb24")
            frame.pts, frame.time_base = round(t * ticks), clock
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        if audio is not None:
            _write_silence(container, audio, 16_000)
    return path


def write_sound(path: Path, seconds: float = 1.0) -> Path:
    """A file with sound and no picture."""
    with av.open(str(path), "w") as container:
        _write_silence(container, container.add_stream("aac", rate=16_000, layout="mono"), round(16_000 * seconds))
    return path


def _write_silence(container: Any, stream: Any, samples: int) -> None:
    for start in range(0, samples, 1024):
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), dtype=np.float32), format="fltp", layout="mono")
        frame.sample_rate, frame.pts = 16_000, start
        container.mux(stream.encode(frame))
    container.mux(stream.encode(None))


class FakeEstimator:
    """A pose model that finds what `see` says; counts how often it is loaded and asked."""

    def __init__(self, see: Callable[[Rgb, float], Pose | None] | None = None, sha256: str = "f" * 64):
        self._see = see or middle_pose
        self.info = PoseModelInfo("made-up", sha256)
        self.entered = 0
        self.left = 0
        self.asked: list[float] = []

    def __enter__(self) -> Self:
        self.entered += 1
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.left += 1

    def detect(self, rgb: Rgb, t_s: float) -> Pose | None:
        self.asked.append(t_s)
        return self._see(rgb, t_s)


def middle_pose(rgb: Rgb, t_s: float) -> Pose:
    """Every landmark at three quarters of the width and a quarter of the height, plus what moves with time."""
    height, width = rgb.shape[:2]
    pixels = np.tile([0.75 * width, 0.25 * height], (33, 1))
    world = np.full((33, 3), np.sin(t_s) / 3)
    return Pose(pixels, world, np.full(33, 0.7))
