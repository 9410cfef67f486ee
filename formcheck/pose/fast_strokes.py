"""Whether somebody moves so fast in a chunk of a clip that more of its pictures are needed to time it."""

from itertools import pairwise

import numpy as np

from formcheck.core.model import SIDES, Array
from formcheck.reps.strokes import DriverCurve, find_middle_crossings, measure_stroke_duration
from formcheck.signals.lengths import compute_full_trunk_length
from formcheck.signals.skeleton import get_index

FAST_S = 0.4
"""A hand's stroke that seems to last less is fast. A stroke of an arm looks a quarter shorter than it is, since the
hand goes round an arc: those below 0.5 s look like at most 0.4 s (tuning sets; `tools/benchmarks/rates.py --fast`
prints how many chunks are tracked again, and how far the times of fast strokes are off with it and without)."""
LEAST_WAY = 0.5
"""Way of a hand, in trunk lengths, below which a movement is no stroke."""
LEAST_VISIBILITY = 0.5
"""Hands that are seen worse do not count: where the pose model guesses, it jumps."""
FROM_BORDER_S = 0.15
"""A stroke whose middle ends nearer to the first or last picture may be cut off, and looks shorter than it is."""
FEWEST = 8
"""Pictures below which nothing is said."""


def has_fast_stroke(t: Array, pixels: Array, visibility: Array) -> bool:
    """Whether a hand makes a fast stroke, along the picture's rows or columns, whichever it uses more.

    Parameters
    ----------
    t : (n,) seconds, increasing.
    pixels : (n, 33, 2) landmarks; NaN where nobody was found.
    visibility : (n, 33) 0..1.
    """
    from scipy.signal import medfilt

    trunk = compute_full_trunk_length(pixels)
    if not trunk > 0:
        return False
    for side in SIDES:
        wrist = get_index("wrist", side)
        seen = np.isfinite(pixels[:, wrist, 0]) & (visibility[:, wrist] >= LEAST_VISIBILITY)
        if seen.sum() < FEWEST:
            continue
        ways = pixels[seen, wrist] / trunk
        most = int(np.argmax(np.ptp(np.percentile(ways, (5, 95), axis=0), axis=0)))
        # A landmark that jumps away and back for one picture is no stroke.
        if any(seconds < FAST_S for seconds in list_stroke_durations(t[seen], medfilt(ways[:, most], 3))):
            return True
    return False


def list_stroke_durations(t: Array, way: Array) -> list[float]:
    """Seconds of each whole stroke from turn to turn, as `formcheck.reps.strokes.measure_stroke_duration` judges it.

    Parameters
    ----------
    t, way : (n,) seconds and trunk lengths.
    """
    from scipy.signal import find_peaks

    turns = [find_peaks(sign * way, prominence=LEAST_WAY)[0] for sign in (1, -1)]
    edges = [0, *sorted(int(turn) for turn in np.concatenate(turns)), len(way) - 1]
    durations = []
    for first, last in pairwise(edges):
        piece = way[first : last + 1]
        low, high = sorted((int(np.argmin(piece)), int(np.argmax(piece))))
        rising = piece if piece[high] > piece[low] else -piece
        if rising[high] - rising[low] < LEAST_WAY:
            continue
        curve, levels = DriverCurve.of(t[first : last + 1], rising), (float(rising[low]), float(rising[high]))
        begins, ends = find_middle_crossings(curve, low, high, *levels)
        if begins - t[0] >= FROM_BORDER_S and t[-1] - ends >= FROM_BORDER_S:
            durations.append(measure_stroke_duration(curve, low, high, *levels))
    return durations
