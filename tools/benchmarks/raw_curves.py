"""Angles of rendered sets before any correction, beside their truth: what corrections and sources are chosen from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from formcheck.analysis import analyse_camera
from formcheck.core.model import Array, CameraView, LandmarkRecording, Settings, SignalKey, Signals
from formcheck.exercises.schema import Exercise
from formcheck.signals.angles import compute_signals
from formcheck.signals.body_fit.curves import fit_curves
from formcheck.signals.sources import find_band, read_table
from rendered_sets import RenderedSet, map_sets

MIN_SEEN_SHARE = 0.7
HIGHEST, LOWEST = False, True
ENDS = {"peak": (HIGHEST,), "max": (HIGHEST,), "low": (LOWEST,), "min": (LOWEST,), "bottom": (LOWEST,)}
"""Ends of a rep's range that measures whose names end so are read from; others take both."""
OTHER_NAMES = {"range_of_motion": "arm_raise_range", "arm_peak_difference": "arm_raise_peak"}
"""Measures that are not called after the curve they are read from."""


@dataclass(frozen=True, eq=False)
class RawSet:
    """One rendered set's curves (m,) on the times ``t``, degrees."""

    name: str
    exercise: str
    build: str
    place: str
    camera: CameraView
    t: Array
    plane: Mapping[SignalKey, Array]
    """As the picture shows them; NaN where unseen."""
    fit: Mapping[SignalKey, Array]
    """Of the body fitted in space; empty where none could be fitted."""
    true: Mapping[SignalKey, Array]
    reps: tuple[tuple[float, float], ...]
    """Begin and end of each true rep, seconds."""
    asked: frozenset[tuple[str, bool]]
    """Curves, and ends of their ranges, that a measure the exercise gives from this view is read from."""

    def sources(self, key: SignalKey) -> dict[str, Array]:
        """Source → a curve as it is read from there, with gaps where the picture shows nothing of it."""
        unknown = np.full(len(self.t), np.nan)
        plane, fit = self.plane.get(key, unknown), self.fit.get(key, unknown)
        if key in self.plane:
            fit = np.where(np.isnan(plane), np.nan, fit)
        return {"plane": plane, "fit": fit, "both": (plane + fit) / 2}

    def chosen(self, key: SignalKey) -> Array:
        """A curve from the source that the table names for this view."""
        return self.sources(key)[read_table().get(key[0], {}).get(find_band(self.camera), "plane")]

    def extremes(self, curve: Array, key: SignalKey, *, lowest: bool) -> Array:
        """(reps,) error of each rep's highest or lowest value of a curve; NaN where too little was seen."""
        pick, out = (np.nanmin if lowest else np.nanmax), []
        for start, end in self.reps:
            inside = (self.t >= start) & (self.t <= end)
            seen = np.isfinite(curve[inside])
            enough = seen.any() and seen.mean() >= MIN_SEEN_SHARE
            out.append(float(pick(curve[inside]) - pick(self.true[key][inside])) if enough else float("nan"))
        return np.array(out)


def asked_of(exercise: Exercise, camera: CameraView) -> Iterator[tuple[str, bool]]:
    """Curves and ends of their ranges that the exercise's measures are read from in a view."""
    for use in exercise.measures:
        if camera.name in use.views:
            curve, _, end = OTHER_NAMES.get(use.name, use.name).rpartition("_")
            yield from ((curve, lowest) for lowest in ENDS.get(end, (HIGHEST, LOWEST)))


def raw_sets(one: RenderedSet) -> list[RawSet]:
    """The curves of a packed set (of a cut recording, of each part); none for sets of one arm or both in turn."""
    if one.document["sides"] != "both":
        return []
    result = []
    parts: list[tuple[LandmarkRecording, CameraView]] = []

    def note(
        recording: LandmarkRecording,
        view: CameraView,
        settings: Settings,
        *,
        masked: bool = True,
    ) -> Signals:
        if masked:
            parts.append((recording, view))
        return compute_signals(recording, view, settings, masked=masked)

    analyse_camera(one.recording, one.exercise, curves=note)
    for recording, camera in parts:
        plane = compute_signals(recording, camera, Settings(correct_landmarks=False, fit_body=False))
        fitted = fit_curves(recording, plane.t, plane.rate, Settings())
        result.append(
            RawSet(
                one.name,
                one.exercise.id,
                one.document["build"],
                one.document["place"],
                camera,
                plane.t,
                dict(plane.series),
                {} if fitted is None else dict(fitted.series),
                {key: np.interp(plane.t, one.signals.t, curve) for key, curve in one.signals.series.items()},
                tuple((rep["start"], rep["end"]) for rep in one.planned),
                frozenset(asked_of(one.exercise, camera)),
            )
        )
    return result


def all_raw_sets(processes: int = 2) -> Iterator[RawSet]:
    """The curves of all tuning sets."""
    for found in map_sets(raw_sets, "tuning", processes=processes):
        yield from found
