"""An invented stick figure with exactly known joint angles, projected into a picture.

World axes as the pose model's: x to the image's right, y down, z away from the camera; the lifter faces the
camera (towards -z), so their left is +x.
"""

from dataclasses import dataclass

import numpy as np

from formcheck.core.model import Array, ClipInfo, LandmarkRecording, PoseModelInfo
from formcheck.signals.skeleton import INDEX, NAMES

TRUNK, SHOULDER_HALF, HIP_HALF, UPPER_ARM, FOREARM, THIGH, SHANK, NECK = 0.52, 0.18, 0.11, 0.30, 0.26, 0.42, 0.42, 0.22
KNUCKLE_HALF = 0.04
EAR_HALF, FACE = 0.075, 0.10
WIDTH, HEIGHT = 720, 1280


def minimum_jerk(share: Array) -> Array:
    """Position 0..1 of a minimum-jerk movement at shares 0..1 of its time (Flash & Hogan 1985; from memory)."""
    s = np.clip(share, 0.0, 1.0)
    return 10 * s**3 - 15 * s**4 + 6 * s**5


@dataclass(frozen=True)
class Set:
    """A set's plan: where each rep goes and how long its phases last, seconds."""

    peaks: tuple[float, ...]
    low: float = 10.0
    concentric_s: float = 1.2
    top_s: float = 0.4
    eccentric_s: float = 1.8
    bottom_s: float = 0.5
    before_s: float = 1.0
    after_s: float = 1.0

    @property
    def starts(self) -> list[float]:
        """Planned start of each rep."""
        cycle = self.concentric_s + self.top_s + self.eccentric_s + self.bottom_s
        return [self.before_s + index * cycle for index in range(len(self.peaks))]

    @property
    def length_s(self) -> float:
        """Length of the clip."""
        return self.starts[-1] + self.concentric_s + self.top_s + self.eccentric_s + self.after_s

    def course(self, t: Array) -> Array:
        """The driver, degrees, at times t."""
        out = np.full(t.shape, self.low)
        for start, peak in zip(self.starts, self.peaks, strict=True):
            up = minimum_jerk((t - start) / self.concentric_s)
            down = minimum_jerk((t - start - self.concentric_s - self.top_s) / self.eccentric_s)
            out += (peak - self.low) * (up - down)
        return out


def times(length_s: float, rate: float = 30.0) -> Array:
    """Evenly spaced frame times."""
    return np.arange(round(length_s * rate) + 1) / rate


def film(
    t: Array,
    *,
    left: Array | float = 10.0,
    right: Array | float = 10.0,
    elbow: Array | float = 0.0,
    torso: Array | float = 0.0,
    knee: Array | float = 10.0,
    shin: Array | float | None = None,
    plane: Array | float = 0.0,
    palm: Array | float = 180.0,
    ankles: float = HIP_HALF,
    knees: Array | float = HIP_HALF,
    tilt: Array | float = 0.0,
    head: Array | float = 0.0,
    blades: Array | float = 0.0,
    yaw: float = 0.0,
    noise_px: float = 0.0,
    seed: int = 0,
    scale: float = 500.0,
) -> LandmarkRecording:
    """The figure seen by a distant camera.

    left, right : upper arm from straight down towards the side, degrees, (n,) or constant. The elbow bends in
    the same plane, upwards. plane : of the arm's elevation, 0 to the side, 90 ahead, -90 behind. palm : of a raised
    hand, 0 to the face, 90 to the other hand, 180 forward. torso : forward inclination; tilt : lean of the upper
    body to the lifter's left; head : the face looking down; blades : share by which the shoulders are drawn
    together; knee : knee flexion; shin : its forward lean (half the knee's flexion if None).
    ankles, knees : half their spread, metres. yaw : the camera's angle around the lifter, degrees, positive to
    their left. noise_px : standard deviation of each coordinate.
    """
    n = len(t)
    points = np.zeros((n, len(NAMES), 3))
    lean, bend, turn = (np.radians(_wide(value, n)) for value in (torso, knee, plane))
    shin_lean = bend / 2 if shin is None else np.radians(_wide(shin, n))
    up = np.stack([np.zeros(n), -np.cos(lean), -np.sin(lean)], axis=1)
    points[:, INDEX["nose"]] = (TRUNK + NECK) * up
    across = np.array([1.0, 0.0, 0.0])
    pitch = np.radians(_wide(head, n))
    face = FACE * np.stack([np.zeros(n), np.sin(pitch), -np.cos(pitch)], axis=1)
    half = np.outer(SHOULDER_HALF * (1 - _wide(blades, n)), across)
    for side, sign, arm in (("left", 1.0, left), ("right", -1.0, right)):
        raised = np.radians(_wide(arm, n))
        folded = raised + np.radians(_wide(elbow, n))
        points[:, INDEX[f"{side}_eye"]] = points[:, INDEX["nose"]]
        points[:, INDEX[f"{side}_ear"]] = points[:, INDEX["nose"]] - face + sign * EAR_HALF * across
        shoulder = TRUNK * up + sign * half
        elbow_at = shoulder + UPPER_ARM * _out(sign, raised, turn)
        wrist = elbow_at + FOREARM * _out(sign, folded, turn)
        hip = np.broadcast_to(sign * HIP_HALF * across, (n, 3))
        thigh = np.stack([np.zeros(n), np.cos(bend - shin_lean), -np.sin(bend - shin_lean)], axis=1)
        shank = np.stack([np.zeros(n), np.cos(shin_lean), np.sin(shin_lean)], axis=1)
        joints = {"shoulder": shoulder, "elbow": elbow_at, "wrist": wrist, "hip": hip}
        joints["knee"] = hip + THIGH * thigh
        joints["ankle"] = joints["knee"] + SHANK * shank
        joints["knee"] = joints["knee"] + np.outer(sign * (_wide(knees, n) - HIP_HALF), across)
        joints["ankle"] = joints["ankle"] + sign * (ankles - HIP_HALF) * across
        facing = np.radians(_wide(palm, n))
        knuckle = KNUCKLE_HALF * np.stack([sign * np.cos(facing), np.zeros(n), np.sin(facing)], axis=1)
        joints["index"], joints["pinky"] = wrist + knuckle, wrist - knuckle
        for name, place in joints.items():
            points[:, INDEX[f"{side}_{name}"]] = place
    roll = np.radians(_wide(tilt, n))[:, None]
    above = [index for index, name in enumerate(NAMES) if not name.endswith(("hip", "knee", "ankle"))]
    x, y = points[:, above, 0].copy(), points[:, above, 1].copy()
    points[:, above, 0], points[:, above, 1] = x * np.cos(roll) - y * np.sin(roll), x * np.sin(roll) + y * np.cos(roll)
    # The feet stay where they are: bending the knees lowers the rest.
    points[..., 1:] -= points[:, [INDEX["left_ankle"]], 1:] - np.array([THIGH + SHANK, 0.0])
    psi = np.radians(yaw)
    seen = points.copy()
    seen[..., 0] = points[..., 0] * np.cos(psi) + points[..., 2] * np.sin(psi)
    seen[..., 2] = -points[..., 0] * np.sin(psi) + points[..., 2] * np.cos(psi)
    pixels = np.array([WIDTH / 2, HEIGHT / 2]) + scale * seen[..., :2]
    pixels += np.random.default_rng(seed).normal(0.0, noise_px, pixels.shape) if noise_px else 0.0
    return recording(t, pixels, seen)


def recording(t: Array, pixels: Array, world: Array, visibility: Array | None = None) -> LandmarkRecording:
    """Arrays → a landmark recording of an invented clip."""
    rate = (len(t) - 1) / (t[-1] - t[0])
    clip = ClipInfo("invented.mp4", "0" * 64, WIDTH, HEIGHT, float(t[-1]), len(t), float(rate), False, "h264")
    seen = np.ones(pixels.shape[:2]) if visibility is None else visibility
    return LandmarkRecording(clip, PoseModelInfo("stick figure", "0" * 64), t, pixels, world, seen)


def _wide(value: Array | float, n: int) -> Array:
    return np.broadcast_to(np.asarray(value, dtype=float), (n,))


def _out(sign: float, raised: Array, turn: Array) -> Array:
    sideways, ahead = np.cos(turn), np.sin(turn)
    return np.stack([sign * np.sin(raised) * sideways, np.cos(raised), -np.sin(raised) * ahead], axis=1)
