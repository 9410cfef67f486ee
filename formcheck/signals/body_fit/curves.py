"""From a fitted body to angle curves and their standard deviations."""

from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from threadpoolctl import threadpool_limits

from formcheck.core.model import SIDES, Array, LandmarkRecording, SignalKey
from formcheck.core.settings import Settings
from formcheck.signals.body_fit.body import (
    JOINTS,
    SEGMENTS,
    STATE,
    TURN,
    Pose,
    compute_axis_derivative,
    compute_tangents,
    get_direction_slice,
)
from formcheck.signals.body_fit.fit import BodyFit, Seen, fit_body
from formcheck.signals.body_fit.seen import choose_step, prepare_observations
from formcheck.signals.filtering import low_pass, resample
from formcheck.signals.geometry import compute_angle_between

WORLD_CUTOFF_HZ = 3.0
"""World points shake more than landmarks, and are only a hint."""
LEVEL_SD_DEG = 5.0
"""The camera's line to the hips is level, give or take this: phones stand at about the height of the hips."""
WORST_MISFIT = 0.03
"""Landmarks this far off the fitted body, root mean square in trunk lengths, are lost: usual is 0.01 to 0.02."""
SHORTEST_S = 3.0
"""The trunk is seen for so long at least: what is shorter holds too few poses to tell how the body stands in space. Of
a real clip of 1.7 s the trunk came out 83 degrees off, its landmarks lying as near to the fit as usual."""
NEEDS: Mapping[str, tuple[str, ...]] = {
    "arm_elevation": ("shoulder", "elbow", "hip"),
    "arm_raise": ("shoulder", "elbow"),
    "elbow_flexion": ("shoulder", "elbow", "wrist"),
    "knee_flexion": ("hip", "knee", "ankle"),
    "thigh_inclination": ("hip", "knee"),
    "hip_flexion": ("shoulder", "hip", "knee"),
    "torso_inclination": ("shoulder", "hip"),
}
"""Landmarks a curve rests on: where one is not seen, the curve has a gap."""


@dataclass(frozen=True, eq=False)
class Fitted:
    """Curves of a fitted body on the grid they were asked for.

    Parameters
    ----------
    series, sd : (signal name, side or None) → (m,) degrees, and their standard deviations.
    body : the fit itself, for whoever wants its lengths and camera.
    """

    series: Mapping[SignalKey, Array]
    sd: Mapping[SignalKey, Array]
    body: BodyFit


_fits: WeakKeyDictionary[LandmarkRecording, dict[tuple[object, ...], Fitted | None]] = WeakKeyDictionary()


def fit_curves(recording: LandmarkRecording, grid: Array, rate: float, settings: Settings) -> Fitted | None:
    """Angles of the body fitted to a whole recording, on a uniform grid (m,); None where no body could be fitted.

    The same recording and settings give the same curves; they are kept as long as the recording is.
    """
    fits = _fits.setdefault(recording, {})
    key = (len(grid), rate, settings.cutoff_hz, settings.max_gap_s, settings.min_visibility, settings.correct_landmarks)
    if key not in fits:
        fits[key] = _fit_curves(recording, grid, rate, settings)
    return fits[key]


def _fit_curves(recording: LandmarkRecording, grid: Array, rate: float, settings: Settings) -> Fitted | None:
    from scipy.interpolate import CubicSpline

    def smooth(values: Array, cutoff_hz: float) -> Array:
        return low_pass(resample(recording.t, np.array(values), grid, max_gap_s=settings.max_gap_s), rate, cutoff_hz)

    step = choose_step(rate)
    size = (recording.clip.width, recording.clip.height)
    visibility = resample(recording.t, np.array(recording.visibility), grid, max_gap_s=settings.max_gap_s)
    found = prepare_observations(
        smooth(recording.pixels, settings.cutoff_hz)[::step],
        smooth(recording.world, min(WORLD_CUTOFF_HZ, settings.cutoff_hz))[::step],
        visibility[::step],
        rate / step,
        size,
        settings.min_visibility,
        corrected=settings.correct_landmarks,
    )
    if found is None or _count_trunk_seen_s(found[0]) < SHORTEST_S:
        return None
    try:
        # One thread: quicker for systems of this size, and the same bits on every number of cores.
        with threadpool_limits(limits=1, user_api="blas"):
            body = fit_body(*found)
    except (np.linalg.LinAlgError, ValueError, FloatingPointError):
        return None
    if not (body.settled and body.misfit < WORST_MISFIT):
        return None
    t = grid[::step]
    series: dict[SignalKey, Array] = {}
    sd: dict[SignalKey, Array] = {}
    for name, (values, spread) in compute_angles(body, estimate_down(body, found[0])).items():
        series[name] = CubicSpline(t, values)(np.minimum(grid, t[-1]))
        sd[name] = np.interp(grid, t, spread)
    return Fitted(series, sd, body)


def _count_trunk_seen_s(seen: Seen) -> float:
    """For how long all four joints of the trunk are seen, seconds in all."""
    trunk = [index for index, name in enumerate(JOINTS) if name.endswith(("shoulder", "hip"))]
    return float((seen.weight[:, trunk] > 0).all(axis=1).sum() / seen.rate)


def estimate_down(body: BodyFit, seen: Seen) -> Array:
    """(3,) straight down in the camera's axes, the line from the camera to the hips being level and its roll zero."""
    hips = seen.weight[:, [6, 9]].min(axis=1) > 0
    height = float(np.median(seen.points[hips][:, [6, 9], 1])) if hips.any() else 0.0
    pitch = np.arctan2(height, body.focal)
    return np.array([0.0, np.cos(pitch), -np.sin(pitch)])


def compute_angles(body: BodyFit, down: Array) -> dict[SignalKey, tuple[Array, Array]]:
    """Angle curves (n,) of a fitted body and their standard deviations, degrees."""
    pose, covariance = body.pose, body.covariance
    bases = compute_tangents(pose.directions)

    def along(segment: str) -> tuple[Array, Array]:
        number = SEGMENTS.index(segment)
        change = np.zeros((len(pose.root), 3, STATE))
        change[:, :, get_direction_slice(number)] = bases[:, number]
        return pose.directions[:, number], change

    trunk_change = np.zeros((len(pose.root), 3, STATE))
    trunk_change[:, :, TURN] = -compute_axis_derivative(pose, 1)
    trunk = (-pose.trunk[:, :, 1], trunk_change)
    plumb = (np.broadcast_to(down, (len(pose.root), 3)), np.zeros((len(pose.root), 3, STATE)))
    out: dict[SignalKey, tuple[Array, Array]] = {}
    for side in SIDES:
        arm, forearm = along(f"{side}_upper_arm"), along(f"{side}_forearm")
        thigh, shank = along(f"{side}_thigh"), along(f"{side}_shank")
        out["arm_elevation", side] = _compute_angle_between(arm, trunk, covariance)
        out["arm_raise", side] = _compute_angle_between(arm, plumb, covariance, LEVEL_SD_DEG / 2)
        out["elbow_flexion", side] = _compute_angle_between(arm, forearm, covariance)
        out["knee_flexion", side] = _compute_angle_between(thigh, shank, covariance)
        out["thigh_inclination", side] = _compute_angle_between(thigh, plumb, covariance, LEVEL_SD_DEG / 2)
        out["hip_flexion", side] = _compute_angle_between(thigh, trunk, covariance)
    _, spread = _compute_angle_between(trunk, plumb, covariance, LEVEL_SD_DEG)
    out["torso_inclination", None] = compute_lean(pose, down), spread
    return out


def compute_lean(pose: Pose, down: Array) -> Array:
    """Trunk's lean from upright (n,), degrees; forwards positive, so that a swing through the vertical stays whole."""
    up = pose.trunk[:, :, 1]
    ahead = np.cross(pose.trunk[:, :, 0], -down)
    ahead = ahead / np.maximum(np.linalg.norm(ahead, axis=1, keepdims=True), 1e-9)
    size = compute_angle_between(-up, np.broadcast_to(down, up.shape))
    return np.asarray(np.where((up * ahead).sum(axis=1) < 0, -size, size))


def _compute_angle_between(
    first: tuple[Array, Array], second: tuple[Array, Array], covariance: Array, more_deg: float = 0.0
) -> tuple[Array, Array]:
    """Angle between two directions and its standard deviation to first order, degrees; held off 0 and 180."""
    (a, change_a), (b, change_b) = first, second
    angle = compute_angle_between(a, b)
    cosine_change = (a[:, None] @ change_b + b[:, None] @ change_a)[:, 0]
    sine = np.maximum(np.linalg.norm(np.cross(a, b), axis=1), 0.1)
    slope = cosine_change / sine[:, None]
    variance = np.einsum("ni,nij,nj->n", slope, covariance, slope)
    return angle, np.hypot(np.degrees(np.sqrt(np.maximum(variance, 0.0))), more_deg)
