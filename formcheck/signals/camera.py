"""Where the camera stands, and how well the clip can be measured.

The yaw comes from the model's world points of shoulders and hips: their left-to-right lines are level in
every exercise of the shelf, upright or bent over, so their direction in the horizontal plane is the camera's
angle around the lifter. The world points are good enough for this and for little else.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Literal

import numpy as np

from formcheck.core.model import (
    Array,
    CameraView,
    LandmarkRecording,
    Message,
    Quality,
    Settings,
    Side,
    ViewHint,
    ViewName,
)
from formcheck.signals.geometry import wrap_degrees
from formcheck.signals.jitter import measure_jitter
from formcheck.signals.skeleton import BODY, INDEX, get_index

YAW_MARGIN_DEG = 8.0
"""95 % of the yaws estimated on rendered clips of four exercises lay this near the truth."""
YAW_TURNED_DEG = 5.0
"""The world points of a lifter facing the camera are turned by this much to their right (rendered tuning sets)."""
YAW_SHORTENED_DEG = 4.0
"""The world points' depth is short: a camera at the side is placed this much towards the front (the same sets)."""
FACING_WITHIN_DEG = 25.0
"""Up to this far from straight in front (or behind, or at the side) a view still counts as that view."""
VIEW_YAW_DEG: Mapping[ViewName, float] = {"front": 0.0, "left": 90.0, "back": 180.0, "right": -90.0}
"""Where the camera of a named view stands around the lifter."""
HALF_ANGLE_YAW_DEG = 45.0
"""Where it stands at a half angle whose yaw is not known."""

FOCAL_PER_LONG_SIDE = 0.95
"""Focal length of a phone's main camera over the long side of its picture (as the body fit's prior)."""
TILTED_DOWN = 0.07
"""Tangent of a camera's usual tilt: at chest height and 3 to 4 m away it looks down by some 4°, to have the feet in."""
HANGING_PERCENTILE = 95.0
"""A hand hangs at this percentile of its height in the picture, from above."""

MIN_SUBJECT_SHARE = 0.18
MIN_TRACKED_SHARE = 0.8
MIN_FRAME_RATE = 20.0

Plane = Literal["frontal", "sagittal", "oblique"]


def estimate_yaw(recording: LandmarkRecording) -> float | None:
    """Camera's angle around the lifter in degrees (-180..180, positive to their left); None with no one in the clip."""
    lines = []
    for part in ("shoulder", "hip"):
        line = recording.world[:, get_index(part, "left")] - recording.world[:, get_index(part, "right")]
        lines.append(line / np.linalg.norm(line, axis=1, keepdims=True))
    across = np.nanmedian(np.concatenate(lines), axis=0) if np.isfinite(lines[0]).any() else np.full(3, np.nan)
    if not np.isfinite(across).all():
        return None
    return float(np.degrees(np.arctan2(-across[2], across[0])))


def compute_yaw_curve(recording: LandmarkRecording, t: Array, view: CameraView) -> Array:
    """(m,) how far the lifter's shoulders are turned from the clip's usual yaw at times t, -180..180 degrees."""
    line = recording.world[:, get_index("shoulder", "left")] - recording.world[:, get_index("shoulder", "right")]
    seen = np.isfinite(line[:, 0])
    if view.yaw_deg is None or not seen.any():
        return np.full(len(t), np.nan)
    turned = np.degrees(np.arctan2(-line[seen, 2], line[seen, 0])) - view.yaw_deg
    return np.asarray(np.interp(t, recording.t[seen], wrap_degrees(turned)))


def estimate_camera_pitch(recording: LandmarkRecording, view: CameraView) -> float:
    """Tangent of the angle at which the camera looks down at the nearer hand where it hangs; 0 when it is not below.

    The camera's own tilt is not known; it is taken as usual (`TILTED_DOWN`).
    """
    nearer: Side = "right" if view.name == "right" else "left"
    below = recording.pixels[:, INDEX[f"{nearer}_wrist"], 1] - recording.clip.height / 2
    if not np.isfinite(below).any():
        return 0.0
    long_side = max(recording.clip.width, recording.clip.height)
    hanging = float(np.nanpercentile(below, HANGING_PERCENTILE))
    return round(max(0.0, hanging / (FOCAL_PER_LONG_SIDE * long_side) + TILTED_DOWN), 3)


def name_view(yaw_deg: float) -> ViewName:
    """The named view a yaw belongs to."""
    for name, centre in VIEW_YAW_DEG.items():
        if abs(wrap_degrees(yaw_deg - centre)) <= FACING_WITHIN_DEG:
            return name
    return "oblique"


def estimate_view(recording: LandmarkRecording, hint: ViewHint) -> CameraView:
    """The camera's view, estimated, or as the user says (``side`` is resolved to the nearer side)."""
    yaw = _straighten_yaw(estimate_yaw(recording))
    margin = None if yaw is None else YAW_MARGIN_DEG
    if hint == "auto":
        return CameraView("front" if yaw is None else name_view(yaw), yaw, margin, "estimated")
    name: ViewName = ("left" if yaw is None or yaw >= 0 else "right") if hint == "side" else hint
    return CameraView(name, yaw, margin, "given")


def _straighten_yaw(yaw: float | None) -> float | None:
    if yaw is None:
        return None
    turn = np.radians(yaw)
    return wrap_degrees(yaw + YAW_TURNED_DEG * float(np.cos(turn)) + YAW_SHORTENED_DEG * float(np.sin(turn)))


def get_yaw(view: CameraView) -> float:
    """The camera's yaw, degrees; where it is not known, that of the view by its name."""
    return view.yaw_deg if view.yaw_deg is not None else VIEW_YAW_DEG.get(view.name, HALF_ANGLE_YAW_DEG)


def get_plane(view: CameraView) -> Plane:
    """The plane of the lifter's body that the picture shows."""
    return get_plane_of_view(view.name)


def get_plane_of_view(name: ViewName) -> Plane:
    """The plane of the lifter's body that a named view shows."""
    if name in ("front", "back"):
        return "frontal"
    return "sagittal" if name in ("left", "right") else "oblique"


def is_from_behind(view: CameraView) -> bool:
    """The camera sees the lifter's back, straight or at an angle; a view's name counts before its yaw."""
    return view.name == "back" or (view.name == "oblique" and abs(view.yaw_deg or 0.0) > 90.0)


def compute_yaw_off_plane(view: CameraView) -> float:
    """How far the camera stands off the view's own direction, 0..45 degrees (0 when unknown)."""
    if view.yaw_deg is None:
        return 0.0
    if view.name in VIEW_YAW_DEG:
        return min(45.0, abs(wrap_degrees(view.yaw_deg - VIEW_YAW_DEG[view.name])))
    return min(abs(wrap_degrees(view.yaw_deg - centre)) for centre in VIEW_YAW_DEG.values())


def assess_quality(recording: LandmarkRecording, view: CameraView, settings: Settings) -> Quality:
    """Share tracked, landmarks out of frame or hidden, frame rate, subject size, and notes on what limits the clip."""
    tracked = np.isfinite(recording.pixels[:, INDEX["nose"], 0])
    share = float(tracked.mean()) if len(tracked) else 0.0
    pixels = recording.pixels[tracked]
    size = np.array([recording.clip.width, recording.clip.height])
    outside = ((pixels < 0) | (pixels >= size)).any(axis=2).mean(axis=0) if len(pixels) else np.zeros(len(INDEX))
    hidden = (recording.visibility[tracked] < settings.min_visibility).mean(axis=0) if len(pixels) else outside
    height = None
    if len(pixels):
        body = pixels[:, [INDEX[name] for name in BODY]]
        height = float(np.median(body.max(axis=1) - body.min(axis=1), axis=0).max())
    quality = Quality(
        tracked_share=share,
        frame_rate=recording.clip.frame_rate,
        subject_height_px=height,
        out_of_frame={name: float(outside[INDEX[name]]) for name in BODY if outside[INDEX[name]] > 0.02},
        low_visibility={name: float(hidden[INDEX[name]]) for name in BODY if hidden[INDEX[name]] > 0.2},
        landmark_jitter=measure_jitter(recording, settings),
    )
    return replace(quality, notes_coded=tuple(_make_notes(quality, recording, view)))


def _make_notes(quality: Quality, recording: LandmarkRecording, view: CameraView) -> list[Message]:
    if quality.tracked_share == 0:
        return []
    notes = []
    if quality.tracked_share < MIN_TRACKED_SHARE:
        notes.append(Message("rarely-found", {"percent": round(100 * quality.tracked_share)}))
    if quality.frame_rate < MIN_FRAME_RATE:
        notes.append(Message("low-frame-rate", {"rate": round(quality.frame_rate)}))
    if quality.subject_height_px is not None:
        long_side = max(recording.clip.width, recording.clip.height)
        if quality.subject_height_px < MIN_SUBJECT_SHARE * long_side:
            notes.append(Message("lifter-small"))
    cut = [name for name, value in quality.out_of_frame.items() if value > 0.1 and "ankle" not in name]
    if cut:
        notes.append(Message("cut-off", {"points": tuple(cut)}))
    if view.origin == "given" and view.yaw_deg is not None and view.name != "oblique":
        off = abs(wrap_degrees(view.yaw_deg - VIEW_YAW_DEG[view.name]))
        if off > 45:
            notes.append(Message("other-direction", {"view": view.name, "degrees": round(off)}))
    return notes


def get_facing_sign(view: CameraView) -> float:
    """+1 when the lifter faces the image's right, -1 when they face its left (views from the side)."""
    if view.name in ("left", "right"):
        return -1.0 if view.name == "left" else 1.0
    return -1.0 if get_yaw(view) >= 0 else 1.0
