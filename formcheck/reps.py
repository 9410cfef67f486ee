"""Driver signal → repetitions and their phases.

A repetition is an excursion of the driver: out, turn, back. For a lift that starts with the concentric
phase, out is the lift and the turn is the shortened end; for one that starts with the eccentric phase, out
is the lowering and the turn is the stretched end.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.signal import find_peaks

from formcheck.exercises.schema import Driver
from formcheck.model import Array, Mask, Rep, Settings, Tempo
from formcheck.signals.filtering import central_difference

SMALLEST_SHARE = 0.25
"""An excursion below this share of the set's median range is fidgeting, not a partial repetition."""
NEAR_REST = 0.2
"""A stroke's end is sought from where the driver is within this share of the range of its resting level."""


@dataclass(frozen=True, slots=True)
class Excursion:
    """One movement out and back: grid indices of the stroke ends, of the turn, and its levels in driver units."""

    out_start: int
    out_end: int
    turn: int
    back_start: int
    back_end: int
    rest: float
    reach: float
    whole: bool
    """Both the way out and the way back were recorded."""

    @property
    def range(self) -> float:
        """From resting level to turn."""
        return self.reach - self.rest


def find_reps(
    t: Array,
    driver: Array,
    rule: Driver,
    settings: Settings,
    *,
    in_position: Mask | None = None,
    by_height: bool = False,
) -> tuple[Rep, ...]:
    """Repetitions in a driver signal.

    Parameters
    ----------
    t, driver : (m,) uniform seconds, driver in degrees; NaN gaps are bridged by straight lines.
    rule : which way the concentric phase goes, what comes first, the smallest range that counts.
    in_position : (m,) true where the lifter holds the set's posture; a movement whose turn lies elsewhere
        (weights being picked up or put down) is not counted.
    by_height : the driver is an angle read from a height (`signals.geometry.angle_from_height`), blind to
        the first and last degrees near the vertical; phases are then timed on the height and extended by
        what a minimum-jerk movement hides there.

    Returns an empty tuple when there is no movement of at least the smallest range.
    """
    outwards = (rule.first == "concentric") == (rule.concentric == "rising")
    found = excursions(t, driver if outwards else 180.0 - driver, rule.minimum_range, settings, by_height=by_height)
    if in_position is not None:
        found = [item for item in found if in_position[item.turn]]
    found = _without_strays(found, t)
    if not found:
        return ()
    typical = float(np.median([item.range for item in found]))
    return tuple(
        _rep(number, item, following, t, rule, complete=item.whole and item.range >= settings.partial_below * typical)
        for number, (item, following) in enumerate(zip(found, [*found[1:], None], strict=True), start=1)
    )


def excursions(
    t: Array, driver: Array, smallest: float, settings: Settings, *, by_height: bool = False
) -> list[Excursion]:
    """All movements up and back of at least ``smallest``; ``driver`` (m,) rises on the way out."""
    finite = np.isfinite(driver)
    if finite.sum() < 4:
        return []
    line = np.interp(t, t[finite], driver[finite])
    peaks, _ = find_peaks(line, prominence=smallest)
    if not len(peaks):
        return []
    # Cutting one plateau in two by tremor is ruled out by the prominence; valleys are the lowest points between.
    edges = [0, *peaks.tolist(), len(line) - 1]
    valleys = [lo + int(np.argmin(line[lo : hi + 1])) for lo, hi in pairwise(edges)]
    rests = _resting_levels(line, valleys)
    timed = -np.cos(np.radians(line)) if by_height else line
    speed = central_difference(timed, float(t[1] - t[0]))
    out = []
    for position, peak in enumerate(peaks):
        left, right = valleys[position], valleys[position + 1]
        rest_left, rest_right = rests[position], rests[position + 1]
        out_start, out_end = _stroke(line, speed, left, int(peak), rest_left, line[peak], settings.phase_speed_fraction)
        mirrored = len(line) - 1
        back_end, back_start = (
            mirrored - index
            for index in _stroke(
                line[::-1], -speed[::-1], mirrored - right, mirrored - int(peak), rest_right, line[peak],
                settings.phase_speed_fraction,
            )
        )  # fmt: skip
        reach = float(line[peak])
        rest = min(rest_left, rest_right)
        if by_height:
            out_start, out_end = _widened(out_start, out_end, rest, reach, settings.phase_speed_fraction)
            back_end, back_start = _widened(back_end, back_start, rest, reach, settings.phase_speed_fraction)
            out_start, back_end = max(out_start, left), min(back_end, right)
            out_end, back_start = min(out_end, int(peak)), max(back_start, int(peak))
        whole = max(rest_left, rest_right) - rest <= 0.4 * (reach - rest)
        out.append(Excursion(out_start, out_end, int(peak), max(back_start, out_end), back_end, rest, reach, whole))
    return out


def _widened(rest_end: int, turn_end: int, rest: float, reach: float, fraction: float) -> tuple[int, int]:
    """Stroke ends timed on the height → stroke ends as the speed rule would give them on the angle.

    A minimum-jerk stroke (Flash & Hogan 1985, J Neurosci 5:1688; from memory) of the same angles is timed
    both ways; the difference, in shares of the stroke, is added at each end. Works for either direction of time.
    """
    share = np.linspace(0.0, 1.0, 1001)
    angle = rest + (reach - rest) * (10 * share**3 - 15 * share**4 + 6 * share**5)
    ends = []
    for course in (angle, -np.cos(np.radians(angle))):
        fast = np.flatnonzero(np.gradient(course) > fraction * np.gradient(course).max())
        ends.append((share[fast[0]], share[fast[-1]]))
    (angle_first, angle_last), (height_first, height_last) = ends
    stroke = (turn_end - rest_end) / (height_last - height_first)
    return (
        round(rest_end - (height_first - angle_first) * stroke),
        round(turn_end + (angle_last - height_last) * stroke),
    )


def _resting_levels(line: Array, valleys: list[int]) -> list[float]:
    """Level of each valley; the outermost, which may be the way into position, are held to the inner ones."""
    levels = [float(line[index]) for index in valleys]
    inner = levels[1:-1]
    if inner:
        usual = float(np.median(inner))
        levels[0] = max(levels[0], usual)
        levels[-1] = max(levels[-1], usual)
    return levels


def _stroke(
    line: Array, speed: Array, valley: int, peak: int, rest: float, reach: float, fraction: float
) -> tuple[int, int]:
    """First and last index of the stroke from a valley up to a peak: where speed crosses a share of its own peak."""
    rising = slice(valley, peak + 1)
    threshold = fraction * float(np.max(speed[rising]))
    span = reach - rest
    below_low = np.flatnonzero(line[rising] <= rest + NEAR_REST * span)
    low = valley + int(below_low[-1]) if len(below_low) else valley
    above_high = np.flatnonzero(line[low : peak + 1] >= reach - NEAR_REST * span)
    high = low + int(above_high[0]) if len(above_high) else peak
    slow_before = np.flatnonzero(speed[valley : low + 1] <= threshold)
    slow_after = np.flatnonzero(speed[high : peak + 1] <= threshold)
    start = valley + int(slow_before[-1]) if len(slow_before) else valley
    end = high + int(slow_after[0]) if len(slow_after) else peak
    return start, end


def _without_strays(found: list[Excursion], t: Array) -> list[Excursion]:
    """Drop fidgeting, and small movements at either end that stand apart from the set."""
    if not found:
        return []
    typical = float(np.median([item.range for item in found]))
    kept = [item for item in found if item.range >= SMALLEST_SHARE * typical]
    cycle = float(np.median([t[item.back_end] - t[item.out_start] for item in kept]))
    while len(kept) > 2 and kept[0].range < 0.6 * typical and t[kept[1].out_start] - t[kept[0].back_end] > cycle:
        kept = kept[1:]
    while len(kept) > 2 and kept[-1].range < 0.6 * typical and t[kept[-1].out_start] - t[kept[-2].back_end] > cycle:
        kept = kept[:-1]
    return kept


def _rep(number: int, item: Excursion, following: Excursion | None, t: Array, rule: Driver, *, complete: bool) -> Rep:
    start, out_end, back_start, end = (
        float(t[index]) for index in (item.out_start, item.out_end, item.back_start, item.back_end)
    )
    out_s, turn_s, back_s = out_end - start, back_start - out_end, end - back_start
    # After the last repetition the rest lasts as long as the clip shows the lifter still.
    rest_s = max(0.0, float(t[following.out_start] if following else t[-1]) - end)
    if rule.first == "concentric":
        tempo = Tempo(eccentric_s=back_s, bottom_pause_s=rest_s, concentric_s=out_s, top_pause_s=turn_s)
        top = float(t[item.turn])
    else:
        tempo = Tempo(eccentric_s=out_s, bottom_pause_s=turn_s, concentric_s=back_s, top_pause_s=rest_s)
        top = end
    return Rep(number, start, top, end, complete, tempo)
