"""Makes a clip that costs what a phone's full-HD film costs to decode, out of a shipped clip."""

from fractions import Fraction
from pathlib import Path

import numpy as np

from formcheck.video.reader import ClipReader

ROOT = Path(__file__).resolve().parents[2]
PHONE_BIT_RATE = 17_000_000
"""A phone's full-HD film at 30 frames a second: about 130 MB a minute (from memory)."""
FULL_HD, FOUR_K = (1920, 1080), (3840, 2160)


def phone_clip(
    path: Path,
    seconds: float,
    *,
    source: Path | None = None,
    rate: int = 30,
    size: tuple[int, int] = FULL_HD,
    bit_rate: int = PHONE_BIT_RATE,
    b_pictures: int = 0,
) -> Path:
    """A shipped clip over and over, enlarged with fine grain, a key picture a second; kept once made.

    Parameters
    ----------
    size : pixels of the longer and the shorter side.
    b_pictures : pictures in a row that no other depends on.
    """
    long, short = size
    import av
    import cv2

    if path.exists():
        return path
    source = source or ROOT / "clips_demo" / "lateral_raise_front_clean.mp4"
    rng = np.random.default_rng(1)
    grain = rng.normal(0, 4, (long + 64, long + 64, 1)).round().astype(np.int16)
    part = path.with_suffix(".part.mp4")
    path.parent.mkdir(parents=True, exist_ok=True)
    done, wanted = 0, round(seconds * rate)
    with av.open(str(part), "w") as container:
        stream = container.add_stream("libx264", rate=rate)
        stream.pix_fmt, stream.bit_rate = "yuv420p", bit_rate
        stream.codec_context.time_base = Fraction(1, rate)
        stream.codec_context.options = {"preset": "veryfast", "g": str(rate), "bf": str(b_pictures)}
        while done < wanted:
            with ClipReader(source) as reader:
                shown = (long, short) if reader.width > reader.height else (short, long)
                if done == 0:
                    stream.width, stream.height = shown
                for _, rgb in reader:
                    if done == wanted:
                        break
                    dy, dx = rng.integers(0, 64, 2)
                    large = cv2.resize(rgb, shown, interpolation=cv2.INTER_CUBIC).astype(np.int16)
                    large += grain[dy : dy + shown[1], dx : dx + shown[0]]
                    frame = av.VideoFrame.from_ndarray(np.clip(large, 0, 255).astype(np.uint8), format="rgb24")
                    frame.pts, frame.time_base = done, Fraction(1, rate)
                    container.mux(stream.encode(frame))
                    done += 1
        container.mux(stream.encode(None))
    part.replace(path)
    return path


def small_clip(path: Path, seconds: float) -> Path:
    """A shipped clip over and over in 360 × 640, 30 pictures a second, cheap to decode; kept once made."""
    import av

    if path.exists():
        return path
    source, rate = ROOT / "clips_demo" / "lateral_raise_front_clean.mp4", 30
    with ClipReader(source, max_side=640) as reader:
        pictures = [rgb for _, rgb in reader]
    part = path.with_suffix(".part.mp4")
    path.parent.mkdir(parents=True, exist_ok=True)
    with av.open(str(part), "w") as container:
        stream = container.add_stream("libx264", rate=rate)
        stream.height, stream.width = (side // 2 * 2 for side in pictures[0].shape[:2])
        stream.pix_fmt = "yuv420p"
        stream.codec_context.options = {"preset": "ultrafast", "g": str(rate), "bf": "0"}
        for step in range(round(seconds * rate)):
            picture = pictures[step % len(pictures)][: stream.height, : stream.width]
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
            frame.pts, frame.time_base = step, Fraction(1, rate)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    part.replace(path)
    return path
