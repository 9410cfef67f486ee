"""When one stroke of a repetition begins and ends.

Everything here sees a stroke as rising from a valley to a peak; the way back is passed with time reversed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from formcheck.core.model import Array
from formcheck.signals.filtering import differentiate

NEAR_END = 0.2
"""A stroke's ends are sought where the driver is within this share of the range of its resting or turning level."""
_MINIMUM_JERK_MIDDLE = 0.346
"""Share of its duration a minimum-jerk movement takes from 20 % to 80 % of its way (closed form of its position)."""


HANGS_DEG, HANGS_BELOW_DEG = 5, 35
"""An angle read from a height as below the second is of something that hangs or stands straight: cosines hardly tell
small angles apart, and the true one is about the first."""
UP_DEG, UP_ABOVE_DEG = 172, 125
"""An arm read from its height as above the second is up: the shoulder, which rises with it, hides the last degrees."""
TIMING_CYCLES = 2.5
"""For timing, the driver is smoothed at this many cycles a stroke, which a smooth stroke passes nearly unchanged: the
mean error of its ends is then least on the tuning sets (2 widens them, 3.5 lets noise end a slow lowering early)."""


@dataclass(frozen=True, slots=True)
class Excursion:
    """One movement out and back: times of the stroke ends, index of the turn, and its levels in driver units."""

    out_start: float
    out_end: float
    turn: int
    back_start: float
    back_end: float
    rest: float
    reach: float
    whole: bool
    """Both the way out and the way back were recorded."""
    by_hand: bool = False

    @property
    def range(self) -> float:
        """From resting level to turn."""
        return self.reach - self.rest


@dataclass(frozen=True, eq=False)
class DriverCurve:
    """A driver signal: times (m,), driver (m,) rising on the way out, speed (m,) used for the timing."""

    t: Array
    line: Array
    speed: Array

    @classmethod
    def of(cls, t: Array, line: Array) -> "DriverCurve":
        """The curve of a driver sampled evenly."""
        return cls(t, line, differentiate(line, float(t[1] - t[0])))

    def reversed(self) -> "DriverCurve":
        """The same curve with time running backwards, so that the stroke back rises too."""
        return DriverCurve(-self.t[::-1], self.line[::-1], -self.speed[::-1])


def find_middle_crossings(curve: DriverCurve, valley: int, peak: int, rest: float, reach: float) -> tuple[float, float]:
    """Times at which a stroke leaves its first fifth for good and first reaches its last fifth."""
    span = reach - rest
    low, high = _find_near_ends(curve.line, valley, peak, rest, reach)
    return (
        _find_crossing(curve.t, curve.line, low, min(low + 1, peak), rest + NEAR_END * span),
        _find_crossing(curve.t, curve.line, max(high - 1, valley), high, reach - NEAR_END * span),
    )


def measure_stroke_duration(curve: DriverCurve, valley: int, peak: int, rest: float, reach: float) -> float:
    """About how long a stroke takes, seconds, judged from its middle and a minimum-jerk movement."""
    first, last = find_middle_crossings(curve, valley, peak, rest, reach)
    return (last - first) / _MINIMUM_JERK_MIDDLE


def find_stroke_times(
    curve: DriverCurve, valley: int, peak: int, rest: float, reach: float, fraction: float
) -> tuple[float, float]:
    """Begin and end of a stroke, seconds: where the speed crosses ``fraction`` of the stroke's own peak speed."""
    threshold = fraction * float(np.max(curve.speed[valley : peak + 1]))
    low, high = _find_near_ends(curve.line, valley, peak, rest, reach)
    before = np.flatnonzero(curve.speed[valley : low + 1] <= threshold)
    after = np.flatnonzero(curve.speed[high : peak + 1] <= threshold)
    start, end = float(curve.t[valley]), float(curve.t[peak])
    if len(before):
        index = valley + int(before[-1])
        start = _find_crossing(curve.t, curve.speed, index, min(index + 1, peak), threshold)
    if len(after):
        index = high + int(after[0])
        end = _find_crossing(curve.t, curve.speed, max(index - 1, valley), index, threshold)
    return start, end


def find_stroke_times_from_middle(
    curve: DriverCurve, valley: int, peak: int, rest: float, reach: float, fraction: float, camera_pitch: float = 0.0
) -> tuple[float, float]:
    """Begin and end of a stroke whose ends the view hides, carried on from its middle, seconds.

    For an angle read from a height: near the vertical the height hardly changes with the angle. The stroke is
    taken as a minimum-jerk movement of the angle (Flash & Hogan 1985, J Neurosci 5:1688; from memory), laid
    through the two moments at which the height has gone 20 % and 80 % of its way. ``camera_pitch``: tangent of the
    angle at which the camera looks down at a hand that comes towards it, 0 where the movement does not. Where such a
    stroke would end about as high as it begins, its ends are taken as they are seen (`find_stroke_times`).
    """
    height = -np.cos(np.radians(curve.line))
    ends = -np.cos(np.radians([rest, reach]))
    first, last = find_middle_crossings(DriverCurve(curve.t, height, curve.speed), valley, peak, *ends)
    shares = _compute_minimum_jerk_shares(
        *_estimate_true_ends(round(rest), round(reach), camera_pitch), camera_pitch, fraction
    )
    if shares is None:
        return find_stroke_times(curve, valley, peak, rest, reach, fraction)
    begin_share, low_share, high_share, end_share = shares
    whole = (last - first) / (high_share - low_share)
    origin = first - low_share * whole
    return origin + begin_share * whole, origin + end_share * whole


@lru_cache(maxsize=256)
def _estimate_true_ends(rest: int, reach: int, camera_pitch: float) -> tuple[int, int, float]:
    """Angles at rest and turn that would be read as these heights, and how far the shoulder rises on the way.

    What hangs or stands does so vertically; an arm that is up is read short of it by what the shoulder rises.
    """
    if reach > UP_ABOVE_DEG:
        missing = float(np.cos(np.radians(reach)) - _compute_height(np.array([UP_DEG]), camera_pitch)[0])
        return min(rest, HANGS_DEG), max(reach, UP_DEG), max(0.0, missing)
    if not HANGS_DEG <= rest <= HANGS_BELOW_DEG:
        return rest, reach, 0.0
    angles = np.arange(HANGS_DEG, UP_ABOVE_DEG + 1, dtype=float)
    height = _compute_height(angles, camera_pitch)
    read = height / height.max() * np.cos(np.radians(rest))
    rising = angles > np.degrees(np.arctan(camera_pitch))
    wrong = np.where(rising, np.abs(read - np.cos(np.radians(reach))), np.inf)
    return HANGS_DEG, int(angles[np.argmin(wrong)]), 0.0


def _compute_height(angle_deg: Array, camera_pitch: float, rise: float = 0.0) -> Array:
    """How far the far end of a segment is seen below its near end, in its lengths; nearer things are seen lower.

    Beyond the first 30° the shoulder rises evenly with the arm (the setting phase of the scapulohumeral rhythm: Inman,
    Saunders & Abbott 1944, J Bone Joint Surg 26:1; from memory), by ``rise`` when the arm is up.
    """
    share = np.clip((angle_deg - 30.0) / (UP_DEG - 30.0), 0.0, 1.0)
    radians = np.radians(angle_deg)
    return np.asarray(np.cos(radians) + camera_pitch * np.sin(radians) + rise * share)


@lru_cache(maxsize=256)
def _compute_minimum_jerk_shares(
    rest: int, reach: int, rise: float, camera_pitch: float, fraction: float
) -> tuple[float, float, float, float] | None:
    """Shares of a minimum-jerk stroke at which angle speed crosses the rule's share, and height its 20 % and 80 %.

    None where the stroke goes nowhere or ends about as high as it begins, or lower.
    """
    if reach <= rest:
        return None
    share = np.linspace(0.0, 1.0, 2001)
    angle = rest + (reach - rest) * (10 * share**3 - 15 * share**4 + 6 * share**5)
    height = -_compute_height(angle, camera_pitch, rise)
    # A hand that comes towards the camera is first seen sinking: its lowest is what is taken for its rest.
    rises = height[-1] - height.min()
    if not rises > 0:
        return None
    done = (height - height.min()) / rises
    speed = np.gradient(angle)
    fast = share[speed > fraction * speed.max()]
    low = share[np.flatnonzero(done <= NEAR_END)[-1]]
    high = share[np.flatnonzero(done >= 1 - NEAR_END)[0]]
    return (float(fast[0]), float(low), float(high), float(fast[-1])) if low < high else None


Timing = Callable[[DriverCurve, int, int, float, float, float], tuple[float, float]]
"""Driver curve, valley, peak, resting and turning level, share of the peak speed → begin and end of a stroke, s."""


def choose_timing(*, by_height: bool, camera_pitch: float) -> Timing:
    """How strokes are timed: from the driver's speed, or from their middle where the view hides their ends."""
    return partial(find_stroke_times_from_middle, camera_pitch=camera_pitch) if by_height else find_stroke_times


def _find_near_ends(line: Array, valley: int, peak: int, rest: float, reach: float) -> tuple[int, int]:
    """Last index near the resting level and, after it, first index near the turning level."""
    span = reach - rest
    below = np.flatnonzero(line[valley : peak + 1] <= rest + NEAR_END * span)
    low = valley + int(below[-1]) if len(below) else valley
    above = np.flatnonzero(line[low : peak + 1] >= reach - NEAR_END * span)
    return low, low + int(above[0]) if len(above) else peak


def _find_crossing(t: Array, values: Array, first: int, second: int, level: float) -> float:
    """Time at which values pass a level between two neighbouring samples."""
    a, b = float(values[first]), float(values[second])
    if first == second or a == b:
        return float(t[first])
    return float(t[first] + np.clip((level - a) / (b - a), 0.0, 1.0) * (t[second] - t[first]))
