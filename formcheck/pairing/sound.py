"""Sound as a course that can be laid over another: where it becomes louder."""

import numpy as np

from formcheck.core.model import Array
from formcheck.pairing.alignment import RATE_HZ, SpeedCurve

FLOOR_PERCENTILE = 20.0
"""Quieter than this share of the clip counts as the room's noise."""


def loudness_course(start_s: float, samples: Array, rate_hz: float) -> SpeedCurve:
    """How fast the level rises, in decibels a sample of the grid; falling levels count as none.

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
