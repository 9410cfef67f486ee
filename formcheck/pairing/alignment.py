"""The offset between the clocks of two recordings of one set, and how sure it is that they are of one set.

The curves of both clips (`formcheck.pairing.movement`) are laid over one another at every lag that leaves enough of the
set in both. What the curves that run alike say together picks the lag; how exactly every single stroke falls
together there tells one set from two that happen to run alike.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from formcheck.core.model import Array
from formcheck.pairing.movement import APART_S, RATE_HZ, SpeedCurves, find_strokes

LEAST_OVERLAP_S = 2.0
LEAST_SHARE = 0.5
"""A lag is plausible when this share of one clip's movement falls into the other clip."""
INDEPENDENT_HZ = 1.5
"""Independent samples a second of a lift's curve, for what a correlation is worth."""
STROKE_S, SHIFT_S = 1.0, 0.4
"""A stroke is compared over this long a stretch, and sought this far to either side."""
NEAR_S = 0.1
"""The curves of one pair of clips may have their best lags so far apart: views differ a little."""
MARGIN_FLOOR_S = 0.025
"""Cameras at different sides see the same stroke a little differently: offsets are this exact at best."""
VIEW_FLOOR_S = 0.08
"""The same for what each view reads in its own way: up to 0.07 s off in invented sets of arms opening level."""
LEAST_STROKES = 6
"""A curve counts with so many strokes."""
LEAST_CURVE_SHARE = 0.4
"""And with so much of its movement in both clips."""
PEAKS = 5
"""So many of the best lags are looked at stroke by stroke."""
LIKELY_SPREAD_S, MOST_AGAINST = 0.016, 8.0
"""How much the spread of the strokes counts against a lag, and how much at most, as a logarithm of likelihoods."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """How two clips lie on one clock."""

    offset_s: float
    """When the second clip's first picture was shown, in seconds of the first clip."""
    margin_s: float
    """Half-width of the 95 % interval of the offset."""
    correlation: float
    """Of the curve that runs most alike at this offset, over what both clips show; 1 = the same curve."""
    evidence: float
    """What all curves say for this offset: Σ -½·ln(1 - r²) over them, an independent sample."""
    lead: float
    """How much more they say for it than for the best other one, as a logarithm of likelihoods."""
    strokes: int
    """Strokes of either clip that could be laid on the other's, one by one, by the curve with most."""
    spread_s: float
    """80 % of the strokes lie this near to where the offset puts them, by the curve where they lie nearest."""
    share: float = 1.0
    """Of the movement of either clip, the part that the other shows too; the smaller of both, 0..1."""
    curves: int = 0
    """How many curves run alike."""
    found_by: Literal["movement", "sound"] = "movement"


def align(first: SpeedCurves, second: SpeedCurves, *, near: tuple[float, float] | None = None) -> Alignment | None:
    """Where two clips fit best; None when they share no stretch with movement in it.

    Parameters
    ----------
    near : offsets (seconds) between which to look; everywhere when not given.
    """
    if not len(first.speeds) or not len(second.speeds):
        return None
    lags, r, overlap_s = correlate(first, second)
    if near is not None:
        offsets = lags / RATE_HZ + first.start - second.start
        r[(offsets < near[0]) | (offsets > near[1])] = np.nan
    signed = np.array([kind.signed for kind in first.kinds])
    size = np.clip(np.where(signed, np.maximum(r, 0.0), np.abs(r)), 0.0, 0.999)
    evidence = -0.5 * np.log1p(-np.square(np.where(np.isfinite(size), size, 0.0))).sum(axis=1)
    said = evidence * np.maximum(overlap_s * INDEPENDENT_HZ, 1.0)
    peaks = _find_peaks(np.where(np.isfinite(r).any(axis=1), said, 0.0))
    if not peaks:
        return None
    r = np.where(signed, r, np.abs(r))
    worth: list[tuple[Alignment | None, float]] = []
    for index in peaks:
        if said[index] > said[peaks[0]] - MOST_AGAINST:
            found = replace(_align_at(first, second, lags, r, index), evidence=float(evidence[index]))
            worth.append((found, float(said[index]) - min(0.5 * (found.spread_s / LIKELY_SPREAD_S) ** 2, MOST_AGAINST)))
        else:
            worth.append((None, float(said[index]) - MOST_AGAINST))
    (best, most), *others = sorted(worth, key=lambda item: -item[1])
    return None if best is None else replace(best, lead=most - max((other for _, other in others), default=0.0))


def _find_peaks(values: Array) -> list[int]:
    """Indices of the highest values above 0, no two of them nearer than `APART_S`."""
    left, near = values.copy(), round(APART_S * RATE_HZ)
    found: list[int] = []
    while len(found) < PEAKS:
        best = int(np.argmax(left))
        if left[best] <= 0:
            break
        found.append(best)
        left[max(0, best - near) : best + near] = -1.0
    return found


@dataclass(frozen=True, slots=True)
class _CurveOffset:
    """The offset by one curve, at a lag of its own."""

    correlation: float
    offset_s: float
    strokes: int
    spread_s: float
    share: float
    exact: bool

    @property
    def weight(self) -> float:
        """Of its offset among those of the other curves: the inverse of its variance."""
        floor = MARGIN_FLOOR_S if self.exact else VIEW_FLOOR_S
        return 1.0 / (self.spread_s**2 / max(self.strokes, 1) + (floor / 1.96) ** 2)


def _align_at(first: SpeedCurves, second: SpeedCurves, lags: Array, r: Array, index: int) -> Alignment:
    """The alignment next to a lag: the weighted mean of the offsets of the curves that run alike there."""
    reach = round(NEAR_S * RATE_HZ)
    begin = max(index - reach, 0)
    near = r[begin : index + reach + 1]
    seen: list[_CurveOffset] = []
    for column, kind in enumerate(first.kinds):
        if not np.isfinite(near[:, column]).any():
            continue
        best = begin + int(np.nanargmax(near[:, column]))
        a, b, lag = first.speeds[:, column], second.speeds[:, column], int(lags[best])
        offset = (lag + _find_vertex(r[:, column], best)) / RATE_HZ + first.start - second.start
        alike, share = float(r[best, column]), _compute_share(a, b, lag)
        strokes = _NO_STROKES
        if alike >= kind.least and share >= LEAST_CURVE_SHARE:
            strokes = _compare_strokes(a, b if kind.signed else _turn_alike(a, b, lag), lag)
            if strokes.count >= LEAST_STROKES:
                offset = (lag - strokes.later) / RATE_HZ + first.start - second.start
        seen.append(_CurveOffset(alike, float(offset), strokes.count, strokes.spread_s, share, kind.exact))
    best_seen = max(seen, key=lambda one: one.correlation)
    alike_seen = [one for one in seen if one.strokes >= LEAST_STROKES]
    if not alike_seen:
        return Alignment(best_seen.offset_s, SHIFT_S, best_seen.correlation, 0.0, 0.0, best_seen.strokes, SHIFT_S,
                         best_seen.share)  # fmt: skip
    nearest = min(alike_seen, key=lambda one: one.spread_s)
    weights = np.array([one.weight for one in alike_seen])
    offset = float(weights @ [one.offset_s for one in alike_seen] / weights.sum())
    floor = MARGIN_FLOOR_S if any(one.exact for one in alike_seen) else VIEW_FLOOR_S
    margin = float(np.hypot(1.96 * nearest.spread_s / np.sqrt(nearest.strokes), floor))
    share = float(np.median([one.share for one in alike_seen]))
    most = max(one.strokes for one in alike_seen)
    return Alignment(offset, margin, best_seen.correlation, 0.0, 0.0, most, nearest.spread_s, share,
                     len(alike_seen))  # fmt: skip


def correlate(first: SpeedCurves, second: SpeedCurves) -> tuple[Array, Array, Array]:
    """Every lag in samples (L,), each curve's correlation there (L, c), NaN where too little overlaps, and the overlap
    in seconds (L,).

    At lag k, sample i of the second clip is laid on sample i + k of the first. The correlation is normalised over what
    both show at that lag: Σab / √(Σa²·Σb²).
    """
    from scipy.signal import fftconvolve

    a, a_seen = _fill_unknown(first.speeds)
    b, b_seen = _fill_unknown(second.speeds)
    lags = np.arange(-len(b) + 1, len(a), dtype=float)

    def slide(x: Array, y: Array) -> Array:
        return np.asarray(fftconvolve(x, y[::-1], axes=0))

    product, energy_a, energy_b = slide(a, b), slide(a**2, b_seen), slide(a_seen, b**2)
    overlap_s = slide(a_seen, b_seen) / RATE_HZ
    share = np.maximum(
        energy_a / np.maximum((a**2).sum(axis=0), 1e-12), energy_b / np.maximum((b**2).sum(axis=0), 1e-12)
    )
    enough = (overlap_s >= LEAST_OVERLAP_S) & (share >= LEAST_SHARE)
    norm = np.sqrt(np.maximum(energy_a, 0) * np.maximum(energy_b, 0))
    r = np.where(enough & (norm > 1e-9), product / np.maximum(norm, 1e-9), np.nan)
    return lags, r, overlap_s.max(axis=1)


# ---------------------------------------------------------------- inside


def _compute_share(a: Array, b: Array, lag: int) -> float:
    """Part of the movement of either curve (m,), as the energy of its speed, that falls into the other at a lag."""
    a, b = np.square(np.nan_to_num(a)), np.square(np.nan_to_num(b))
    begin, end = max(lag, 0), min(len(a), len(b) + lag)
    shares = (a[begin:end].sum() / max(a.sum(), 1e-12), b[begin - lag : end - lag].sum() / max(b.sum(), 1e-12))
    return float(min(shares))


def _turn_alike(a: Array, b: Array, lag: int) -> Array:
    """The second curve, or its opposite where that runs alike with the first at a lag."""
    begin, end = max(lag, 0), min(len(a), len(b) + lag)
    return b if np.nansum(a[begin:end] * b[begin - lag : end - lag]) >= 0 else -b


def _fill_unknown(speeds: Array) -> tuple[Array, Array]:
    seen = np.isfinite(speeds)
    return np.where(seen, speeds, 0.0), seen.astype(float)


def _find_vertex(values: Array, index: int) -> float:
    """Where the parabola through a peak and its neighbours has its vertex, in samples from the peak."""
    if not 0 < index < len(values) - 1:
        return 0.0
    before, here, after = values[index - 1 : index + 2]
    bend = before - 2 * here + after
    shift = 0.5 * (before - after) / bend if np.isfinite(bend) and bend < 0 else 0.0
    return float(np.clip(shift, -1.0, 1.0))


@dataclass(frozen=True, slots=True)
class _Strokes:
    """The strokes of two curves at a lag."""

    count: int
    """Of either curve that could be laid on the other's."""
    spread_s: float
    """80 % of them lie this near to where most of their direction lie."""
    later: float
    """How much later they are in the second curve, samples."""


_NO_STROKES = _Strokes(0, SHIFT_S, 0.0)


def _compare_strokes(a: Array, b: Array, lag: int) -> _Strokes:
    """The strokes of two curves (m,) held against one another at a lag.

    Strokes up and strokes down each have a median of their own: an arm that rises towards one camera is seen larger at
    its top, which moves all strokes up one way and all strokes down the other. The mean of both is left as it was.
    """
    begin, end = max(lag, 0), min(len(a), len(b) + lag)
    a, b = np.nan_to_num(a[begin:end]), np.nan_to_num(b[begin - lag : end - lag])
    there, back = _find_stroke_shifts(a, b), _find_stroke_shifts(b, a)
    back[:, 0] *= -1
    shifts = np.concatenate([there, back])
    off: list[float] = []
    medians: list[float] = []
    for up in (False, True):
        same = shifts[(shifts[:, 1] > 0) == up, 0]
        if len(same):
            medians.append(float(np.median(same)))
            off.extend(np.abs(same - medians[-1]))
    if not off:
        return _NO_STROKES
    return _Strokes(len(off), float(np.percentile(off, 80)) / RATE_HZ, float(np.mean(medians)))


def _find_stroke_shifts(a: Array, b: Array) -> Array:
    """(k, 2) for each stroke of a: how much later it is in b, samples, and its direction."""
    half, reach = round(STROKE_S / 2 * RATE_HZ), round(SHIFT_S * RATE_HZ)
    if len(a) < 2 * (half + reach):
        return np.empty((0, 2))
    strokes = find_strokes(a)
    strokes = strokes[(strokes >= half + reach) & (strokes + half + reach <= len(b))]
    windows = sliding_window_view(b, 2 * half)
    near = windows[strokes[:, None] - half - reach + np.arange(2 * reach + 1)]  # (stroke, shift, time)
    own = a[strokes[:, None] + np.arange(-half, half)]
    curve = np.einsum("ksw,kw->ks", near, own) / (np.sqrt(np.square(near).sum(axis=2)) + 1e-9)
    best = curve.argmax(axis=1)
    shifts = [at - reach + _find_vertex(row, at) for row, at in zip(curve, best, strict=True)]
    return np.column_stack([shifts, own.sum(axis=1)]).reshape(-1, 2)
