"""Two plain ways to read the same landmarks: angles of the lines in the picture, and of those between world points.

What a script of a page would do: no view, no filter, no correction, no margin. Angles are taken frame by frame, and
the numbers over the very repetitions formcheck found. Angles in degrees; NaN where nobody was found.
"""

from collections.abc import Callable, Mapping
from typing import Literal

import numpy as np

from formcheck.core.model import SIDES, Array, LandmarkRecording, Rep, Side
from formcheck.signals.skeleton import get_index

Kind = Literal["image", "world"]
KINDS: tuple[Kind, Kind] = ("image", "world")
_READ: Mapping[str, tuple[str, Callable[[Array], float]]] = {
    "arm_elevation_peak": ("arm_elevation", np.nanmax),
    "arm_elevation_low": ("arm_elevation", np.nanmin),
    "arm_raise_peak": ("arm_raise", np.nanmax),
    "arm_raise_low": ("arm_raise", np.nanmin),
    "range_of_motion": ("arm_raise", lambda values: float(np.nanmax(values) - np.nanmin(values))),
    "elbow_flexion_min": ("elbow_flexion", np.nanmin),
    "elbow_flexion_max": ("elbow_flexion", np.nanmax),
    "knee_flexion_mean": ("knee_flexion", np.nanmean),
    "torso_inclination_mean": ("torso_inclination", np.nanmean),
    "torso_inclination_range": ("torso_inclination", lambda values: float(np.nanmax(values) - np.nanmin(values))),
}
_AT = {"elbow_flexion_top": "top_s", "elbow_flexion_bottom": "start_s"}


def plain_angles(recording: LandmarkRecording, kind: Kind) -> dict[tuple[str, Side | None], Array]:
    """Curves (n,) of the angles, straight from the landmarks, in the picture or in the model's world points.

    Both have x to the right and y down. ``torso_inclination`` is without sign.
    """
    points = recording.pixels if kind == "image" else recording.world
    down = np.zeros(points.shape[-1])
    down[1] = 1.0
    middle = {
        part: (points[:, get_index(part, "left")] + points[:, get_index(part, "right")]) / 2
        for part in ("shoulder", "hip")
    }
    trunk = middle["hip"] - middle["shoulder"]
    curves: dict[tuple[str, Side | None], Array] = {("torso_inclination", None): angle(trunk, down)}
    for side in SIDES:
        shoulder, elbow, wrist, hip, knee, ankle = (
            points[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")
        )
        curves["arm_elevation", side] = angle(elbow - shoulder, trunk)
        curves["arm_raise", side] = angle(elbow - shoulder, down)
        curves["elbow_flexion", side] = angle(elbow - shoulder, wrist - elbow)
        curves["knee_flexion", side] = angle(knee - hip, ankle - knee)
    return curves


def angle(first: Array, second: Array) -> Array:
    """(n,) angle between vectors (n, k), by the arc cosine of their dot product."""
    lengths = np.linalg.norm(first, axis=-1) * np.linalg.norm(second, axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.degrees(np.arccos(np.clip((first * second).sum(axis=-1) / lengths, -1.0, 1.0))))


class Baseline:
    """One plain way to read a recording."""

    def __init__(self, recording: LandmarkRecording, kind: Kind) -> None:
        self._t, self._curves = recording.t, plain_angles(recording, kind)

    def value(self, measure: str, side: Side | None, rep: Rep) -> float | None:
        """The measure in a repetition; None when a plain script would not give it, or nobody was seen."""
        inside = (self._t >= rep.start_s) & (self._t <= rep.end_s)
        if measure == "arm_peak_difference":
            peaks = [self.value("arm_raise_peak", which, rep) for which in SIDES]
            return None if peaks[0] is None or peaks[1] is None else peaks[0] - peaks[1]
        if measure in _AT:
            curve, seen = self._curves["elbow_flexion", side], np.isfinite(self._curves["elbow_flexion", side])
            return float(np.interp(getattr(rep, _AT[measure]), self._t[seen], curve[seen])) if seen.any() else None
        if measure not in _READ:
            return None
        signal, read = _READ[measure]
        values = self._curves[signal, side][inside]
        return float(read(values)) if np.isfinite(values).any() else None
