"""One rep's window of the curves → its numbers."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from formcheck.model import Array, Mask, Rep, Side, Signals

MIN_SEEN_SHARE = 0.7
"""A number is given only when at least this share of the rep's samples of its curve is there."""


@dataclass(frozen=True, slots=True)
class Value:
    """A number, and the moment in the clip that shows it best."""

    value: float
    at_s: float


@dataclass(frozen=True, eq=False)
class Window:
    """The curves of one rep; ``driver`` is in its own unit, everything else as in `formcheck.vocabulary`."""

    rep: Rep
    signals: Signals
    driver: Array
    last: bool

    @property
    def inside(self) -> Mask:
        """(m,) true between the rep's start and end."""
        return (self.signals.t >= self.rep.start_s - 1e-9) & (self.signals.t <= self.rep.end_s + 1e-9)

    def curve(self, name: str, side: Side | None) -> tuple[Array, Array] | None:
        """Times and values of a curve inside the rep, gaps left out; None when too little of it was seen."""
        inside = self.inside
        t, values = self.signals.t[inside], self.signals.get(name, side)[inside]
        seen = np.isfinite(values)
        if not len(values) or seen.mean() < MIN_SEEN_SHARE:
            return None
        return t[seen], values[seen]


def concentric_span(rep: Rep) -> tuple[float, float]:
    """Begin and end of the concentric phase, seconds in the clip."""
    if rep.top_s >= rep.end_s:
        return rep.end_s - rep.tempo.concentric_s, rep.end_s
    return rep.start_s, rep.start_s + rep.tempo.concentric_s


def bottom_moment(rep: Rep) -> float:
    """A moment of the rep at the stretched end, seconds in the clip."""
    return concentric_span(rep)[0]


Reader = Callable[[Window, Side | None], Value | None]


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


def _range_of_motion(window: Window, side: Side | None) -> Value | None:
    return _span("arm_raise")(window, side)


def _peak_difference(window: Window, side: Side | None) -> Value | None:
    left, right = (_peak("arm_raise")(window, which) for which in ("left", "right"))
    return None if left is None or right is None else Value(left.value - right.value, window.rep.top_s)


def _concentric(window: Window) -> tuple[Array, Array]:
    """Times and driver values of the concentric phase."""
    first, last = concentric_span(window.rep)
    chosen = (window.signals.t >= first - 1e-9) & (window.signals.t <= last + 1e-9) & np.isfinite(window.driver)
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
    def read(window: Window, side: Side | None) -> Value | None:
        if part == "bottom_pause_s" and window.last:
            return None
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
    "grip_width": _median("grip_width"),
    "bar_distance_max": _peak("bar_distance"),
    "peak_speed": _peak_speed,
    "mean_concentric_speed": _mean_concentric_speed,
    "eccentric_time": _tempo("eccentric_s"),
    "bottom_pause": _tempo("bottom_pause_s"),
    "concentric_time": _tempo("concentric_s"),
    "top_pause": _tempo("top_pause_s"),
}
"""How each measure of one rep is read; `range_share` needs the whole set and lives in `across_reps`."""


def driver_range(window: Window) -> float:
    """Range of the driver signal in the rep, in its unit; NaN when unseen."""
    values = window.driver[window.inside]
    return float(np.nanmax(values) - np.nanmin(values)) if np.isfinite(values).any() else float("nan")
