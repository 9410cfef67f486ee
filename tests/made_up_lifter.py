"""A small clip, and a stand-in for the pose model that sees a made-up lifter raise the arms four times, 2.5 s a rep.

Processes of their own take the stand-in from here too, so little else is loaded with it.
"""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, Self

import av
import numpy as np

from formcheck.core.model import PoseModelInfo
from formcheck.pose.estimator import Pose

REPS, REP_S, REST_S, RATE = 4, 2.5, 1.0, 12
LENGTH_S = 2 * REST_S + REPS * REP_S
PEAK, LOW = 92.0, 8.0


def arm_angle(t: float) -> float:
    """Upper arm from straight down, degrees: a cosine for each rep, hanging before and after."""
    inside = REST_S <= t <= LENGTH_S - REST_S
    return LOW + (PEAK - LOW) * (0.5 - 0.5 * np.cos(2 * np.pi * (t - REST_S) / REP_S)) if inside else LOW


def figure(t: float) -> Any:
    """(33, 3) metres from the middle of the hips, seen from the front: x image-right, y down, z away."""
    points = np.zeros((33, 3))
    points[:11] = (0.0, -0.72, -0.1)
    points[2:11:2, 0] += 0.03
    angle = np.radians(arm_angle(t))
    for side, sign in ((0, 1.0), (1, -1.0)):  # the lifter's left is at the right of the picture
        shoulder = np.array([0.2 * sign, -0.5, 0.0])
        along = np.array([np.sin(angle) * sign, np.cos(angle), 0.0])
        points[11 + side] = shoulder
        points[13 + side] = shoulder + 0.3 * along
        for hand in (15, 17, 19, 21):
            points[hand + side] = shoulder + (0.55 if hand == 15 else 0.62) * along
        points[23 + side] = (0.12 * sign, 0.0, 0.0)
        points[25 + side] = (0.12 * sign, 0.42, 0.0)
        for foot in (27, 29, 31):
            points[foot + side] = (0.12 * sign, 0.84, 0.0)
    return points


class MadeUpEstimator:
    """Stands in for the pose model; `seen` counts the pictures all of them have looked at."""

    seen = 0
    on_picture: Callable[[int], None] | None = None

    def __init__(self, model_path: object = None) -> None:
        self.model_path = model_path

    @property
    def info(self) -> PoseModelInfo:
        return PoseModelInfo("made-up", "5" * 64)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        return None

    def detect(self, rgb: Any, t_s: float) -> Pose:
        kind = type(self)
        kind.seen += 1
        if kind.on_picture is not None:
            kind.on_picture(kind.seen)
        height, width = rgb.shape[:2]
        world = figure(t_s)
        pixels = np.array([width / 2, height * 0.5]) + world[:, :2] * height * 0.5
        return Pose(pixels, world, np.full(33, 0.98))


def write_clip(path: Path, *, seconds: float = LENGTH_S, shade: int = 90) -> Path:
    """An empty grey room, large enough for the made-up lifter to count as near."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=Fraction(RATE), options={"qscale": "12"})
        stream.width, stream.height, stream.pix_fmt = 240, 320, "yuv420p"
        for _ in range(round(seconds * RATE)):
            picture = np.full((320, 240, 3), shade, dtype=np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode())
    return path


class Lifter(MadeUpEstimator):
    """Its own count of pictures, so that a batch in one process disturbs no other test."""
