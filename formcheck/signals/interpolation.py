"""Where the body is at any moment of a clip: not every picture is tracked, and every one shows the skeleton."""

import numpy as np

from formcheck.core.model import Array, LandmarkRecording

BRIDGED_S = 0.25
"""Between pictures farther apart nothing is known of the body."""


def compute_landmarks_at(recording: LandmarkRecording, t: float) -> tuple[Array, Array] | None:
    """Landmarks (33, 2), pixels, and visibility (33,) at a moment, seconds; None where no picture near it was tracked.

    On the straight line between the tracked pictures before and after it; where the body was found in one of them only,
    as in the nearer one.
    """
    times = recording.t
    if len(times) == 0:
        return None
    after = int(np.clip(np.searchsorted(times, t), 0, len(times) - 1))
    before = max(0, after - 1) if times[after] > t else after
    nearer = before if t - times[before] <= times[after] - t else after
    apart = float(times[after] - times[before])
    if abs(float(times[nearer]) - t) > BRIDGED_S / 2:
        return None
    pixels, visibility = recording.pixels[nearer], recording.visibility[nearer]
    found = np.isfinite(recording.pixels[[before, after]]).all()
    if before == after or not found or apart > BRIDGED_S:
        return pixels, visibility
    share = (t - float(times[before])) / apart
    return (1 - share) * recording.pixels[before] + share * recording.pixels[after], visibility
