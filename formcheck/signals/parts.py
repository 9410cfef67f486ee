"""A clip that jumps to another picture is several pieces of film: its recording in parts, each without a cut."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from formcheck.core.model import LandmarkRecording, Mask

SHORTEST_PART_S = 1.0
"""A part that is shorter holds no whole repetition; a stroke either way takes half a second at least."""

Span = tuple[float, float]


def split_at_cuts(recording: LandmarkRecording, whole: Sequence[Span] = ()) -> tuple[LandmarkRecording, ...]:
    """The recording in parts between its cuts, in order of time and on the clip's own clock; itself without a cut.

    Parameters
    ----------
    whole : stretches of time a person says are one movement, seconds; a cut inside of one is none.

    A part too short for a repetition is left out, but never the longest.
    """
    cuts = [cut for cut in recording.scene.cuts if not any(start < cut < end for start, end in whole)]
    if not cuts or len(recording.t) < 2:
        return (recording,)
    parts = []
    for start, end in pairwise((-np.inf, *sorted(cuts), np.inf)):
        inside = (recording.t >= start) & (recording.t < end)
        if inside.sum() > 1:
            parts.append(_cut_out(recording, inside))
    lasting = [part for part in parts if _compute_length(part) >= SHORTEST_PART_S]
    return tuple(lasting) or (find_longest(parts) if parts else recording,)


def find_longest(parts: Sequence[LandmarkRecording]) -> LandmarkRecording:
    """The part that lasts longest, the earliest of several."""
    return max(parts, key=_compute_length)


def _compute_length(part: LandmarkRecording) -> float:
    return float(part.t[-1] - part.t[0])


def _cut_out(recording: LandmarkRecording, inside: Mask) -> LandmarkRecording:
    return replace(
        recording,
        t=recording.t[inside],
        pixels=recording.pixels[inside],
        world=recording.world[inside],
        visibility=recording.visibility[inside],
        sway=None if recording.sway is None else recording.sway[inside],
        scene=replace(recording.scene, cuts=()),
    )
