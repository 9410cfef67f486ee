"""One rep's window of the curves → its numbers."""

from collections.abc import Callable, Mapping

import numpy as np

from formcheck.core.model import SIDES, Array, Message, Rep, Side
from formcheck.measures.steadiness import STEADINESS
from formcheck.measures.window import (
    NO_NEXT_REP,
    Reader,
    Value,
    Window,
    bottom_moment,
    concentric_span,
    turns_at_bottom,
)


def _peak(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(curve[1].max()), float(curve[0][curve[1].argmax()]))

    return read


def _low(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(curve[1].min()), float(curve[0][curve[1].argmin()]))

    return read


def _mean_size(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(np.abs(curve[1]).mean()), window.rep.top_s)

    return read


def _median(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(np.median(curve[1])), window.rep.top_s)

    return read


def _span(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        if curve is None:
            return None
        t, values = curve
        farthest = int(np.argmax(np.abs(values - values[0])))
        return Value(float(values.max() - values.min()), float(t[farthest]))

    return read


def _at(signal: str, moment: Callable[[Rep], float]) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        if curve is None:
            return None
        return Value(float(np.interp(moment(window.rep), *curve)), moment(window.rep))

    return read


def _knee_spread_min(window: Window, side: Side | None) -> Value | None:
    """Straight legs stand on lines from hip to ankle, so only well-bent knees can be told to fall inwards."""
    curve = window.curve("knee_spread", None)
    driver = window.driver[window.inside]
    if curve is None or not np.isfinite(driver).any():
        return None
    t, values = curve
    bent = np.interp(t, window.signals.t[window.inside], driver) > (np.nanmin(driver) + np.nanmax(driver)) / 2
    if not bent.any():
        return None
    lowest = int(np.argmin(values[bent]))
    return Value(float(values[bent][lowest]), float(t[bent][lowest]))


def _shoulder_narrowing(window: Window, side: Side | None) -> Value | None:
    curve = window.curve("shoulder_width", None)
    if curve is None:
        return None
    start, top = (float(np.interp(at_s, *curve)) for at_s in (bottom_moment(window.rep), window.rep.top_s))
    return Value(1.0 - top / start, window.rep.top_s)


def _range_of_motion(window: Window, side: Side | None) -> Value | Message | None:
    return _span("arm_raise")(window, side)


def _peak_difference(window: Window, side: Side | None) -> Value | None:
    left, right = (window.curve("arm_raise", which) for which in SIDES)
    return None if left is None or right is None else Value(float(left[1].max() - right[1].max()), window.rep.top_s)


def _concentric(window: Window) -> tuple[Array, Array]:
    """Times and driver values of the concentric phase."""
    chosen = window.between(*concentric_span(window.rep)) & np.isfinite(window.driver)
    return window.signals.t[chosen], window.driver[chosen]


def _peak_speed(window: Window, side: Side | None) -> Value | None:
    t, values = _concentric(window)
    if len(t) < 3:
        return None
    speed = np.abs(np.gradient(values, t))
    return Value(float(speed.max()), float(t[speed.argmax()]))


def _mean_concentric_speed(window: Window, side: Side | None) -> Value | None:
    t, values = _concentric(window)
    if len(t) < 3:
        return None
    return Value(float(abs(values[-1] - values[0]) / (t[-1] - t[0])), float(t[0]))


def _tempo(part: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | Message | None:
        rest = "top_pause_s" if turns_at_bottom(window.rep) else "bottom_pause_s"
        if part == rest and window.last:
            return NO_NEXT_REP
        return Value(float(getattr(window.rep.tempo, part)), window.rep.top_s)

    return read


READERS: Mapping[str, Reader] = {
    "arm_elevation_peak": _peak("arm_elevation"),
    "arm_elevation_low": _low("arm_elevation"),
    "arm_raise_peak": _peak("arm_raise"),
    "arm_raise_low": _low("arm_raise"),
    "range_of_motion": _range_of_motion,
    "arm_peak_difference": _peak_difference,
    "elbow_flexion_min": _low("elbow_flexion"),
    "elbow_flexion_max": _peak("elbow_flexion"),
    "elbow_flexion_top": _at("elbow_flexion", lambda rep: rep.top_s),
    "elbow_flexion_bottom": _at("elbow_flexion", bottom_moment),
    "hand_height_low": _low("hand_height"),
    "torso_inclination_mean": _mean_size("torso_inclination"),
    "torso_inclination_range": _span("torso_inclination"),
    "torso_side_lean_range": _span("torso_side_lean"),
    "knee_flexion_mean": _mean_size("knee_flexion"),
    "arm_flexion_peak": _peak("arm_flexion"),
    "arm_flexion_low": _low("arm_flexion"),
    "arm_flexion_range": _span("arm_flexion"),
    "arm_extension_peak": _peak("arm_extension"),
    "arm_extension_range": _span("arm_extension"),
    "arm_opening_peak": _peak("arm_opening"),
    "arm_opening_low": _low("arm_opening"),
    "arm_raise_top": _at("arm_raise", lambda rep: rep.top_s),
    "elbow_ahead_bottom": _at("elbow_ahead", bottom_moment),
    "elbow_flexion_range": _span("elbow_flexion"),
    "knee_flexion_max": _peak("knee_flexion"),
    "knee_flexion_min": _low("knee_flexion"),
    "knee_flexion_range": _span("knee_flexion"),
    "thigh_inclination_peak": _peak("thigh_inclination"),
    "torso_inclination_max": _peak("torso_inclination"),
    "torso_inclination_min": _low("torso_inclination"),
    "stance_width": _median("stance_width"),
    "knee_spread_min": _knee_spread_min,
    "hip_flexion_max": _peak("hip_flexion"),
    "hip_flexion_min": _low("hip_flexion"),
    "shoulder_flexion_low": _low("shoulder_flexion"),
    "shoulder_flexion_range": _span("shoulder_flexion"),
    "neck_extension_max": _peak("neck_extension"),
    "head_movement": _span("head_pitch"),
    "hand_from_leg_max": _peak("hand_from_leg"),
    "shoulder_narrowing": _shoulder_narrowing,
    "grip_width": _median("grip_width"),
    "bar_distance_max": _peak("bar_distance"),
    "bar_distance_min": _low("bar_distance"),
    "peak_speed": _peak_speed,
    "mean_concentric_speed": _mean_concentric_speed,
    "eccentric_time": _tempo("eccentric_s"),
    "bottom_pause": _tempo("bottom_pause_s"),
    "concentric_time": _tempo("concentric_s"),
    "top_pause": _tempo("top_pause_s"),
    **STEADINESS,
}
"""How each measure of one rep is read; those that need the whole set live in `across_reps`."""


def driver_range(window: Window) -> float:
    """Range of the driver signal in the rep, in its unit; NaN when unseen."""
    values = window.driver[window.inside]
    return float(np.nanmax(values) - np.nanmin(values)) if np.isfinite(values).any() else float("nan")
