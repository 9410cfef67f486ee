"""Driver signal → repetitions and their phases.

A repetition is an excursion of the driver: out, turn, back. For a lift that starts with the concentric
phase, out is the lift and the turn is the shortened end; for one that starts with the eccentric phase, out
is the lowering and the turn is the stretched end.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from scipy.signal import find_peaks

from formcheck.core.model import Array, Rep, Settings, Tempo
from formcheck.exercises.schema import Driver
from formcheck.reps.by_hand import apply_corrections
from formcheck.reps.edits import Edits
from formcheck.reps.strokes import (
    TIMING_CYCLES,
    DriverCurve,
    Excursion,
    Timing,
    choose_timing,
    find_stroke_times,
    measure_stroke_duration,
)
from formcheck.signals.filtering import low_pass

SMALLEST_SHARE = 0.25
"""An excursion below this share of the set's median range is fidgeting, not a partial repetition."""
SMALLEST_PARTIAL = 0.6
"""Share of an exercise's smallest range below which nothing is looked for: noise is not far below."""
STRAY_BELOW, STRAY_ABOVE = 0.6, 1.6
"""Shares of the median range outside which a movement at either end, a rep's length apart, is not of the set."""
NOTCH_S = 0.25
"""A dip narrower than this at half its depth is tracking: an arm with a weight goes out and back at most twice a second
("common practice")."""
MOST_OF_THE_TIME = (10.0, 90.0)
"""Percentiles between which the lifter's place is looked at."""
WHOLE_WITHIN = 0.4
"""Both ends of a repetition rest within this share of its range, or one of the strokes was not recorded."""


def find_reps(
    t: Array,
    driver: Array,
    rule: Driver,
    settings: Settings,
    *,
    posture: Sequence[tuple[Array, float]] = (),
    positions: Sequence[tuple[Array, float]] = (),
    by_height: bool = False,
    camera_pitch: float = 0.0,
    like: Callable[[list[Excursion]], list[Excursion]] | None = None,
    edits: Edits | None = None,
) -> tuple[Rep, ...]:
    """Repetitions in a driver signal.

    Parameters
    ----------
    t, driver : (m,) uniform seconds, driver in degrees; NaN gaps are bridged by straight lines.
    rule : which way the concentric phase goes, what comes first, the smallest range that counts.
    posture : curves (m,) that stay the same through a set, each with how far it may stray; a movement whose
        turn lies farther from what is usual at the turns (weights being picked up or put down, the lifter
        turning round) is not counted. NaN is no reason to drop a movement.
    positions : curves (m,) that hardly move within a repetition, each with how far it may; beyond, the lifter walks.
    by_height : the driver is an angle read from a height (`signals.geometry.compute_angle_from_height`), blind to
        the first and last degrees near the vertical; phases are then carried on from the middle of each stroke.
    camera_pitch : tangent of the angle at which the camera looks down at a hanging hand that comes towards it.
    like : selects the movements that look like the exercise (`formcheck.recognition.movement_match.select_like`).
    edits : what a person corrected; everything else follows from it.

    Returns an empty tuple when there is no movement of at least the smallest range. Raises UsageError for a
    correction that does not fit the clip.
    """
    edits = edits or Edits()
    outwards = (rule.first == "concentric") == (rule.concentric == "rising")
    out = driver if outwards else 180.0 - driver
    timing = choose_timing(by_height=by_height, camera_pitch=camera_pitch)
    smallest = rule.minimum_range
    found = find_excursions(t, out, smallest, settings, timing)
    if like is not None and not by_height and len(alike := like(found)) > 1:
        # Beside whole repetitions a partial one may be smaller than what makes a set by itself; a height is too noisy.
        partial = SMALLEST_SHARE * float(np.median([item.range for item in alike]))
        smallest = min(rule.minimum_range, max(partial, SMALLEST_PARTIAL * rule.minimum_range))
        if smallest < rule.minimum_range:
            found = find_excursions(t, out, smallest, settings, timing)
    found = [item for item in found if not any(part.start_s <= t[item.turn] <= part.end_s for part in edits.outside)]
    if like is not None:
        found = like(found)
    found = _drop_strays(_drop_off_posture(_drop_walking(found, t, positions), t, posture))
    # What was dropped lent its neighbours a resting level: they are timed anew without it.
    found = find_excursions(t, out, smallest, settings, timing, only=frozenset(item.turn for item in found))
    found = apply_corrections(found, edits, t, out, rule, settings, timing)
    if not found:
        return ()
    typical = float(np.median([item.range for item in found]))
    # A rest lasts until the next rep, or until the set is interrupted, or as long as the clip shows the lifter still.
    breaks = [part.start_s for part in edits.outside]
    nexts = [*(item.out_start for item in found[1:]), float(t[-1])]
    return tuple(
        _make_rep(
            number,
            item,
            min([following, *(moment for moment in breaks if moment >= item.back_end)]),
            t,
            rule,
            complete=item.whole and item.range > 0 and item.range >= settings.partial_below * typical,
        )
        for number, (item, following) in enumerate(zip(found, nexts, strict=True), start=1)
    )


def find_excursions(
    t: Array,
    driver: Array,
    smallest: float,
    settings: Settings,
    timing: Timing = find_stroke_times,
    *,
    only: frozenset[int] | None = None,
) -> list[Excursion]:
    """All movements up and back of at least ``smallest``; ``driver`` (m,) rises on the way out.

    ``only`` keeps those that turn at one of these samples; what the others rested at says nothing then.
    """
    finite = np.isfinite(driver)
    if finite.sum() < 4:
        return []
    line = np.interp(t, t[finite], driver[finite])
    # Tremor cannot cut one plateau in two: the prominence rules it out.
    peaks = _join_plateaus([int(index) for index in find_peaks(line, prominence=smallest)[0]], line, smallest)
    if not peaks:
        return []
    line, peaks = _bridge_notches(t, line, peaks)
    wanted = [only is None or peak in only for peak in peaks]
    valleys = _find_valleys(line, peaks)
    rests = _find_resting_levels(line, valleys, wanted)
    curve = _smooth_for_timing(t, line, peaks, valleys, rests, settings)
    out: list[Excursion] = []
    for position, peak in enumerate(peaks):
        if not wanted[position]:
            continue
        reach, (rest_out, rest_back) = float(line[peak]), rests[position : position + 2]
        fraction = settings.phase_speed_fraction
        out_start, out_end = timing(curve, valleys[position], peak, rest_out, reach, fraction)
        end = len(line) - 1
        back = timing(curve.reversed(), end - valleys[position + 1], end - peak, rest_back, reach, fraction)
        back_end, back_start = min(-back[0], float(t[-1])), -back[1]
        # Strokes carried on from their middle may reach into their neighbours: they meet half-way.
        out_start = max(out_start, out[-1].back_end if out else float(t[0]))
        if back_start < out_end:
            out_end = back_start = (back_start + out_end) / 2
        rest = min(rest_out, rest_back)
        whole = max(rest_out, rest_back) - rest <= WHOLE_WITHIN * (reach - rest)
        out.append(Excursion(out_start, out_end, peak, back_start, back_end, rest, reach, whole))
    return out


def _join_plateaus(peaks: list[int], line: Array, smallest: float) -> list[int]:
    """One peak of several exactly as high, as a saturated driver has them, with no valley of ``smallest`` between."""
    joined: list[int] = []
    for peak in peaks:
        if joined and line[joined[-1] : peak + 1].min() > min(line[joined[-1]], line[peak]) - smallest:
            continue
        joined.append(peak)
    return joined


def _find_valleys(line: Array, peaks: list[int]) -> list[int]:
    """Lowest samples before, between and after the peaks."""
    edges = [0, *peaks, len(line) - 1]
    return [first + int(np.argmin(line[first : last + 1])) for first, last in pairwise(edges)]


def _bridge_notches(t: Array, line: Array, peaks: list[int]) -> tuple[Array, list[int]]:
    """The line with dips bridged that no arm could make, such as a landmark that jumps away and back at the top.

    A dip between two peaks is one when it stays far from the resting level and is over before a limb with a
    weight in it could have turned twice.
    """
    line, remaining = np.array(line), peaks[:1]
    for peak in peaks[1:]:
        first, last = remaining[-1], peak
        before, dip, after = _find_valleys(line, [first, last])
        top, rest = float(min(line[first], line[last])), float(max(line[before], line[after]))
        half = (top + line[dip]) / 2
        left = first + int(np.flatnonzero(line[first : dip + 1] >= half)[-1])
        right = dip + int(np.flatnonzero(line[dip : last + 1] >= half)[0])
        if t[right] - t[left] < NOTCH_S and line[dip] - rest > WHOLE_WITHIN * (top - rest):
            line[first : last + 1] = np.linspace(line[first], line[last], last - first + 1)
            remaining[-1] = first if line[first] >= line[last] else last
        else:
            remaining.append(peak)
    return line, remaining


def _smooth_for_timing(
    t: Array, line: Array, peaks: list[int], valleys: list[int], rests: list[float], settings: Settings
) -> DriverCurve:
    """The driver smoothed for its speed: landmark noise would cross 5 % of a slow stroke's peak speed.

    The quicker of the ways out and back says how much, so that both pass.
    """
    curve, end = DriverCurve.of(t, line), len(line) - 1
    back = curve.reversed()
    strokes = (
        [
            measure_stroke_duration(curve, valley, peak, rest, float(line[peak]))
            for valley, peak, rest in zip(valleys, peaks, rests, strict=False)
        ],
        [
            measure_stroke_duration(back, end - valley, end - peak, rest, float(line[peak]))
            for valley, peak, rest in zip(valleys[1:], peaks, rests[1:], strict=True)
        ],
    )
    rate = 1 / float(t[1] - t[0])
    usual = max(min(float(np.median(durations)) for durations in strokes), 1 / rate)
    return DriverCurve.of(t, low_pass(line, rate, min(settings.cutoff_hz, TIMING_CYCLES / usual)))


def _find_resting_levels(line: Array, valleys: list[int], wanted: list[bool]) -> list[float]:
    """Level of each valley; one that is not between two wanted peaks is no lower than the others."""
    levels = [float(line[index]) for index in valleys]
    inner = [False, *(before and after for before, after in pairwise(wanted)), False]
    if any(inner):
        usual = float(np.median([level for level, between in zip(levels, inner, strict=True) if between]))
        levels = [level if between else max(level, usual) for level, between in zip(levels, inner, strict=True)]
    return levels


def _drop_walking(found: list[Excursion], t: Array, positions: Sequence[tuple[Array, float]]) -> list[Excursion]:
    """Without movements made while walking; a landmark that jumps for a moment is not walking."""

    def travel(item: Excursion, curve: Array) -> float:
        values = curve[(t >= item.out_start) & (t <= item.back_end)]
        values = values[np.isfinite(values)]
        return float(np.ptp(np.percentile(values, MOST_OF_THE_TIME))) if len(values) else 0.0

    return [item for item in found if all(travel(item, curve) <= farthest for curve, farthest in positions)]


def _read_middle(item: Excursion, t: Array, curve: Array) -> float:
    """A curve's median in the middle half of a movement: for a moment the model may take front for back."""
    quarter = (item.back_end - item.out_start) / 4
    values = curve[(t >= item.out_start + quarter) & (t <= item.back_end - quarter)]
    values = values[np.isfinite(values)]
    return float(np.median(values)) if len(values) else float(curve[item.turn])


def _drop_off_posture(found: list[Excursion], t: Array, posture: Sequence[tuple[Array, float]]) -> list[Excursion]:
    for curve, tolerance in posture:
        at_turns = np.array([_read_middle(item, t, curve) for item in found])
        if np.isfinite(at_turns).any():
            strays = np.abs(at_turns - np.nanmedian(at_turns)) > tolerance
            found = [item for item, stray in zip(found, strays, strict=True) if not stray]
    return found


def _drop_strays(found: list[Excursion]) -> list[Excursion]:
    """Drop fidgeting, and movements at either end that stand apart from the set in size and in time."""
    if not found:
        return []
    typical = float(np.median([item.range for item in found]))
    remaining = [item for item in found if item.range >= SMALLEST_SHARE * typical]
    cycle = float(np.median([item.back_end - item.out_start for item in remaining]))

    def apart(item: Excursion, neighbour: Excursion) -> bool:
        gap = max(neighbour.out_start - item.back_end, item.out_start - neighbour.back_end)
        return gap > cycle and not STRAY_BELOW * typical <= item.range <= STRAY_ABOVE * typical

    while len(remaining) > 2 and apart(remaining[0], remaining[1]):
        remaining = remaining[1:]
    while len(remaining) > 2 and apart(remaining[-1], remaining[-2]):
        remaining = remaining[:-1]
    return remaining


def _make_rep(number: int, item: Excursion, rest_until: float, t: Array, rule: Driver, *, complete: bool) -> Rep:
    start, out_end, back_start, end = item.out_start, item.out_end, item.back_start, item.back_end
    out_s, turn_s, back_s = out_end - start, back_start - out_end, end - back_start
    rest_s = max(0.0, rest_until - end)
    if rule.first == "concentric":
        tempo = Tempo(eccentric_s=back_s, bottom_pause_s=rest_s, concentric_s=out_s, top_pause_s=turn_s)
        top = float(np.clip(t[item.turn], out_end, back_start))
    else:
        tempo = Tempo(eccentric_s=out_s, bottom_pause_s=turn_s, concentric_s=back_s, top_pause_s=rest_s)
        top = end
    return Rep(number, start, top, end, complete, tempo, item.by_hand)
