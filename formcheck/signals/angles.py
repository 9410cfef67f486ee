"""Landmarks → named curves, in the plane the picture shows or from the body fitted in space.

Each curve is read from the image, not from the model's world points, whose depth is not good enough for
angles. Where `formcheck/signals/sources.toml` says so, the body fitted to the whole set takes its place or its half.
What a view cannot show is left out here when it makes no sense at all, and refused by the exercise's list of views
where it depends on the movement.
"""

import warnings
from dataclasses import replace

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, LandmarkRecording, Settings, Side, SignalKey, Signals
from formcheck.core.vocabulary import SIGNALS
from formcheck.signals import arm_line, half_angle, limbs
from formcheck.signals.body_fit.curves import NEEDS, Fitted, fit_curves
from formcheck.signals.camera import get_facing_sign, get_plane, is_from_behind
from formcheck.signals.correction import correct_curves
from formcheck.signals.filtering import low_pass, make_uniform_grid, resample
from formcheck.signals.geometry import (
    compute_angle_between,
    compute_angle_from_down,
    compute_angle_from_height,
    compute_lean,
)
from formcheck.signals.lengths import (
    compute_full_length,
    compute_full_trunk_length,
    find_middle,
    measure_width,
    select_both_sides,
)
from formcheck.signals.skeleton import INDEX, get_index
from formcheck.signals.sources import ONLY_WITH_BODY, list_fitted

MAX_RATE_HZ = 120.0

UPRIGHT_BELOW_DEG = 30.0
"""From straight in front or behind a trunk leaning less than this is hardly seen shortened: its lean is not told."""


def compute_signals(
    recording: LandmarkRecording, view: CameraView, settings: Settings, *, masked: bool = True
) -> Signals:
    """All curves this view can show, (m,) each on a uniform grid, low-passed without lag.

    With ``masked``, landmarks the model calls hidden (visibility below ``settings.min_visibility``) count as
    missing; without it they are taken as the model guesses them (good enough to count reps by, not to measure).
    Landmarks are resampled and filtered as positions, then turned into angles. NaN in long gaps. With ``masked`` and
    ``settings.fit_body`` some curves come from the fitted body, with their standard deviations; where no body can be
    fitted these are left out, and `Signals.body_missing` says so. Last, the angles are corrected from landmark to joint
    (`formcheck.signals.correction`).
    """
    if len(recording.t) < 2:
        return Signals(np.array(recording.t), {})
    rate = min(MAX_RATE_HZ, recording.clip.frame_rate)
    grid = make_uniform_grid(recording.t, rate=rate)
    pixels = np.array(recording.pixels)
    if masked:
        pixels[recording.visibility < settings.min_visibility] = np.nan
    pixels = resample(recording.t, pixels, grid, max_gap_s=settings.max_gap_s)
    pixels = low_pass(pixels, rate, settings.cutoff_hz)
    signals = Signals(grid, _compute_curves(pixels, view))
    if masked and settings.fit_body and list_fitted(view) and np.isfinite(pixels[:, INDEX["nose"]]).any():
        fitted = fit_curves(recording, grid, rate, settings)
        signals = _use_fit(signals, pixels, fitted, view)
    return replace(signals, series=correct_curves(signals.series, view)) if settings.correct_landmarks else signals


def _use_fit(signals: Signals, pixels: Array, fitted: Fitted | None, view: CameraView) -> Signals:
    """The curves with those of the fitted body in place, where the table of sources says so; without one, left out."""
    chosen = list_fitted(view)
    if fitted is None:
        left_out = ONLY_WITH_BODY.union(chosen)
        remaining = {key: curve for key, curve in signals.series.items() if key[0] not in left_out}
        return replace(signals, series=remaining, body_missing=True)
    series, sd = dict(signals.series), {}
    for key, values in fitted.series.items():
        name, side = key
        if name not in chosen:
            continue
        sides = SIDES if side is None else (side,)
        unseen = np.isnan(pixels[:, [get_index(part, one) for part in NEEDS[name] for one in sides]]).any(axis=(1, 2))
        curve = np.where(unseen, np.nan, values)
        if name == "torso_inclination":
            curve = np.where(np.abs(curve) < UPRIGHT_BELOW_DEG, np.nan, curve)
        if chosen[name] == "both":
            curve = (curve + signals.get(name, side)) / 2
        series[key], sd[key] = curve, fitted.sd[key]
    return replace(signals, series=series, sd=sd)


def _compute_curves(pixels: Array, view: CameraView) -> dict[SignalKey, Array]:
    plane = get_plane(view)
    trunk_down = find_middle(pixels, "hip") - find_middle(pixels, "shoulder")
    series: dict[SignalKey, Array] = {}
    look_up = 0.0 if plane == "sagittal" else arm_line.estimate_look_up(pixels, view)
    for side in SIDES:
        shoulder, elbow, wrist, hip, knee, ankle = (
            pixels[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
        )
        series["arm_elevation", side] = compute_angle_between(elbow - shoulder, trunk_down)
        series["arm_raise", side] = _compute_arm_raise(elbow - shoulder, side, view)
        series["arm_raise_by_height", side] = _compute_arm_raise_by_height(shoulder, wrist)
        series["elbow_flexion", side] = compute_angle_between(wrist - elbow, elbow - shoulder)
        series["hand_height", side] = _compute_hand_height(shoulder, elbow, wrist)
        series["knee_flexion", side] = compute_angle_between(ankle - knee, knee - hip)
        series["knee_flexion_by_height", side] = limbs.compute_knee_flexion_by_height(pixels, side)
        if plane != "sagittal":
            series["thigh_inclination", side] = limbs.compute_thigh_inclination_by_height(pixels, side, view)
        series["arm_opening", side] = limbs.compute_arm_opening(pixels, side, view)
        if plane != "sagittal":
            series["arm_line_raise", side] = arm_line.compute_arm_line(pixels, side, view, look_up)
            series["ear_above_shoulder", side] = arm_line.compute_ear_gap(pixels, side)
        if plane == "frontal":
            series["forearm_sideways", side] = arm_line.compute_forearm_sideways(pixels, side, view)
        if plane == "sagittal":
            series["arm_flexion", side] = limbs.compute_arm_flexion(pixels, side, view)
            series["arm_extension", side] = -series["arm_flexion", side]
            series["elbow_ahead", side] = limbs.compute_elbow_ahead(pixels, side, view)
            series["knee_flexion", side] = limbs.compute_knee_flexion(pixels, side)
            if side == view.name:  # the farther leg is half hidden by the nearer one, and its knee goes astray
                series["thigh_inclination", side] = limbs.compute_thigh_inclination(pixels, side)
            series["shin_inclination", side] = limbs.compute_shin_inclination(pixels, side, view)
            series["hip_flexion", side] = limbs.compute_hip_flexion(pixels, side)
            series["shoulder_flexion", side] = limbs.compute_shoulder_flexion(pixels, side, view)
            series["hand_from_leg", side] = limbs.compute_hand_from_leg(pixels, side, view)
            series["hand_along_trunk", side] = limbs.compute_hand_along_trunk(pixels, side)
            series["hand_ahead", side], series["hand_up", side] = limbs.locate(wrist, trunk_down, view)
    series["torso_inclination_by_height", None] = limbs.compute_torso_inclination_by_height(trunk_down)
    if plane == "sagittal":
        # The sign keeps a swing through the vertical whole: forward lean positive, backward negative.
        series["torso_inclination", None] = get_facing_sign(view) * compute_lean(-trunk_down)
        series["bar_distance", None] = _compute_bar_distance(pixels, get_facing_sign(view))
        nearer: Side = "right" if view.name == "right" else "left"
        series["head_pitch", None] = limbs.compute_head_pitch(pixels, nearer, view)
        series["neck_extension", None] = series["torso_inclination", None] - series["head_pitch", None]
        shoulders = find_middle(pixels, "shoulder")
        series["shoulders_ahead", None], series["shoulders_up", None] = limbs.locate(shoulders, trunk_down, view)
    if plane != "sagittal":
        series["hand_height_difference", None] = arm_line.compute_hand_difference(pixels, view, look_up)
        # Lines across the body that are level are shortened alike, wherever the camera stands.
        series["grip_width", None] = _compute_width(pixels, "wrist") / _compute_width(pixels, "shoulder")
        series["stance_width", None] = _compute_width(pixels, "ankle") / _compute_width(pixels, "shoulder")
    if plane == "oblique":
        series = {key: curve for key, curve in series.items() if key[0] != "knee_flexion"}
        series |= half_angle.compute_curves(pixels, trunk_down, view)
    if plane == "frontal":
        series["torso_side_lean", None] = limbs.compute_torso_side_lean(trunk_down, view)
        series["shoulder_width", None] = limbs.compute_share_of_full(_compute_width(pixels, "shoulder"))
        series["knee_spread", None] = _compute_width(pixels, "knee") / _compute_width(pixels, "ankle")
    return series


def compute_driver(signals: Signals, name: str, view: CameraView, side: Side | None = None) -> Array:
    """The signal that makes the reps, (m,): from the side the nearer arm's, else the mean of the arms that are seen.

    ``side`` : the arm that alone makes them.
    """
    if not SIGNALS[name].sided:
        return signals.get(name)
    if view.name in SIDES:
        side = side or view.name
    if side is not None:
        return signals.get(name, side)
    sides = np.stack([signals.get(name, each) for each in SIDES])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # an all-NaN column is meant to stay NaN
        return np.asarray(np.nanmean(sides, axis=0))


def compute_body_height(recording: LandmarkRecording, t: Array) -> Array:
    """Height of the shoulders' middle in the picture, in torso lengths above any fixed line, at times t (m,)."""
    shoulders = find_middle(recording.pixels, "shoulder")
    seen = np.isfinite(shoulders[:, 0])
    if not seen.any():
        return np.full(len(t), np.nan)
    length = compute_full_trunk_length(recording.pixels)
    return np.asarray(np.interp(t, recording.t[seen], -shoulders[seen, 1] / length))


def _compute_arm_raise(upper_arm: Array, side: Side, view: CameraView) -> Array:
    """Upper arm from straight down, degrees; seen from the front or behind, an arm across the body is negative."""
    if get_plane(view) == "sagittal":
        return compute_angle_from_down(upper_arm)
    away = (1.0 if side == "left" else -1.0) * (-1.0 if is_from_behind(view) else 1.0)
    outward = np.degrees(np.arctan2(away * upper_arm[:, 0], upper_arm[:, 1]))
    return np.where(outward < -90.0, outward + 360.0, outward)


def _compute_arm_raise_by_height(shoulder: Array, wrist: Array) -> Array:
    length = compute_full_length(np.linalg.norm(wrist - shoulder, axis=1))
    return compute_angle_from_height(wrist[:, 1] - shoulder[:, 1], length)


def _compute_hand_height(shoulder: Array, elbow: Array, wrist: Array) -> Array:
    length = compute_full_length(np.linalg.norm(elbow - shoulder, axis=1))
    return np.asarray((shoulder[:, 1] - wrist[:, 1]) / length)


def _compute_bar_distance(pixels: Array, facing: float) -> Array:
    """Forward distance of the wrists from the nose in upper-arm lengths; NaN unless hand and head are level."""
    nose = pixels[:, INDEX["nose"]]
    out: list[Array] = []
    for side in SIDES:
        shoulder, elbow, wrist = (pixels[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist"))
        length = compute_full_length(np.linalg.norm(elbow - shoulder, axis=1))
        level = np.abs(wrist[:, 1] - nose[:, 1]) < length / 2
        out.append(np.where(level, facing * (wrist[:, 0] - nose[:, 0]) / length, np.nan))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # hands away from the head: stays NaN
        return np.asarray(np.nanmean(np.stack(out), axis=0))


def _compute_width(pixels: Array, part: str) -> Array:
    return measure_width(select_both_sides(pixels, part))
