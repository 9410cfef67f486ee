"""Which arm tells the repetitions: both together, unless one of them is seen far worse than the other."""

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, Side, Signals
from formcheck.core.vocabulary import SIGNALS
from formcheck.signals.filtering import low_pass

MOVEMENT_HZ = 1.5
"""A repetition is slower than this; what is quicker is the shaking of landmarks."""
CLEARER, UNCLEAR = 1.4, 20.0
"""One arm speaks for both when its movement stands out of its shaking so many times as clearly as the other's, and
the other's by less than so many times."""
MOST_OF_THE_RANGE = (10.0, 90.0)


def choose_clearer_side(signals: Signals, name: str, view: CameraView) -> Side | None:
    """The arm whose curve alone tells the repetitions, None for both together.

    From a half angle one arm often points at the camera or is behind the body: its curve shakes, and the mean of both
    does. From the side the nearer arm is taken anyway.

    Parameters
    ----------
    signals : curves on an even grid.
    name : the driver's curve.
    """
    if not SIGNALS[name].sided or view.name in SIDES:
        return None
    clear = {side: measure_clearness(signals.t, signals.get(name, side)) for side in SIDES}
    better, worse = max(SIDES, key=lambda side: clear[side]), min(clear.values())
    return better if worse < UNCLEAR and clear[better] > CLEARER * worse else None


def measure_clearness(t: Array, curve: Array) -> float:
    """Range of a curve's slow movement over the root mean square of its shaking; 0 where it is not seen."""
    seen = np.isfinite(curve)
    if seen.sum() < 4 or not np.ptp(curve[seen]):
        return 0.0
    line = np.interp(t, t[seen], curve[seen])
    slow = low_pass(line, 1 / float(t[1] - t[0]), MOVEMENT_HZ)
    shaking = float(np.sqrt(np.mean((line - slow) ** 2)))
    return float(np.ptp(np.percentile(slow, MOST_OF_THE_RANGE))) / max(shaking, 1e-9)
