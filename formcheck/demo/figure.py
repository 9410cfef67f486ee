"""Landmark recordings of a drawn stick figure that raises its arms to the sides; nobody ever did these sets.

Deterministic: the same set gives the same landmarks. They take the place of what a pose model finds in a clip
and are analysed like it; only the pictures are missing.
"""

import hashlib
from dataclasses import dataclass

import numpy as np

from formcheck.core.model import LANDMARK_COUNT, Array, ClipInfo, LandmarkRecording, PoseModelInfo
from formcheck.signals.skeleton import INDEX

RATE = 24.0
WIDTH, HEIGHT, PIXELS_A_METRE = 720, 1280, 560.0
NOISE_PX = 1.2
"""Standard deviation of each coordinate, about what a pose model's landmarks jitter by."""
TRUNK, SHOULDER_HALF, HIP_HALF, UPPER_ARM, FOREARM, HAND, LEG, HEAD = 0.52, 0.18, 0.11, 0.30, 0.26, 0.09, 0.42, 0.2
REST_DEG = 9.0
BEFORE_S, AFTER_S = 1.2, 1.5


@dataclass(frozen=True, slots=True)
class DrawnRep:
    """One repetition of the figure: how high, degrees from hanging, and how long, seconds."""

    peak_deg: float
    up_s: float = 1.2
    top_s: float = 0.3
    down_s: float = 1.9
    rest_s: float = 0.5
    sway_deg: float = 0.0
    """The torso leans back by this much on the way up."""
    lower_right_deg: float = 0.0
    """The right arm stays this much lower."""


def record(name: str, reps: tuple[DrawnRep, ...], *, yaw_deg: float = 0.0) -> LandmarkRecording:
    """The figure doing a set, seen from the front by a distant camera.

    Parameters
    ----------
    name : of the invented clip; it also decides the noise.
    yaw_deg : angle of the camera around the figure.
    """
    digest = hashlib.sha256(f"formcheck demo: {name}".encode()).hexdigest()
    t, arms, drop, sway = _compute_angles(reps)
    world = _place_landmarks(arms, arms - drop, sway)
    psi = np.radians(yaw_deg)
    seen = world.copy()
    seen[..., 0] = world[..., 0] * np.cos(psi) + world[..., 2] * np.sin(psi)
    seen[..., 2] = -world[..., 0] * np.sin(psi) + world[..., 2] * np.cos(psi)
    noise = np.random.default_rng(int(digest[:12], 16)).normal(0.0, NOISE_PX, (*seen.shape[:2], 2))
    pixels = np.array([WIDTH / 2, HEIGHT / 2]) + PIXELS_A_METRE * seen[..., :2] + noise
    clip = ClipInfo(name, digest, WIDTH, HEIGHT, float(t[-1]), len(t), RATE, False, "drawn")
    model = PoseModelInfo("drawn stick figure", hashlib.sha256(b"formcheck drawn stick figure").hexdigest())
    return LandmarkRecording(clip, model, t, pixels, seen, np.ones(seen.shape[:2]))


def _compute_angles(reps: tuple[DrawnRep, ...]) -> tuple[Array, Array, Array, Array]:
    """Frame times; left arm, what the right arm is lower by, lean back: degrees."""
    length = BEFORE_S + AFTER_S + sum(rep.up_s + rep.top_s + rep.down_s + rep.rest_s for rep in reps)
    t = np.arange(round(length * RATE) + 1) / RATE
    arms, drop, sway = np.full(t.shape, REST_DEG), np.zeros(t.shape), np.zeros(t.shape)
    start = BEFORE_S
    for rep in reps:
        up = _compute_minimum_jerk((t - start) / rep.up_s)
        down = _compute_minimum_jerk((t - start - rep.up_s - rep.top_s) / rep.down_s)
        arms += (rep.peak_deg - REST_DEG) * (up - down)
        drop += rep.lower_right_deg * (up - down)
        sway += rep.sway_deg * 4 * up * (1 - up)
        start += rep.up_s + rep.top_s + rep.down_s + rep.rest_s
    return t, arms, drop, sway


def _compute_minimum_jerk(share: Array) -> Array:
    """A minimum-jerk curve from 0 to 1 (Flash & Hogan 1985, J Neurosci 5:1688; from memory)."""
    s = np.clip(share, 0.0, 1.0)
    return 10 * s**3 - 15 * s**4 + 6 * s**5


def _place_landmarks(left: Array, right: Array, sway: Array) -> Array:
    """(n, 33, 3) metres from the middle of the hips; the figure faces the camera, its left is at the right."""
    n = len(left)
    points = np.zeros((n, LANDMARK_COUNT, 3))
    lean = -np.radians(sway)
    up = np.stack([np.zeros(n), -np.cos(lean), -np.sin(lean)], axis=1)
    for name, index in INDEX.items():
        if not name.startswith(("left", "right", "mouth")) or name.endswith(("eye", "ear", "inner", "outer")):
            points[:, index] = (TRUNK + HEAD) * up
    for side, sign, arm in (("left", 1.0, left), ("right", -1.0, right)):
        raised = np.radians(arm)
        along = np.stack([sign * np.sin(raised), np.cos(raised), np.zeros(n)], axis=1)
        shoulder = TRUNK * up + np.array([sign * SHOULDER_HALF, 0.0, 0.0])
        joints = {"shoulder": shoulder, "elbow": shoulder + UPPER_ARM * along}
        joints["wrist"] = joints["elbow"] + FOREARM * along
        for finger in ("index", "pinky", "thumb"):
            joints[finger] = joints["wrist"] + HAND * along
        foot = {"hip": 0.0, "knee": LEG, "ankle": 2 * LEG, "heel": 2 * LEG + 0.04, "foot_index": 2 * LEG + 0.06}
        for joint, low in foot.items():
            joints[joint] = np.broadcast_to(np.array([sign * HIP_HALF, low, 0.0]), (n, 3))
        for joint, position in joints.items():
            points[:, INDEX[f"{side}_{joint}"]] = position
    return points
