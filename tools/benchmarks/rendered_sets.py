"""The rendered sets of all exercises, with the truth of every measure of every rep.

The truth of a measure is formcheck's own reader on the true curves (joint centres, low-passed like the measured ones),
so that a value and its truth have one definition. Reps are paired by the middle of their time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path
from typing import Any, Literal, TypeVar

import numpy as np

from formcheck.analysis import CameraAnalysis, analyse_camera
from formcheck.core.model import SIDES, Array, CameraView, LandmarkRecording, Quality, Rep, Settings, SignalKey, Signals
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.measures.across_reps import measure_set
from formcheck.recognition.working_arms import take_known_arms
from formcheck.reps.find import find_reps
from formcheck.signals.angles import compute_driver
from formcheck.signals.filtering import low_pass
from packed_sets import PackedTruth, packed_folder, thin_like_product, unpack_recording, unpack_truth
from true_curves import true_curves

T = TypeVar("T")
TRUTH = ".truth.npz.xz"
"""End of the name of a truth file."""
FITTED_PARTS = ("tuning", "tuning-half")
"""Parts that shares, changes and odds are fitted to: `counts_in_fit`. Of margins, `fit_pooled_margins` says more."""
SAME = {
    "arm_raise_by_height": "arm_raise",
    "knee_flexion_by_height": "knee_flexion",
    "torso_inclination_by_height": "torso_inclination",
}
"""Curves read from a height, and the angle they stand for."""
WHOLE_SHARE = 0.6
"""Share of the set's usual range from which on a rep is a whole one (docs/method.md)."""
Rate = int | Literal["product", "all"]
"""Pictures a second of a recording, as `load_set` takes it."""
Key = tuple[str, str | None, int]
"""Measure, side and number of a rep from 1."""


@dataclass(frozen=True, eq=False)
class RenderedSet:
    """One rendered set: what was seen of it, and what is true."""

    name: str
    recording: LandmarkRecording
    truth: PackedTruth

    @property
    def document(self) -> dict[str, Any]:
        """What the set was made from."""
        return self.truth.document

    @cached_property
    def exercise(self) -> Exercise:
        """The exercise that is done."""
        return get_exercise(self.document["exercise"])

    @property
    def planned(self) -> list[dict[str, Any]]:
        """Times, share of the range and side of each rep."""
        return list(self.document["reps"])

    @cached_property
    def whole_reps(self) -> int:
        """How many reps are whole ones on the true angle of the moving joint: faults shorten reps too."""
        name, t = self.exercise.driver.sagittal, self.signals.t
        driver = compute_driver(self.signals, name, CameraView("front", 0.0, None, "given"))
        ranges = [float(np.ptp(driver[(t >= rep["start"]) & (t <= rep["end"])])) for rep in self.planned]
        return sum(one >= WHOLE_SHARE * float(np.median(ranges)) for one in ranges)

    @cached_property
    def signals(self) -> Signals:
        """The true curves on an even grid, low-passed like measured ones."""
        t = np.linspace(self.truth.t[0], self.truth.t[-1], len(self.truth.t))
        rate = (len(t) - 1) / (t[-1] - t[0])
        series: dict[SignalKey, Array] = {}
        for key, values in true_curves(self.truth).items():
            side, _, name = key.partition(":")
            curve = low_pass(np.interp(t, self.truth.t, values), rate, Settings().cutoff_hz)
            series[name, side if side in ("left", "right") else None] = curve  # type: ignore[index]
        same = SAME | ({"arm_raise_by_height": "arm_line_by_height"} if self._lifts_by_elbow else {})
        for name, stands_for in same.items():
            for (known, which), curve in list(series.items()):
                if known == stands_for:
                    series[name, which] = curve
        return Signals(t, series)

    @property
    def _lifts_by_elbow(self) -> bool:
        """Whether hands rise while upper arms stay, as in a curl: their height stands for no angle of the arms."""
        return self.exercise.driver.sagittal == "elbow_flexion"

    def _compute_driver(self, seen: CameraAnalysis) -> Array:
        """The true curve of what makes the reps in this analysis."""
        if (arms := take_known_arms(seen.reps)) is not None:
            curves = {side: compute_driver(self.signals, seen.driver_name, seen.camera, side) for side in SIDES}
            return arms.join_curves(self.signals.t, curves)
        return compute_driver(self.signals, seen.driver_name, seen.camera, seen.driver_side)

    def true_reps(self, seen: CameraAnalysis) -> tuple[Rep, ...]:
        """The reps by formcheck's own rule on the true curve, without what comes before and after the set.

        Each has the arm that is planned for it, so that an arm that rests has no truth to be held against.
        """
        driver = self._compute_driver(seen)
        found = []
        for rep in find_reps(self.signals.t, driver, self.exercise.driver, Settings()):
            middle = (rep.start_s + rep.end_s) / 2
            plan = next((one for one in self.planned if one["start"] - 0.3 <= middle <= one["end"] + 0.3), None)
            if plan is not None:
                found.append(replace(rep, side=None if plan["side"] == "both" else plan["side"]))
        return tuple(found)

    def true_measures(self, seen: CameraAnalysis) -> tuple[tuple[Rep, ...], dict[Key, float]]:
        """True reps, and the true value of each measure as this camera's reading defines it."""
        driver, reps = self._compute_driver(seen), self.true_reps(seen)
        readings = measure_set(reps, self.signals, driver, self.exercise, seen.camera, seen.quality)
        values = {(item.measure.name, item.measure.side, item.measure.rep): item.measure.value for item in readings}
        return reps, {key: value for key, value in values.items() if value is not None and key[2] is not None}  # type: ignore[misc]


@dataclass(frozen=True)
class Row:
    """One measured value beside its truth."""

    set_name: str
    exercise: str
    build: str
    place: str
    measure: str
    plane: str
    rep: int
    error: float
    truth: float
    margin: float
    camera: CameraView
    quality: Quality
    side: str | None = None

    @property
    def value(self) -> float:
        """What was measured."""
        return self.truth + self.error


def list_paths(part: str, words: Sequence[str] = ("",)) -> list[Path]:
    """The truth files of a part's sets whose names hold one of the words, in the order of their names."""
    return [path for path in sorted(packed_folder(part).glob(f"*{TRUTH}")) if any(word in path.name for word in words)]


def load_sets(part: str, rate: Rate = "product") -> Iterator[RenderedSet]:
    """Every packed set of a part that was tracked at this rate, as `load_set`."""
    yield from (load_set(path, rate) for path in list_paths(part) if _find_landmarks(path, rate).exists())


def load_set(path: Path, rate: Rate = "product") -> RenderedSet:
    """The set of a truth file.

    Parameters
    ----------
    rate : "product": the pictures that formcheck tracks of a clip, chosen from the landmarks of every picture; "all":
        every picture; a number: as the clip was tracked at so many pictures a second, where it was.
    """
    recording = unpack_recording(_find_landmarks(path, rate))
    recording = thin_like_product(recording) if rate == "product" else recording
    return RenderedSet(path.name.removesuffix(TRUTH), recording, unpack_truth(path))


def _find_landmarks(path: Path, rate: Rate) -> Path:
    end = f".{rate}.npz.xz" if isinstance(rate, int) else ".npz.xz"
    return path.with_name(path.name.removesuffix(TRUTH) + end)


def list_fitted_paths() -> list[Path]:
    """The truth files of every set of these parts."""
    return [path for part in FITTED_PARTS for path in list_paths(part)]


def counts_in_fit(part: str, camera: CameraView) -> bool:
    """Whether a set of a part that tables are fitted to counts, by where its camera was found to stand.

    The part of half angles was drawn for these views: elsewhere its sets would outnumber those of other places.
    """
    return part == "tuning" or (part == "tuning-half" and camera.name == "oblique")


def compare(one: RenderedSet, seen: CameraAnalysis) -> Iterator[Row]:
    """Every value beside its truth."""
    reps, truth = one.true_measures(seen)
    middles = np.array([(rep.start_s + rep.end_s) / 2 for rep in reps])
    for reading in seen.readings:
        measure = reading.measure
        if measure.value is None or measure.margin is None or measure.rep is None or not len(middles):
            continue
        rep = seen.reps[measure.rep - 1]
        partner = reps[int(np.argmin(np.abs(middles - (rep.start_s + rep.end_s) / 2)))]
        value = truth.get((measure.name, measure.side, partner.number))
        if value is not None:
            yield Row(
                one.name,
                one.exercise.id,
                one.document["build"],
                one.document["place"],
                measure.name,
                seen.camera.name,
                partner.number,
                measure.value - value,
                value,
                measure.margin,
                seen.camera,
                seen.quality,
                measure.side,
            )


def analyse_set(one: RenderedSet) -> CameraAnalysis:
    """What formcheck makes of the set."""
    return analyse_camera(one.recording, one.exercise)


def load_fitted(path: Path) -> tuple[RenderedSet, CameraAnalysis] | None:
    """The set of a truth file with what formcheck makes of it; None where it does not count in fits."""
    one = load_set(path)
    look = analyse_set(one)
    return (one, look) if counts_in_fit(one.document["part"], look.camera) else None


@dataclass(frozen=True)
class Excess:
    """How far beyond a check's limit the truth is: 0 at the limit, 1 where a fault begins (`fault_at`)."""

    usual: float
    """In the middle one of the worse half of the reps."""
    most: float
    """In the worst rep."""


def beyond_limits(one: RenderedSet, truth: Mapping[Key, float]) -> dict[str, Excess]:
    """Check → how far the truth is beyond its limit; checks without a truth or without `fault_at` are left out."""
    result = {}
    for check in one.exercise.checks:
        by_rep: dict[int, float] = {}
        for (measure, _, rep), value in truth.items():
            if measure != check.measure or check.fault_at is None:
                continue
            size = abs(value) if check.absolute else value
            for limit, sign in ((check.at_most, 1.0), (check.at_least, -1.0)):
                if limit is not None:
                    excess = sign * (size - limit) / abs(check.fault_at - limit)
                    by_rep[rep] = max(by_rep.get(rep, -np.inf), excess)
        if by_rep:
            values = np.sort(list(by_rep.values()))
            result[check.id] = Excess(float(np.median(values[len(values) // 2 :])), float(values[-1]))
    return result


def picture_points(document: Mapping[str, Any], points: Array) -> Array:
    """(n, k, 2) pixels where points (n, k, 3) of the room appear to the set's camera."""
    camera = document["camera"]
    yaw, roll = np.radians(camera["yaw"]), np.radians(camera["roll"])
    right = np.array([np.cos(yaw), np.sin(yaw), 0.0])
    place = camera["distance"] * np.array([np.sin(yaw), -np.cos(yaw), 0.0]) + camera["shift"] * right
    place[2] += camera["height"]
    ahead = camera["shift"] * right + np.array([0.0, 0.0, camera["look"]]) - place
    ahead /= np.linalg.norm(ahead)
    up = np.cross(right, ahead)
    axes = np.column_stack([np.cos(roll) * right - np.sin(roll) * up, np.cos(roll) * up + np.sin(roll) * right, ahead])
    local = (points - place) @ axes
    scale = camera["height_px"] / 2 / np.tan(np.radians(camera["view"]) / 2)
    flat = scale * local[..., :2] / local[..., 2:]
    return np.asarray(np.stack([camera["width"] / 2 + flat[..., 0], camera["height_px"] / 2 - flat[..., 1]], axis=-1))


def map_sets(
    function: Callable[[RenderedSet], T], part: str, words: Sequence[str] = ("",), *, processes: int = 2
) -> Iterator[T]:
    """What a function gives for each set of a part whose name holds one of the words, in the order of their names.

    Raises SystemExit with a sentence where there is none.
    """
    paths = list_paths(part, words)
    if not paths:
        raise SystemExit(f"The part {part} has no packed sets of such names in tools/benchmarks/recordings/sets.")
    with ProcessPoolExecutor(processes) as pool:
        yield from pool.map(partial(_apply, function), paths)


def _apply(function: Callable[[RenderedSet], T], path: Path) -> T:
    return function(load_set(path))
