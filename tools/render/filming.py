"""Where the camera of a rendered set looks, and its clip on disk."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from body import Array, RestBody
from scene import Camera, picture_points

TICK = Fraction(1, 90000)


def list_extremes(body: RestBody, posed: Any, hands: Any) -> Iterator[Array]:
    """Points that must be in the picture besides the joints: crown, hands with what they hold, toes."""
    crown = posed.heads[body.bone("head")] + posed.rotations[body.bone("head")] @ np.array([0.0, -0.02, 0.2])
    yield crown
    for hand in hands.values():
        yield hand.centre + 0.1 * hand.axes[:, 0]
    for letter in "LR":
        yield posed.heads[body.bone(f"foot.{letter}")] + np.array([0.0, -0.2, -0.08])


def fit_camera(camera: Camera, points: Array) -> Camera:
    """The camera turned up or down and zoomed so that all points are in the picture with a margin."""
    low, high = 0.3, 1.7
    for _ in range(20):
        camera = replace(camera, look=(low + high) / 2, view=60.0)
        y = picture_points(camera, points)[:, 1]
        if camera.height_px - y.max() < y.min():
            high = camera.look
        else:
            low = camera.look
    middle = np.array([camera.width, camera.height_px]) / 2
    half = np.abs(picture_points(camera, points) - middle).max(axis=0) / middle
    grow = float(max(half)) * (1.0 + camera.margin)
    view = 2 * np.degrees(np.arctan(np.tan(np.radians(30.0)) * grow))
    return replace(camera, view=float(view))


def write_clip(pictures: Iterator[Any], t: Array, rate: float, camera: Camera, path: Path, *, quality: int) -> None:
    """Write pictures (height, width, 3) as H.264 at their times t (n,), seconds; quality is x264's crf."""
    with av.open(str(path), "w", options={"movflags": "+faststart"}) as out:
        stream = out.add_stream("libx264", rate=Fraction(rate).limit_denominator(1000))
        stream.width, stream.height, stream.pix_fmt = camera.width, camera.height_px, "yuv420p"
        stream.time_base = stream.codec_context.time_base = TICK
        stream.options = {"crf": str(quality), "preset": "veryfast", "threads": "1", "bf": "2"}
        for when, picture in zip(t, pictures, strict=True):
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(when / TICK), TICK
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
