"""How smoothly one stroke runs, from its speed alone. Knows no body part.

Speeds that come from a review are low-passed at `Settings.cutoff_hz` (6 Hz) before they get here: a ripple above
it, as of a fast tremor, is gone, and only slower unsteadiness (a halt, a second push, a shake of a few Hz) counts.
"""

import numpy as np

from formcheck.core.model import Array

CUTOFF_HZ = 10.0
"""Highest frequency the spectrum is read to (Balasubramanian et al. 2015)."""
AMPLITUDE_THRESHOLD = 0.05
"""Share of the spectrum's largest value down to which it is read (Balasubramanian et al. 2015)."""
PAD_LEVEL = 4
"""Powers of two the speed is lengthened by with zeros (Balasubramanian et al. 2015)."""


def compute_spectral_arc_length(speed: Array, rate_hz: float) -> float:
    """Spectral arc length of a stroke: 0 = smoothest, the more negative the less smooth; no unit.

    The length of the curve that the speed's Fourier magnitude, scaled to its own largest value, draws from 0 Hz to
    the last frequency (10 Hz at most) at which it reaches 5 %, with that frequency span scaled to 1:
    -sum(sqrt((df/span)^2 + dM^2)). A one-push minimum-jerk stroke has -1.40, two in a row -2.24. It depends
    neither on the stroke's size nor on its duration, and does not see a ripple below 5 % of the speed's spectrum.

    Parameters
    ----------
    speed : (n,) speed of one stroke in any unit, evenly sampled, no NaN.
    rate_hz : samples a second.

    NaN when the stroke has fewer than four samples or does not move.
    Source: Balasubramanian, Melendez-Calderon, Burdet 2012, IEEE Trans Biomed Eng 59:2126; Balasubramanian et al.
    2015, J NeuroEng Rehabil 12:112 (adaptive cut-off 10 Hz, threshold 0.05, padding level 4).
    """
    if len(speed) < 4 or not np.any(speed):
        return float("nan")
    size = 2 ** (int(np.ceil(np.log2(len(speed)))) + PAD_LEVEL)
    magnitude = np.abs(np.fft.rfft(speed, size))
    frequency = np.fft.rfftfreq(size, 1 / rate_hz)
    magnitude = (magnitude / magnitude.max())[frequency <= CUTOFF_HZ]
    last = int(np.flatnonzero(magnitude >= AMPLITUDE_THRESHOLD)[-1])
    if last == 0:
        return float("nan")
    return float(-np.sum(np.hypot(1 / last, np.diff(magnitude[: last + 1]))))
