"""How much tracked landmarks shake: what is faster than a body moves is the pose model's own doing."""

import numpy as np

from formcheck.core.model import SIDES, LandmarkRecording, Settings
from formcheck.signals.filtering import low_pass, make_uniform_grid, resample
from formcheck.signals.lengths import compute_usual_trunk_length
from formcheck.signals.skeleton import get_index

ARM_PARTS = ("shoulder", "elbow", "wrist")


def measure_jitter(recording: LandmarkRecording, settings: Settings) -> float | None:
    """Root mean square distance of the arms' landmarks from their smoothed course, in trunk lengths, 0..1.

    Both arms count, with landmarks the model calls hidden: those shake most. None where nobody is seen long enough, or
    where there are too few pictures a second to tell shaking from movement.
    """
    rate = recording.clip.frame_rate
    if len(recording.t) < 2 or not settings.cutoff_hz < 0.4 * rate:
        return None
    grid = make_uniform_grid(recording.t, rate=rate)
    parts = [get_index(part, side) for part in (*ARM_PARTS, "hip") for side in SIDES]
    raw = resample(recording.t, np.array(recording.pixels)[:, parts], grid, max_gap_s=settings.max_gap_s)
    shaking = (raw - low_pass(raw, rate, settings.cutoff_hz))[:, : 2 * len(ARM_PARTS)]
    scale = compute_usual_trunk_length(raw[:, 0:2], raw[:, 6:8])
    if not (np.isfinite(shaking).any() and scale > 0):
        return None
    return min(float(np.sqrt(2 * np.nanmean(shaking**2))) / scale, 1.0)
