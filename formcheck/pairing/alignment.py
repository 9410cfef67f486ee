"""The offset between the clocks of two recordings of one set, from the movement or the sound.

From any camera that stands upright, what goes up goes up: the heights of the body's points in the picture run alike in
every clip of a set, whatever side it was filmed from. Their speeds are laid over one another at every lag that
leaves enough of the set in both clips.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.signal import fftconvolve, find_peaks

from formcheck.core.model import SIDES, Array, LandmarkRecording
from formcheck.signals.filtering import differentiate, low_pass, make_uniform_grid, resample
from formcheck.signals.skeleton import get_index

RATE_HZ = 100.0
"""Both clips are brought to this rate; between two samples the offset is read from the parabola at the peak."""
CUTOFF_HZ = 4.0
"""The strokes of a lift lie below this; landmark noise, which differs from camera to camera, mostly above."""
MAX_GAP_S = 0.25
LEAST_OVERLAP_S = 2.0
LEAST_SHARE = 0.5
"""A lag is plausible when this share of one clip's movement falls into the other clip."""
APART_S = 0.4
"""Lags nearer to one another than this belong to the same peak."""
INDEPENDENT_HZ = 1.5
"""Independent samples a second of a lift's curve, for what a difference of two correlations is worth."""
STROKE_S, SHIFT_S = 1.0, 0.4
"""A stroke is compared over this long a stretch, and sought this far to either side."""
MARGIN_FLOOR_S = 0.025
"""Cameras at different sides see the same stroke a little differently: offsets are this exact at best."""
ANGLE_FLOOR_S = 0.08
"""The same for angles each view reads in its own way: up to 0.07 s off in invented sets of arms opening level."""
LEAST_STROKES, LEAST_CORRELATION, MOST_SPREAD_S, LEAST_ODDS, SAME_SHARE = 6, 0.55, 0.07, 0.95, 0.75
"""From 60 rendered pairs and 440 of different sets of one exercise (`tools/benchmarks/two_cameras.py`). Two sets that
happen to run alike do so over a part of them: with three quarters of the movement of both clips in common and one
offset much likelier than any other, strokes of different sets lie 0.077 s apart or more, those of 95 % of the same
sets less than 0.07 s."""
PART_CORRELATION, PART_SPREAD_S = 0.95, 0.02
"""So much alike must the movement be where the clips share less; of the 440 none was."""
PEAKS = 6
"""So many of the best lags are looked at stroke by stroke."""
LIKELY_SPREAD_S, MOST_AGAINST = 0.016, 8.0
"""How much the spread of the strokes counts against a lag, and how much at most, as a logarithm of likelihoods."""
SPREAD_SCALE_S, CHANCE_PER_S2 = 0.025, 0.5
"""From the same sets: spreads of the same set fall off exponentially with this scale; 1 in 100 of different sets share
so much, and their spreads rise with k·s, 2k·0.01·s to 0.2 s."""
FLOOR_PERCENTILE = 20.0
"""Sound quieter than in this share of the clip counts as the room's noise."""
PARTS = ("shoulder", "elbow", "wrist", "hip", "knee")


@dataclass(frozen=True, eq=False)
class SpeedCurve:
    """Speeds of one clip on an even grid.

    Parameters
    ----------
    start : seconds of the clip at the first sample; samples follow at `RATE_HZ`.
    speeds : (m, c) any unit; NaN where unknown.
    """

    start: float
    speeds: Array
    same_quantity: bool = True
    """Every camera sees the very same quantity; not so for an angle each view reads in a way of its own."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """How two clips lie on one clock."""

    offset_s: float
    """When the second clip's first picture was shown, in seconds of the first clip."""
    margin_s: float
    """Half-width of the 95 % interval of the offset."""
    correlation: float
    """Of the speeds at this offset, over what both clips show; 1 = the same curve."""
    odds: float
    """How sure this offset is against the best other one, 0..1."""
    strokes: int
    """Strokes of either clip that could be laid on the other's, one by one."""
    spread_s: float
    """80 % of the strokes lie this near to where the offset puts them."""
    share: float = 1.0
    """Of the movement of either clip, the part that the other shows too; the smaller of both, 0..1."""
    same_quantity: bool = True
    """Both curves show the very same quantity."""
    found_by: Literal["movement", "sound"] = "movement"

    @property
    def confidence(self) -> float:
        """How sure it is that both clips show the same set at this offset, 0..1.

        Two lifts of one kind run much alike; what tells them apart is how exactly every single stroke falls together.
        Spreads of the same set fall off exponentially, those of different sets rise with k·s (both from rendered
        sets), and nine of ten pairs offered are the same set.
        """
        spread = max(self.spread_s, 0.001)
        likelihood = np.exp(-spread / SPREAD_SCALE_S) / SPREAD_SCALE_S / (CHANCE_PER_S2 * spread)
        return float(self.odds * 9 * likelihood / (1 + 9 * likelihood))


def compute_height_speeds(recording: LandmarkRecording) -> SpeedCurve:
    """How fast shoulders, elbows, wrists, hips and knees rise in the picture, the better seen side counting more."""
    columns, visible = _list_heights(recording)
    weight = (
        visible**2 + 1e-9
    )  # one weight a clip: one that changes from frame to frame would itself look like movement
    mean = (columns * weight).sum(axis=2) / weight.sum(axis=1)
    grid = _make_grid(recording.t)
    return SpeedCurve(float(grid[0]), _compute_speeds(recording.t, mean, grid))


def compute_side_speeds(first: LandmarkRecording, second: LandmarkRecording) -> tuple[SpeedCurve, SpeedCurve]:
    """How fast the points of either side rise in two clips, what both see well counting more: for arms in turn."""
    columns, visible = zip(*(_list_heights(recording) for recording in (first, second)), strict=True)
    weight = np.sqrt(visible[0] * visible[1])
    curves = []
    for recording, heights in zip((first, second), columns, strict=True):
        grid = _make_grid(recording.t)
        values = (heights * weight).reshape(len(heights), -1)
        curves.append(SpeedCurve(float(grid[0]), _compute_speeds(recording.t, values, grid)))
    return curves[0], curves[1]


def compute_driver_speed(t: Array, driver: Array) -> SpeedCurve:
    """The speed of a driver signal (m,) at times t, which tells most in lifts in which little goes up or down."""
    grid = _make_grid(t)
    return SpeedCurve(float(grid[0]), _compute_speeds(t, driver[:, None], grid), same_quantity=False)


def compute_loudness_rise(start_s: float, samples: Array, rate_hz: float) -> SpeedCurve:
    """How fast the level of a clip's sound rises, in decibels a sample of the grid; falling levels count as none.

    Parameters
    ----------
    start_s : time of the first sample in seconds of the clip.
    samples : (n,) mono, at least one window long.
    """
    window = round(rate_hz / RATE_HZ)
    blocks = samples[: len(samples) // window * window].reshape(-1, window)
    power = np.convolve((blocks**2).mean(axis=1), np.ones(3) / 3, mode="same")
    if not len(power):
        return SpeedCurve(start_s, np.zeros((0, 1)))
    floor = max(float(np.percentile(power, FLOOR_PERCENTILE)), 1e-10)
    level = 10.0 * np.log10(power + floor)
    rise = np.maximum(np.diff(level, prepend=level[0]), 0.0)
    smooth = np.convolve(rise, np.hanning(7) / 3, mode="same")
    return SpeedCurve(start_s + 0.5 * window / rate_hz, (smooth - smooth.mean())[:, None])


def align(first: SpeedCurve, second: SpeedCurve, *, near: tuple[float, float] | None = None) -> Alignment | None:
    """Where the two curves fit best; None when they share no stretch with movement in it.

    Parameters
    ----------
    near : offsets (seconds) between which to look; everywhere when not given.
    """
    if not len(first.speeds) or not len(second.speeds):
        return None
    lags, r, overlap_s = correlate(first, second)
    if near is not None:
        offsets = lags / RATE_HZ + first.start - second.start
        r = np.where((offsets >= near[0]) & (offsets <= near[1]), r, np.nan)
    if not np.isfinite(r).any():
        return None
    candidates = [_align_at(first, second, lags, r, overlap_s, index) for index in _find_peaks(r)]
    if not candidates:
        return None
    (best, likelihood), *others = sorted(candidates, key=lambda item: -item[1])
    apart = likelihood - max((other for _, other in others), default=0.0)
    return replace(best, odds=float(1.0 / (1.0 + np.exp(-np.clip(apart, -50.0, 50.0)))))


def _find_peaks(r: Array) -> list[int]:
    """Indices of the highest correlations, no two of them nearer than `APART_S`."""
    left = np.where(np.isfinite(r), r, -1.0)
    found: list[int] = []
    while len(found) < PEAKS:
        best = int(np.argmax(left))
        if left[best] <= 0:
            break
        found.append(best)
        left[max(0, best - round(APART_S * RATE_HZ)) : best + round(APART_S * RATE_HZ)] = -1.0
    return found


def _align_at(
    first: SpeedCurve, second: SpeedCurve, lags: Array, r: Array, overlap_s: Array, index: int
) -> tuple[Alignment, float]:
    """The alignment at one lag, and its log likelihood.

    That of a Gaussian remainder, -n/2·ln(1 - r²), and that of the strokes' spread.
    """
    offset = (lags[index] + _find_vertex(r, index)) / RATE_HZ + first.start - second.start
    strokes, spread = _compute_stroke_spread(first, second, int(lags[index]))
    same_quantity = first.same_quantity and second.same_quantity
    floor = MARGIN_FLOOR_S if same_quantity else ANGLE_FLOOR_S
    margin = float(np.hypot(1.96 * spread / np.sqrt(max(strokes, 1)), floor))
    n = max(overlap_s[index] * INDEPENDENT_HZ, 1.0)
    likelihood = -0.5 * n * np.log1p(-(min(float(r[index]), 0.999) ** 2))
    likelihood -= min(0.5 * (spread / LIKELY_SPREAD_S) ** 2, MOST_AGAINST)
    share = _compute_share(first, second, int(lags[index]))
    found = Alignment(float(offset), margin, float(r[index]), 0.0, strokes, spread, share, same_quantity)
    return found, float(likelihood)


Mismatch = Literal["too-little-shared", "other-movement", "several-offsets"]


def find_mismatch(found: Alignment | None, *, heard: bool = False) -> Mismatch | None:
    """Why two clips are not taken for the same set; None when they are.

    heard : the sound of both clips gave the offset; then they need not show most of the set.
    """
    if found is None or found.strokes < LEAST_STROKES:
        return "too-little-shared"
    if found.correlation < LEAST_CORRELATION or found.spread_s > MOST_SPREAD_S:
        return "other-movement"
    if found.odds < LEAST_ODDS:
        return "several-offsets"
    alike = found.correlation >= PART_CORRELATION and found.spread_s <= PART_SPREAD_S
    return None if heard or alike or found.share >= SAME_SHARE else "too-little-shared"


def correlate(first: SpeedCurve, second: SpeedCurve) -> tuple[Array, Array, Array]:
    """Every lag in samples, the correlation there (NaN where too little overlaps), and the overlap in seconds.

    At lag k, sample i of the second curve is laid on sample i + k of the first. The correlation is normalised
    over what both show at that lag: Σab / √(Σa²·Σb²) over samples and columns.
    """
    a, a_seen = _fill_unknown(first.speeds)
    b, b_seen = _fill_unknown(second.speeds)
    lags = np.arange(-len(b) + 1, len(a), dtype=float)

    def slide(x: Array, y: Array) -> Array:
        return np.asarray(fftconvolve(x, y[::-1], axes=0).sum(axis=1))

    product, energy_a, energy_b = slide(a, b), slide(a**2, b_seen), slide(a_seen, b**2)
    overlap_s = slide(a_seen[:, :1], b_seen[:, :1]) / RATE_HZ
    share = np.maximum(energy_a / max((a**2).sum(), 1e-12), energy_b / max((b**2).sum(), 1e-12))
    enough = (overlap_s >= LEAST_OVERLAP_S) & (share >= LEAST_SHARE)
    norm = np.sqrt(np.maximum(energy_a, 0) * np.maximum(energy_b, 0))
    r = np.where(enough & (norm > 1e-9), product / np.maximum(norm, 1e-9), np.nan)
    return lags, r, overlap_s


# ---------------------------------------------------------------- inside


def _make_grid(t: Array) -> Array:
    return np.arange(float(t[0]), float(t[-1]), 1.0 / RATE_HZ)


def _list_heights(recording: LandmarkRecording) -> tuple[Array, Array]:
    """(n, part, side) heights in the picture, and (part, side) how well each is seen, the median over the clip."""
    points = [[get_index(part, side) for side in SIDES] for part in PARTS]
    return -recording.pixels[:, points, 1], np.median(recording.visibility[:, points], axis=0)


def _compute_share(first: SpeedCurve, second: SpeedCurve, lag: int) -> float:
    """Part of the movement of either clip, as the energy of its speeds, that falls into the other at a lag."""
    a, b = (np.square(_fill_unknown(curve.speeds)[0]).sum(axis=1) for curve in (first, second))
    begin, end = max(lag, 0), min(len(a), len(b) + lag)
    shares = (a[begin:end].sum() / max(a.sum(), 1e-12), b[begin - lag : end - lag].sum() / max(b.sum(), 1e-12))
    return float(min(shares))


def _compute_speeds(t: Array, values: Array, grid: Array) -> Array:
    rate = (len(t) - 1) / float(t[-1] - t[0])
    own = make_uniform_grid(t, rate=rate)
    smooth = low_pass(resample(t, values, own, max_gap_s=MAX_GAP_S), rate, CUTOFF_HZ)
    return differentiate(resample(own, smooth, grid, max_gap_s=MAX_GAP_S), 1.0 / RATE_HZ)


def _fill_unknown(speeds: Array) -> tuple[Array, Array]:
    seen = np.isfinite(speeds)
    return np.where(seen, speeds, 0.0), seen.astype(float)


def _find_vertex(values: Array, index: int) -> float:
    """Where the parabola through a peak and its neighbours has its vertex, in samples from the peak."""
    if not 0 < index < len(values) - 1:
        return 0.0
    before, here, after = values[index - 1 : index + 2]
    bend = before - 2 * here + after
    return float(0.5 * (before - after) / bend) if np.isfinite(bend) and bend < 0 else 0.0


def _compute_stroke_spread(first: SpeedCurve, second: SpeedCurve, lag: int) -> tuple[int, float]:
    """How many strokes of either clip were laid on the other's at this lag, and 80 % of them lie how near, seconds.

    Strokes up and strokes down are each held against their own median: an arm that rises towards one camera is seen
    larger at its top, which moves all strokes up one way and all strokes down the other.
    """
    begin, end = max(lag, 0), min(len(first.speeds), len(second.speeds) + lag)
    a, b = _fill_unknown(first.speeds[begin:end])[0], _fill_unknown(second.speeds[begin - lag : end - lag])[0]
    there, back = _find_stroke_shifts(a, b), _find_stroke_shifts(b, a)
    back[:, 0] *= -1
    shifts = np.concatenate([there, back])
    off: list[float] = []
    for up in (False, True):
        same = shifts[(shifts[:, 1] > 0) == up, 0]
        off.extend(np.abs(same - np.median(same)) if len(same) else [])
    return len(off), float(np.percentile(off, 80)) if off else SHIFT_S


def _find_stroke_shifts(a: Array, b: Array) -> Array:
    """(k, 2) for each stroke of a: how much later it is in b, seconds, and its direction."""
    half, reach = round(STROKE_S / 2 * RATE_HZ), round(SHIFT_S * RATE_HZ)
    energy = np.convolve((a**2).sum(axis=1), np.hanning(21) / 10, mode="same")
    if len(energy) < 2 * (half + reach):
        return np.empty((0, 2))
    usual = float(np.percentile(energy, 98))
    strokes, _ = find_peaks(energy, prominence=0.15 * usual, distance=round(APART_S * RATE_HZ))
    shifts = []
    for middle in strokes:
        left, right = middle - half, middle + half
        if left < reach or right + reach > len(b):
            continue
        near = sliding_window_view(b[left - reach : right + reach], 2 * half, axis=0)  # (shift, column, time)
        norm = np.sqrt((near**2).sum(axis=(1, 2))) + 1e-9
        curve = np.einsum("kct,tc->k", near, a[left:right]) / norm
        best = int(np.argmax(curve))
        shifts.append(((best - reach + _find_vertex(curve, best)) / RATE_HZ, a[left:right].sum()))
    return np.array(shifts).reshape(-1, 2)
