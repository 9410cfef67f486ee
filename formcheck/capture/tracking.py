"""A clip and a pose model make a landmark recording."""

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np

from formcheck.capture.clip_file import ClipLimits
from formcheck.capture.pose import Pose, PoseEstimator
from formcheck.capture.video import ClipReader, read_ahead
from formcheck.model import LANDMARK_COUNT, Array, LandmarkRecording

TRACKER_VERSION = 1
"""Raised whenever the same clip and model would give other landmarks, so that cached recordings are made anew."""

PIXEL_STEPS = 32
"""Landmark positions are kept to 1/32 pixel: far below the model's own jitter, and small on disk."""
WORLD_STEPS = 1024
"""World positions are kept to 1/1024 metre."""
VISIBILITY_STEPS = 256

Progress = Callable[[float, float | None], None]
"""Called with the seconds of the clip done and the seconds in all, or None when the clip does not say."""


def track_clip(
    path: str | Path,
    estimator: PoseEstimator,
    *,
    on_progress: Progress | None = None,
    limits: ClipLimits | None = None,
    clip_sha256: str | None = None,
) -> LandmarkRecording:
    """Landmarks of the person in every frame of a clip.

    Parameters
    ----------
    path : the clip.
    estimator : the pose model, entered already, which has seen no other clip.
    on_progress : called after every frame; what it raises ends the work.
    limits : what is refused.
    clip_sha256 : the clip's checksum, when it is known already.

    Decoding runs in a thread of its own, so a clip costs little more than the model alone. Times are the clip's own
    presentation times, positions are pixels of the upright full-size picture. Frames without a person have
    NaN positions and visibility 0. Raises ClipError and PoseModelError.
    """
    times: list[float] = []
    frames: list[Array] = []
    with ClipReader(path, limits=limits) as reader:
        total = reader.duration_hint_s
        with closing(read_ahead(iter(reader))) as ahead:
            for t, rgb in ahead:
                pose = estimator.detect(rgb, t)
                times.append(t)
                frames.append(_packed(pose, reader.width / rgb.shape[1], reader.height / rgb.shape[0]))
                if on_progress is not None:
                    on_progress(t if total is None else min(t, total), total)
        clip = reader.info(sha256=clip_sha256)
    values = np.stack(frames)
    if on_progress is not None:
        on_progress(clip.duration_s, clip.duration_s)
    return LandmarkRecording(
        clip=clip,
        pose_model=estimator.info,
        t=np.array(times),
        pixels=values[:, :, 0:2],
        world=values[:, :, 2:5],
        visibility=values[:, :, 5],
    )


def _packed(pose: Pose | None, scale_x: float, scale_y: float) -> Array:
    """(33, 6): pixels of the full-size picture, world, visibility, each rounded to its step."""
    values = np.full((LANDMARK_COUNT, 6), np.nan)
    values[:, 5] = 0.0
    if pose is not None:
        values[:, 0:2] = np.round(pose.pixels * (scale_x, scale_y) * PIXEL_STEPS) / PIXEL_STEPS
        values[:, 2:5] = np.round(pose.world * WORLD_STEPS) / WORLD_STEPS
        values[:, 5] = np.round(np.clip(pose.visibility, 0, 1) * VISIBILITY_STEPS) / VISIBILITY_STEPS
    return values
