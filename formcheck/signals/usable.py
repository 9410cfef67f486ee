"""Whether a recording can be reviewed at all: a body in it, long enough, with enough pictures a second."""

from dataclasses import asdict

import numpy as np

from formcheck.core.model import LandmarkRecording, Mask, QualityProblem
from formcheck.signals.skeleton import INDEX

LEAST_FOUND_S = 1.0
"""A body that is never followed for so long, in less than half of the pictures, is none: in test patterns the pose
model sees one for up to three pictures running."""
BRIDGED_S = 0.25
"""Pictures without the body that last no longer do not end this time."""
SHORTEST_S = 2.0
"""A clip that is shorter holds no repetition with the rest before and after it: a quick one takes a second and a half
(common practice)."""
FEWEST_A_SECOND = 10.0
"""Lifting has its movement below 5 Hz; sampling needs more than twice that (sampling theorem)."""


def find_clip_problems(recording: LandmarkRecording) -> tuple[QualityProblem, ...]:
    """What makes a review of the recording impossible, at most one problem; empty where a body can be followed."""
    count = len(recording.t)
    found = np.isfinite(recording.pixels[:, INDEX["nose"], 0])
    share = float(found.mean()) if count else 0.0
    if not found.any() or not _is_followed(recording, found, share):
        return (QualityProblem("nobody-found", {"found_share": round(share, 4)}),)
    length = float(recording.t[-1] - recording.t[0])
    if length < SHORTEST_S:
        return (QualityProblem("clip-too-short", {"length_s": round(length, 3), "needed_s": SHORTEST_S}),)
    rate = (count - 1) / length
    if rate < FEWEST_A_SECOND:
        return (QualityProblem("too-few-pictures", {"rate": round(rate, 3), "needed_rate": FEWEST_A_SECOND}),)
    return ()


def find_damage_problems(recording: LandmarkRecording, **more: str) -> tuple[QualityProblem, ...]:
    """The problem that the clip lost something, with `more` parameters; empty for a whole clip."""
    if recording.damage is None:
        return ()
    return (QualityProblem("clip-damaged", {**asdict(recording.damage), **more}),)


def _is_followed(recording: LandmarkRecording, found: Mask, share: float) -> bool:
    """Whether a body is there for a while, not for a picture now and then."""
    times = recording.t[found]
    starts = np.flatnonzero(np.diff(times, prepend=-np.inf) > BRIDGED_S)
    ends = np.append(starts[1:], len(times)) - 1
    return share >= 0.5 or float((times[ends] - times[starts]).max()) >= LEAST_FOUND_S
