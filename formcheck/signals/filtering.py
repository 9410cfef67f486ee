"""Time series in general: uniform grid, gaps, zero-phase low-pass, derivative. Knows no body part."""

from collections import defaultdict
from collections.abc import Iterable
from functools import lru_cache

import numpy as np

from formcheck.core.model import Array, Mask


def make_uniform_grid(t: Array, *, rate: float) -> Array:
    """Evenly spaced times from the first to the last of ``t`` (n,), about ``rate`` samples a second."""
    if len(t) < 2:
        return np.array(t, dtype=float)
    steps = max(1, round((t[-1] - t[0]) * rate))
    return np.linspace(t[0], t[-1], steps + 1)


def resample(t: Array, values: Array, grid: Array, *, max_gap_s: float) -> Array:
    """Values (n, ...) at times t (n,) → linear interpolation at ``grid`` (m,); gaps longer than ``max_gap_s`` stay NaN.

    A gap is the time between two neighbouring finite samples of one column; before the first and after the
    last finite sample everything is NaN.
    """
    flat = np.reshape(values, (len(t), -1))
    out = np.full((len(grid), flat.shape[1]), np.nan)
    for columns in _list_columns_alike(flat):
        good = np.isfinite(flat[:, columns[0]])
        if good.sum() < 2:
            continue
        known = t[good]
        missing = _find_holes(known, grid, max_gap_s)
        for column in columns:
            line = np.interp(grid, known, flat[good, column], left=np.nan, right=np.nan)
            line[missing] = np.nan
            out[:, column] = line
    return out.reshape((len(grid), *np.shape(values)[1:]))


def _list_columns_alike(flat: Array) -> Iterable[list[int]]:
    """The columns of (n, k) values, those that are known at the same times together."""
    alike: dict[bytes, list[int]] = defaultdict(list)
    for column, known in enumerate(np.isfinite(flat).T):
        alike[known.tobytes()].append(column)
    return alike.values()


def _find_holes(known: Array, grid: Array, max_gap_s: float) -> Mask:
    """(m,) which times of the grid lie in a gap between two of the known times (n,) that is too long."""
    after = np.clip(np.searchsorted(known, grid), 1, len(known) - 1)
    hole = (known[after] - known[after - 1]) > max_gap_s
    if hole.any():
        hole &= ~(np.isclose(grid, known[after]) | np.isclose(grid, known[after - 1]))
    return np.asarray(hole)


def compute_dual_pass_cutoff(cutoff_hz: float, rate_hz: float) -> float:
    """Design cut-off, in Hz, of a second-order Butterworth filter with gain 0.7071 at ``cutoff_hz`` after two passes.

    C = (2^(1/2) - 1)^(1/4) = 0.802; the correction applies to tan(π·fc/fs), not to fc itself:
    fc' = fs/π · atan(tan(π·fc/fs)/C). Source: Robertson & Dowling 2003, J Electromyogr Kinesiol 13:569
    (eq. 1); Winter, Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3 (from memory).
    """
    correction = (2**0.5 - 1) ** 0.25
    return float(rate_hz / np.pi * np.arctan(np.tan(np.pi * cutoff_hz / rate_hz) / correction))


def low_pass(values: Array, rate_hz: float, cutoff_hz: float) -> Array:
    """Zero-phase second-order Butterworth low-pass along axis 0, run forwards and backwards; NaN stretches stay NaN.

    Gain is 0.7071 at ``cutoff_hz`` after both passes. A cut-off too near half the rate to act returns the
    values as they are. Stretches shorter than four samples are kept unfiltered.
    """
    from scipy.signal import sosfiltfilt

    if not cutoff_hz < 0.4 * rate_hz:
        return np.array(values)
    sos = _design_filter(cutoff_hz, rate_hz)
    flat = np.reshape(values, (len(values), -1))
    out = np.array(flat)
    # Columns known at the same times are filtered in one call: the same bits, many times quicker.
    for columns in _list_columns_alike(flat):
        for first, last in find_finite_stretches(flat[:, columns[0]]):
            length = last - first
            if length >= 4:
                pad = min(length - 1, round(rate_hz))
                out[first:last, columns] = sosfiltfilt(sos, flat[first:last, columns], axis=0, padlen=pad)
    return out.reshape(np.shape(values))


@lru_cache(64)
def _design_filter(cutoff_hz: float, rate_hz: float) -> Array:
    """Second-order sections of the filter of `low_pass`."""
    from scipy.signal import butter

    return np.asarray(butter(2, compute_dual_pass_cutoff(cutoff_hz, rate_hz), fs=rate_hz, output="sos"))


def differentiate(values: Array, step: float) -> Array:
    """First derivative by (x[i+1] - x[i-1]) / (2·step), one-sided at the ends; same shape, unit a ``step`` unit."""
    if len(values) < 2:
        return np.zeros_like(values)
    return np.gradient(values, step, axis=0)


def mark_inside(t: Array, stretches: Iterable[tuple[float, float]]) -> Mask:
    """(n,) whether each time lies in one of the stretches, ends included."""
    inside = np.zeros(len(t), dtype=bool)
    for start, end in stretches:
        inside |= (t >= start) & (t <= end)
    return inside


def find_finite_stretches(values: Array) -> list[tuple[int, int]]:
    """Half-open index ranges of unbroken finite values of a (n,) array."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.isfinite(values).astype(int), [0]))))
    return [(int(first), int(last)) for first, last in edges.reshape(-1, 2)]
