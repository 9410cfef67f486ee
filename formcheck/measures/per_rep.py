"""One rep's window of the curves → its numbers."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from formcheck.core.model import SIDES, Array, Message, Rep, Side
from formcheck.measures.steadiness import STEADINESS
from formcheck.measures.window import (
    NO_NEXT_REP,
    NO_STROKE_BEFORE,
    ONE_ARM,
    Reader,
    Value,
    Window,
    get_bottom_moment,
    get_concentric_span,
    read_around,
    turns_at_bottom,
)

LEAST_LEAN_DEG = 15.0
"""A torso that leans less at the bottom has no lean to keep."""
NEAR_AN_END = 0.2
"""Share of a lift's range that counts as near one of its ends."""


def _make_peak_reader(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(curve[1].max()), float(curve[0][curve[1].argmax()]))

    return read


def _make_lowest_reader(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(curve[1].min()), float(curve[0][curve[1].argmin()]))

    return read


def _make_mean_size_reader(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(np.abs(curve[1]).mean()), window.rep.top_s)

    return read


def _make_median_reader(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        return None if curve is None else Value(float(np.median(curve[1])), window.rep.top_s)

    return read


def _make_range_reader(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        if curve is None:
            return None
        t, values = curve
        farthest = int(np.argmax(np.abs(values - values[0])))
        return Value(float(values.max() - values.min()), float(t[farthest]))

    return read


def _make_moment_reader(signal: str, moment: Callable[[Rep], float]) -> Reader:
    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        if curve is None:
            return None
        return Value(float(np.interp(moment(window.rep), *curve)), moment(window.rep))

    return read


def _read_lean_back(window: Window, side: Side | None) -> Value | None:
    """From the start of the rep to its top, or in the lift of one that begins at the top."""
    curve = window.curve("torso_inclination", None)
    if curve is None:
        return None
    first, last = get_concentric_span(window.rep)
    t, values = curve
    lifting = (t >= first) & (t <= last)
    if not lifting.any():
        return None
    farthest = int(np.argmin(values[lifting]))
    return Value(float(values[lifting][0] - values[lifting][farthest]), float(t[lifting][farthest]))


def _read_knee_spread_min(window: Window, side: Side | None) -> Value | None:
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


def _read_lean_half_way_up(window: Window, side: Side | None) -> Value | None:
    """The driver says when half of the way up is done, so that legs that go first leave the torso behind."""
    begin, end = get_concentric_span(window.rep)
    lean = window.curve("torso_inclination", None)
    seen = window.between(begin, end) & np.isfinite(window.driver)
    if lean is None or seen.sum() < 3:
        return None
    t, way = window.signals.t[seen], np.abs(window.driver[seen] - window.driver[seen][0])
    at_s = float(t[np.argmax(way >= way[-1] / 2)])
    bottom, half_way = (float(np.interp(moment, *lean)) for moment in (begin, at_s))
    return Value(half_way / bottom, at_s) if bottom >= LEAST_LEAN_DEG else None


def _make_change_reader(signal: str) -> Reader:
    """Means near both ends of the driver's range: a range of the signal would take up what the points shake by."""

    def read(window: Window, side: Side | None) -> Value | None:
        curve = window.curve(signal, side)
        driver = window.driver[window.inside]
        seen = np.isfinite(driver)
        if curve is None or not seen.any():
            return None
        t, values = curve
        share = np.interp(t, window.signals.t[window.inside][seen], driver[seen])
        share = (share - share.min()) / max(float(np.ptp(share)), 1e-9)
        near, far = share <= NEAR_AN_END, share >= 1.0 - NEAR_AN_END
        return Value(float(values[far].mean() - values[near].mean()), float(t[share.argmax()]))

    return read


def _read_shoulder_narrowing(window: Window, side: Side | None) -> Value | None:
    curve = window.curve("shoulder_width", None)
    if curve is None:
        return None
    start, top = (float(np.interp(at_s, *curve)) for at_s in (get_bottom_moment(window.rep), window.rep.top_s))
    return Value(1.0 - top / start, window.rep.top_s)


def _make_peak_difference_reader(signal: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | Message | None:
        strokes = _find_strokes(window)
        if isinstance(strokes, Message):
            return strokes
        left, right = (strokes[which].curve(signal, which) for which in SIDES)
        return None if left is None or right is None else Value(float(left[1].max() - right[1].max()), window.rep.top_s)

    return read


def _find_strokes(window: Window) -> Mapping[Side, Window] | Message:
    """The windows in which each arm works: the rep's own, and of arms in turn that of the stroke before."""
    if window.rep.side is None:
        return dict.fromkeys(SIDES, window)
    if window.before is None:
        return NO_STROKE_BEFORE if window.in_turn else ONE_ARM
    before = replace(window, rep=window.before)
    return {side: window if side == window.rep.side else before for side in SIDES}


def _read_hand_height_difference(window: Window, side: Side | None) -> Value | Message | None:
    """At the top; of arms in turn, both tops less what the hands differ by between them, when both are down."""
    strokes = _find_strokes(window)
    if isinstance(strokes, Message):
        return strokes
    first, last = window.before or window.rep, window.rep
    curve = replace(window, rep=replace(last, start_s=first.start_s)).curve("hand_height_difference", None)
    if curve is None:
        return None
    at = [last.top_s] if first is last else [first.top_s, last.top_s, (first.end_s + last.start_s) / 2]
    top, *others = (read_around(curve, moment) for moment in at)
    value = top + others[0] - others[1] if others else top
    return Value(value, last.top_s, readings=len(at)) if np.isfinite(value) else None


def _select_concentric(window: Window) -> tuple[Array, Array]:
    """Times and driver values of the concentric phase."""
    chosen = window.between(*get_concentric_span(window.rep)) & np.isfinite(window.driver)
    return window.signals.t[chosen], window.driver[chosen]


def _read_peak_speed(window: Window, side: Side | None) -> Value | None:
    t, values = _select_concentric(window)
    if len(t) < 3:
        return None
    speed = np.abs(np.gradient(values, t))
    return Value(float(speed.max()), float(t[speed.argmax()]))


def _read_mean_concentric_speed(window: Window, side: Side | None) -> Value | None:
    t, values = _select_concentric(window)
    if len(t) < 3:
        return None
    return Value(float(abs(values[-1] - values[0]) / (t[-1] - t[0])), float(t[0]))


def _make_tempo_reader(part: str) -> Reader:
    def read(window: Window, side: Side | None) -> Value | Message | None:
        rest = "top_pause_s" if turns_at_bottom(window.rep) else "bottom_pause_s"
        if part == rest and window.last:
            return NO_NEXT_REP
        return Value(float(getattr(window.rep.tempo, part)), window.rep.top_s)

    return read


READERS: Mapping[str, Reader] = {
    "arm_elevation_peak": _make_peak_reader("arm_elevation"),
    "arm_elevation_low": _make_lowest_reader("arm_elevation"),
    "arm_raise_peak": _make_peak_reader("arm_raise"),
    "arm_raise_low": _make_lowest_reader("arm_raise"),
    "range_of_motion": _make_range_reader("arm_raise"),
    "arm_peak_difference": _make_peak_difference_reader("arm_raise"),
    "arm_line_raise_peak": _make_peak_reader("arm_line_raise"),
    "arm_line_difference": _make_peak_difference_reader("arm_line_raise"),
    "hand_height_difference_top": _read_hand_height_difference,
    "forearm_sideways_bottom": _make_moment_reader("forearm_sideways", get_bottom_moment),
    "torso_lean_back": _read_lean_back,
    "elbow_flexion_min": _make_lowest_reader("elbow_flexion"),
    "elbow_flexion_max": _make_peak_reader("elbow_flexion"),
    "elbow_flexion_top": _make_moment_reader("elbow_flexion", lambda rep: rep.top_s),
    "elbow_flexion_bottom": _make_moment_reader("elbow_flexion", get_bottom_moment),
    "hand_height_low": _make_lowest_reader("hand_height"),
    "torso_inclination_mean": _make_mean_size_reader("torso_inclination"),
    "torso_inclination_range": _make_range_reader("torso_inclination"),
    "torso_side_lean_range": _make_range_reader("torso_side_lean"),
    "knee_flexion_mean": _make_mean_size_reader("knee_flexion"),
    "arm_flexion_peak": _make_peak_reader("arm_flexion"),
    "arm_flexion_low": _make_lowest_reader("arm_flexion"),
    "arm_flexion_range": _make_range_reader("arm_flexion"),
    "arm_extension_peak": _make_peak_reader("arm_extension"),
    "arm_extension_range": _make_range_reader("arm_extension"),
    "arm_opening_peak": _make_peak_reader("arm_opening"),
    "arm_opening_low": _make_lowest_reader("arm_opening"),
    "arm_raise_top": _make_moment_reader("arm_raise", lambda rep: rep.top_s),
    "elbow_ahead_bottom": _make_moment_reader("elbow_ahead", get_bottom_moment),
    "elbow_flexion_range": _make_range_reader("elbow_flexion"),
    "knee_flexion_max": _make_peak_reader("knee_flexion"),
    "knee_flexion_min": _make_lowest_reader("knee_flexion"),
    "knee_flexion_range": _make_range_reader("knee_flexion"),
    "thigh_inclination_peak": _make_peak_reader("thigh_inclination"),
    "torso_inclination_max": _make_peak_reader("torso_inclination"),
    "torso_inclination_min": _make_lowest_reader("torso_inclination"),
    "stance_width": _make_median_reader("stance_width"),
    "knee_spread_min": _read_knee_spread_min,
    "hip_flexion_max": _make_peak_reader("hip_flexion"),
    "hip_flexion_min": _make_lowest_reader("hip_flexion"),
    "shoulder_flexion_low": _make_lowest_reader("shoulder_flexion"),
    "shoulder_flexion_range": _make_range_reader("shoulder_flexion"),
    "neck_extension_max": _make_peak_reader("neck_extension"),
    "head_movement": _make_range_reader("head_pitch"),
    "lean_half_way_up": _read_lean_half_way_up,
    "arm_flexion_change": _make_change_reader("arm_flexion"),
    "shin_inclination_change": _make_change_reader("shin_inclination"),
    "hand_along_trunk_top": _make_moment_reader("hand_along_trunk", lambda rep: rep.top_s),
    "hand_from_leg_max": _make_peak_reader("hand_from_leg"),
    "shoulder_narrowing": _read_shoulder_narrowing,
    "grip_width": _make_median_reader("grip_width"),
    "bar_distance_max": _make_peak_reader("bar_distance"),
    "bar_distance_min": _make_lowest_reader("bar_distance"),
    "peak_speed": _read_peak_speed,
    "mean_concentric_speed": _read_mean_concentric_speed,
    "eccentric_time": _make_tempo_reader("eccentric_s"),
    "bottom_pause": _make_tempo_reader("bottom_pause_s"),
    "concentric_time": _make_tempo_reader("concentric_s"),
    "top_pause": _make_tempo_reader("top_pause_s"),
    **STEADINESS,
}
"""How each measure of one rep is read; those that need the whole set live in `across_reps`."""


def compute_driver_range(window: Window) -> float:
    """Range of the driver signal in the rep, in its unit; NaN when unseen."""
    values = window.driver[window.inside]
    return float(np.nanmax(values) - np.nanmin(values)) if np.isfinite(values).any() else float("nan")
