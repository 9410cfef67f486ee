"""Where the lifter stands in the picture: a set is done on the spot."""

import numpy as np

from formcheck.core.model import SIDES, Array, LandmarkRecording
from formcheck.signals.lengths import compute_full_trunk_length
from formcheck.signals.skeleton import get_index

ON_THE_SPOT = 0.8
"""Hips or a foot that move farther than this in one repetition, torso lengths, are walking: a step is longer, and on
rendered tuning sets even badly tracked feet keep within 0.6 and walkers' hips move by 1.2 and more."""
FEET_SEEN = 0.5
"""Feet less visible than this tell nothing."""


def compute_positions(
    recording: LandmarkRecording, t: Array, *, hips_still: bool, on_feet: bool = True
) -> tuple[tuple[Array, float], ...]:
    """Curves (m,) that hardly move within a repetition, each with how far it may: a foot and the hips.

    They are in torso lengths of the picture; feet move up and down in it when the lifter walks to or from the camera.
    ``hips_still``: the lift does not itself move the hips back and forth. ``on_feet``: the lifter stands or sits; the
    feet of one who lies are often hidden and then guessed anywhere. NaN where nobody was found or the feet are hidden.
    """
    hips, ankles = (
        np.stack([recording.pixels[:, get_index(part, side)] for side in SIDES]) for part in ("hip", "ankle")
    )
    length = compute_full_trunk_length(recording.pixels)
    if np.isnan(length):
        return ()
    visible = np.stack([recording.visibility[:, get_index("ankle", side)] for side in SIDES])
    better = int(np.argmax(np.median(visible, axis=1)))
    feet = np.where(visible[better, :, None] > FEET_SEEN, ankles[better], np.nan)
    curves = [feet[:, 0] / length, feet[:, 1] / length] if on_feet else []
    if hips_still:
        curves.append(hips.mean(axis=0)[:, 0] / length)
    return tuple((np.interp(t, recording.t, curve), ON_THE_SPOT) for curve in curves)
