"""Driver signal → repetitions and their phases.

A repetition is an excursion of the driver: out, turn, back. For a lift that starts with the concentric
phase, out is the lift and the turn is the shortened end; for one that starts with the eccentric phase, out
is the lowering and the turn is the stretched end.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from formcheck.core.model import Array, Rep, Settings, Tempo
from formcheck.exercises.schema import Driver
from formcheck.reps.by_hand import apply_corrections
from formcheck.reps.edits import Edits
from formcheck.reps.rhythm import readmit_regular
from formcheck.reps.strokes import (
    HANGS_BELOW_DEG,
    HANGS_DEG,
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
SPIKE_S, SPIKE_SHARE = 0.3, 0.8
"""Landmarks that are elsewhere for so long, and move the driver by this share of the smallest range, jumped."""
AT_THE_CUT_S = 0.3
"""A movement that begins or ends this near to a cut may lack what the cut took: as long as the smoothing reaches."""
FEWEST_JOINED, JOINED_DEPTH, JOINED_NEARER = 3, 0.4, 0.6
"""Among more peaks than so many, two are one whose dip is below this share of the usual depth, when they are nearer
than this share of the usual distance."""
SHORTEST_SHARE = 0.3
"""A movement that lasts less than this share of the set's median is a jump of landmarks."""
RESTS_BELOW = 20.0
"""Percentile of the driver during a set that is hardly above where it rests."""
MOST_OF_THE_TIME = (10.0, 90.0)
"""Percentiles between which the lifter's place is looked at."""
WHOLE_WITHIN = 0.4
"""Both ends of a repetition rest within this share of its range, or one of the strokes was not recorded."""


Scale = Callable[[Array], Array]
"""Driver as it is read, degrees → as it is compared."""


def find_reps(
    t: Array,
    driver: Array,
    rule: Driver,
    settings: Settings,
    *,
    posture: Sequence[tuple[Array, float]] = (),
    positions: Sequence[tuple[Array, float]] = (),
    by_height: bool = False,
    hangs: bool = False,
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
    hangs : the driver is such an angle of a limb that hangs or stands straight between repetitions.
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
    scale = _make_scale(found, t, out) if hangs and outwards else _keep
    if scale is not _keep:
        found = find_excursions(t, out, smallest, settings, timing, scale=scale)
    if like is not None and not by_height and len(alike := like(found)) > 1:
        # Beside whole repetitions a partial one may be smaller than what makes a set by itself; a height is too noisy.
        partial = SMALLEST_SHARE * float(np.median([item.range for item in alike]))
        smallest = min(rule.minimum_range, max(partial, SMALLEST_PARTIAL * rule.minimum_range))
        if smallest < rule.minimum_range:
            found = find_excursions(t, out, smallest, settings, timing)
    found = [item for item in found if not any(part.start_s <= t[item.turn] <= part.end_s for part in edits.outside)]
    if like is not None:
        found = like(found)
    found = _drop_off_posture(_drop_walking(found, t, positions), t, posture)
    found = _drop_strays(found, t, out, scale)
    # What was dropped lent its neighbours a resting level: they are timed anew without it.
    turns = frozenset(item.turn for item in found)
    found = find_excursions(t, out, smallest, settings, timing, scale=scale, only=turns)
    found = apply_corrections(found, edits, t, out, rule, settings, timing)
    if not found:
        return ()
    typical = float(np.median([_measure_range(item, scale) for item in found]))
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
            complete=item.whole and _measure_range(item, scale) >= settings.partial_below * typical > 0,
        )
        for number, (item, following) in enumerate(zip(found, nexts, strict=True), start=1)
    )


def drop_cut_reps(reps: Sequence[Rep], t: Array, cut_before: bool, cut_after: bool) -> tuple[Rep, ...]:
    """The repetitions of a part of a clip without those a cut goes through, numbered anew; those set by hand stay.

    Parameters
    ----------
    t : (m,) times of the part, seconds.
    cut_before, cut_after : whether the part begins or ends with a cut, and not with the clip.
    """

    def taken(rep: Rep) -> bool:
        begins = cut_before and rep.start_s <= t[0] + AT_THE_CUT_S
        ends = cut_after and rep.end_s >= t[-1] - AT_THE_CUT_S
        return not rep.by_hand and not rep.complete and (begins or ends)

    return tuple(
        replace(rep, number=number) for number, rep in enumerate([rep for rep in reps if not taken(rep)], start=1)
    )


def find_excursions(
    t: Array,
    driver: Array,
    smallest: float,
    settings: Settings,
    timing: Timing = find_stroke_times,
    *,
    scale: Scale | None = None,
    only: frozenset[int] | None = None,
) -> list[Excursion]:
    """All movements up and back of at least ``smallest``; ``driver`` (m,) rises on the way out.

    ``scale`` turns the driver into what is to go out and back by ``smallest``; nothing else is read from that.
    ``only`` keeps those that turn at one of these samples; what the others rested at says nothing then.
    """
    from scipy.signal import find_peaks

    finite = np.isfinite(driver)
    if finite.sum() < 4:
        return []
    line = _remove_spikes(t, np.interp(t, t[finite], driver[finite]), smallest)
    # Tremor cannot cut one plateau in two: the prominence rules it out.
    sought = line if scale is None else scale(line)
    peaks = _join_plateaus([int(index) for index in find_peaks(sought, prominence=smallest)[0]], sought, smallest)
    if not peaks:
        return []
    line, peaks = _bridge_notches(t, line, peaks)
    peaks = _join_shallow(line, peaks)
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
        if out and out[-1].back_end > max(out_start, out_end):  # or even beyond them: where the driver is lowest
            out[-1] = _end_by(out[-1], float(t[valleys[position]]))
        out_start = max(out_start, out[-1].back_end if out else float(t[0]))
        if back_start < out_end:
            out_end = back_start = (back_start + out_end) / 2
        out_end, back_start = max(out_end, out_start), max(min(back_start, back_end), out_start)
        back_end = max(back_end, back_start)
        rest = min(rest_out, rest_back)
        whole = max(rest_out, rest_back) - rest <= WHOLE_WITHIN * (reach - rest)
        out.append(Excursion(out_start, out_end, peak, back_start, back_end, rest, reach, whole))
    return out


def _end_by(item: Excursion, end_s: float) -> Excursion:
    """The movement, over by a moment."""
    return replace(
        item,
        out_start=min(item.out_start, end_s),
        out_end=min(item.out_end, end_s),
        back_start=min(item.back_start, end_s),
        back_end=end_s,
    )


def _join_plateaus(peaks: list[int], line: Array, smallest: float) -> list[int]:
    """One peak of several exactly as high, as a saturated driver has them, with no valley of ``smallest`` between."""
    joined: list[int] = []
    for peak in peaks:
        if joined and line[joined[-1] : peak + 1].min() > min(line[joined[-1]], line[peak]) - smallest:
            continue
        joined.append(peak)
    return joined


def _keep(driver: Array) -> Array:
    return driver


def _make_scale(found: Sequence[Excursion], t: Array, out: Array) -> Scale:
    """What turns a driver into true angles: an angle read from a height is too large where a limb hangs or stands.

    The full length of a limb is seldom seen exactly: taken as too long, one that hangs is read as 20° instead of 5°,
    and a half repetition as one of a quarter. The length is mended so that the limb hangs where it rests.
    """
    rest = _read_rest(found, t, out)
    if not rest <= HANGS_BELOW_DEG:
        return _keep
    longer = float(np.cos(np.radians(HANGS_DEG)) / np.cos(np.radians(max(rest, HANGS_DEG))))

    def mend(driver: Array) -> Array:
        angle = np.degrees(np.arccos(np.clip(longer * np.cos(np.radians(driver)), -1.0, 1.0)))
        return np.asarray(np.maximum(angle, HANGS_DEG))

    return mend


def _read_rest(found: Sequence[Excursion], t: Array, out: Array) -> float:
    """About where the driver rests during a set; NaN without one."""
    during = out[(t >= found[0].out_start) & (t <= found[-1].back_end)] if found else out[:0]
    during = during[np.isfinite(during)]
    return float(np.percentile(during, RESTS_BELOW)) if len(during) else float("nan")


def _measure_range(item: Excursion, scale: Scale) -> float:
    """From resting level to turn, on a scale."""
    rest, reach = scale(np.array([item.rest, item.reach]))
    return float(reach - rest)


def _remove_spikes(t: Array, line: Array, smallest: float) -> Array:
    """The line without what goes away and back within `SPIKE_S`, by as much as could make a movement of its own."""
    from scipy.ndimage import median_filter

    width = 2 * round(SPIKE_S / (2 * float(t[1] - t[0]))) + 1
    usual = median_filter(line, size=width, mode="nearest")
    return np.where(np.abs(line - usual) > SPIKE_SHARE * smallest, usual, line)


def _join_shallow(line: Array, peaks: list[int]) -> list[int]:
    """One peak of two between which the driver hardly goes back: landmarks that shake at the turn."""
    while len(peaks) > FEWEST_JOINED:
        inner = _find_valleys(line, peaks)[1:-1]
        depths = [
            min(line[one], line[other]) - line[dip] for one, other, dip in zip(peaks, peaks[1:], inner, strict=False)
        ]
        apart = np.diff(peaks)
        shallowest = int(np.argmin(depths))
        near = apart[shallowest] < JOINED_NEARER * float(np.median(apart))
        if not near or depths[shallowest] > JOINED_DEPTH * float(np.median(depths)):
            break
        low = shallowest if line[peaks[shallowest]] < line[peaks[shallowest + 1]] else shallowest + 1
        peaks = [peak for index, peak in enumerate(peaks) if index != low]
    return peaks


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
        lasts = t[right] - t[left]
        if lasts < NOTCH_S / 2 or (lasts < NOTCH_S and line[dip] - rest > WHOLE_WITHIN * (top - rest)):
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

    still = [item for item in found if all(travel(item, curve) <= farthest for curve, farthest in positions)]
    return readmit_regular(found, still)


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


def _drop_strays(found: list[Excursion], t: Array, out: Array, scale: Scale) -> list[Excursion]:
    """Drop fidgeting, and movements at either end that stand apart from the set in size and in time."""
    if not found:
        return []
    ranges = {item: _measure_range(item, scale) for item in found}
    typical = float(np.median(list(ranges.values())))
    # Beside a dip that is none, what rests seems to go out.
    low = float(scale(np.array(_read_rest(found, t, out))))

    def fidgets(item: Excursion) -> bool:
        return min(ranges[item], float(scale(np.array(item.reach))) - low) < SMALLEST_SHARE * typical

    remaining = [item for item in found if not fidgets(item)]
    if not remaining:
        return []
    cycle = float(np.median([item.back_end - item.out_start for item in remaining]))
    remaining = [item for item in remaining if item.back_end - item.out_start >= SHORTEST_SHARE * cycle]

    def apart(item: Excursion, neighbour: Excursion) -> bool:
        gap = max(neighbour.out_start - item.back_end, item.out_start - neighbour.back_end)
        return gap > cycle and not STRAY_BELOW * typical <= ranges[item] <= STRAY_ABOVE * typical

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
