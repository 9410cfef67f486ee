"""What a review's tracking costs against a bare loop over the same frames, and overlay film against playing time.

Run ``python benchmarks/throughput.py [CLIP]``. Without a clip, a demo clip is enlarged to 1080 × 1920. Both loops use
the same pose model in the same process, in turns, so that the ratio does not depend on the machine's speed; the
figure to reach is at most 0.80. The bare loop decodes with cv2.VideoCapture, as a script of ten lines would.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from formcheck.capture.native_log import native_log_to  # noqa: E402  # the repository's own package first
from formcheck.capture.pose import TIME_STRETCH, MediaPipeEstimator  # noqa: E402
from formcheck.capture.recording import cached_recording  # noqa: E402
from formcheck.capture.tracking import track_clip  # noqa: E402
from formcheck.capture.video import ClipReader  # noqa: E402
from formcheck.pose_model import packaged_bundle  # noqa: E402
from formcheck.report.overlay import write_overlay  # noqa: E402

PHONE_BIT_RATE = 17_000_000
"""A phone's full-HD film at 30 frames a second: about 130 MB a minute (from memory)."""


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", nargs="?", type=Path)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        clip = options.clip or enlarged_clip(Path(folder) / "large.mp4")
        report(clip, options.rounds, Path(folder))
    return 0


def report(clip: Path, rounds: int, folder: Path) -> None:
    """Time the loops in turns and print ratios."""
    bare_loop(clip, at_most=5)  # imports and first-time set-up are paid before the clock runs
    bare, tracked, bare_work, tracked_work, alone = [], [], [], [], []
    for _ in range(rounds):
        start, work = time.perf_counter(), time.process_time()
        frames = bare_loop(clip)
        bare.append(time.perf_counter() - start)
        bare_work.append(time.process_time() - work)
        start, work = time.perf_counter(), time.process_time()
        with MediaPipeEstimator() as estimator:
            recording = track_clip(clip, estimator)
        tracked.append(time.perf_counter() - start)
        tracked_work.append(time.process_time() - work)
        alone.append(model_alone(clip))
    info = recording.clip
    if frames != info.frames:
        print(f"The bare loop saw {frames} frames, formcheck {info.frames}: the ratio is a frame's.")
    ratios = [(b / info.frames) / (a / frames) for a, b in zip(bare, tracked, strict=True)]
    print(f"{info.width} x {info.height}, {info.frames} frames, {os.cpu_count()} cores, {rounds} rounds in turns")
    print(f"bare loop (cv2.VideoCapture + pose model)  {1000 * statistics.median(bare) / frames:7.1f} ms a frame")
    print(
        f"formcheck tracking (decoding beside it)    {1000 * statistics.median(tracked) / info.frames:7.1f} ms a frame"
    )
    print(f"ratio, median of rounds                    {statistics.median(ratios):7.2f}   (to reach: 0.80)")
    print(f"ratio, each round                          {', '.join(f'{ratio:.2f}' for ratio in ratios):>7}")

    limit = statistics.median(b / (a / frames) for a, b in zip(bare, alone, strict=True))
    print(f"pose model alone over bare loop            {limit:7.2f}   (what no overlap can beat)")

    work = statistics.median(b / a for a, b in zip(bare_work, tracked_work, strict=True)) * frames / info.frames
    print(f"ratio of processor time, all threads       {work:7.2f}")

    cache = folder / "cache"
    cached_recording(clip, MediaPipeEstimator, cache)
    start = time.perf_counter()
    cached_recording(clip, MediaPipeEstimator, cache)
    again = time.perf_counter() - start
    print(f"second time, from the cache, over first    {again / statistics.median(tracked):7.4f}")

    start = time.perf_counter()
    write_overlay(clip, recording, folder / "overlay.mp4")
    print(
        f"overlay film over tracking                 {(time.perf_counter() - start) / statistics.median(tracked):7.2f}"
    )


def bare_loop(clip: Path, at_most: int | None = None) -> int:
    """The plain way: read a frame, find the pose, next frame; gives the number of frames."""
    import cv2
    import mediapipe
    from mediapipe.tasks.python import BaseOptions, vision

    path, _ = packaged_bundle()
    frames = 0
    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(path)), running_mode=vision.RunningMode.VIDEO
    )
    with native_log_to(), vision.PoseLandmarker.create_from_options(options) as landmarker:
        capture = cv2.VideoCapture(str(clip))
        while at_most is None or frames < at_most:
            more, bgr = capture.read()
            if not more:
                break
            image = mediapipe.Image(mediapipe.ImageFormat.SRGB, cv2.cvtColor(bgr, cv2.COLOR_BGR2RGB))
            landmarker.detect_for_video(image, round(frames * 1000 / 30) * TIME_STRETCH)
            frames += 1
        capture.release()
    return frames


def model_alone(clip: Path) -> float:
    """Seconds a frame of the pose model on pictures decoded beforehand: what no overlap can beat."""
    with ClipReader(clip) as reader:
        frames = [frame for frame, _ in zip(iter(reader), range(150), strict=False)]
    with MediaPipeEstimator() as estimator:
        start = time.perf_counter()
        for t, rgb in frames:
            estimator.detect(rgb, t)
        return (time.perf_counter() - start) / len(frames)


def enlarged_clip(path: Path, height: int = 1920, seconds: float = 10.0) -> Path:
    """A demo clip, enlarged to 1080p with fine grain, so that it costs what a phone's clip costs to decode."""
    import av
    import cv2

    source = next(iter(sorted((ROOT / "clips_demo").glob("*.mp4"))), None)
    if source is None:
        raise SystemExit("There is no demo clip; give a clip.")
    rng = np.random.default_rng(1)
    grain = rng.normal(0, 4, (height + 64, 2 * height, 1))
    with ClipReader(source) as reader, av.open(str(path), "w") as container:
        landscape = reader.width > reader.height
        size = (height, 1080) if landscape else (1080, height)
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 90_000)
        stream.bit_rate = PHONE_BIT_RATE
        stream.codec_context.options = {"preset": "veryfast"}
        for t, rgb in reader:
            if t > seconds:
                break
            large = cv2.resize(rgb, size, interpolation=cv2.INTER_CUBIC).astype(np.float64)
            dy, dx = rng.integers(0, 64, 2)
            large += grain[dy : dy + size[1], dx : dx + size[0]]
            frame = av.VideoFrame.from_ndarray(np.clip(large, 0, 255).astype(np.uint8), format="rgb24")
            frame.pts, frame.time_base = round(t * 90_000), Fraction(1, 90_000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


if __name__ == "__main__":
    raise SystemExit(main())
