"""How near formcheck comes to the truth on rendered sets of the shelf's newer exercises.

    python tools/benchmarks/shelf.py FOLDER [--only WORD ...]        rendered clips with their truth files

Prints for each set the reps found and true, the planted fault and what was found beside it; then, for every measure
and plane, number, bias, mean error, 95th percentile, largest error, and the share of truths inside the stated margin.

The truth of a measure is formcheck's own reader on the true curves (joint centres, low-passed like the measured ones).
Landmark recordings are cached in tools/benchmarks/.cache, so a second run needs no pose model.
"""

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from formcheck.analysis import CameraAnalysis, analyse_camera
from formcheck.core.model import Array, LandmarkRecording, Settings, SignalKey, Signals
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Exercise
from formcheck.findings import judge_checks
from formcheck.measures.across_reps import measure_set
from formcheck.measures.margins import SAGITTAL_DRIVERS
from formcheck.pose.estimator import MediaPipeEstimator
from formcheck.reps import find_reps
from formcheck.signals.angles import compute_driver
from formcheck.signals.camera import get_plane
from formcheck.signals.filtering import low_pass
from formcheck.storage.recording_cache import cached_recording

HERE = Path(__file__).parent
SAME = {
    "arm_raise_by_height": "arm_raise",
    "knee_flexion_by_height": "knee_flexion",
    "torso_inclination_by_height": "torso_inclination",
}
"""Curves read from a height, and the angle they stand for."""


@dataclass(frozen=True)
class Case:
    """One rendered set."""

    name: str
    exercise: Exercise
    recording: LandmarkRecording
    document: dict[str, Any]

    @property
    def planted(self) -> set[str]:
        """Ids of the checks that should not be met."""
        return {fault["kind"] for fault in self.document["faults"]}


@dataclass(frozen=True)
class Row:
    """One measured value beside its truth."""

    measure: str
    plane: str
    clip: str
    error: float
    truth: float
    margin: float


def cases(folder: Path, words: list[str]) -> Iterator[Case]:
    """Every set of a folder whose name holds one of the words."""
    for path in sorted(folder.glob("*.truth.json")):
        name = path.name.removesuffix(".truth.json")
        if any(word in name for word in words):
            document = json.loads(path.read_text(encoding="utf-8"))
            recording = cached_recording(path.with_name(f"{name}.mp4"), MediaPipeEstimator, HERE / ".cache")
            yield Case(name, get_exercise(document["exercise"]), recording, document)


def true_signals(case: Case) -> Signals:
    """The true curves on an even grid, low-passed like measured ones."""
    frames = case.document["frames"]
    given = np.array(frames["t"])
    t = np.linspace(given[0], given[-1], len(given))
    rate = (len(t) - 1) / (t[-1] - t[0])
    series: dict[SignalKey, Array] = {}
    for key, values in frames.items():
        side, colon, name = key.partition(":")
        if colon:
            curve = low_pass(np.interp(t, given, values), rate, Settings().cutoff_hz)
            series[name, side if side in ("left", "right") else None] = curve
    for name, stands_for in SAME.items():
        for (known, which), curve in list(series.items()):
            if known == stands_for:
                series[name, which] = curve
    return Signals(t, series)


def compare(case: Case, seen: CameraAnalysis) -> Iterator[Row]:
    """Every value beside its truth; reps are paired by the middle of their time."""
    signals = true_signals(case)
    driver = compute_driver(signals, seen.driver_name, seen.camera)
    planned = [(rep["start"] - 0.3, rep["end"] + 0.3) for rep in case.document["reps"]]
    reps = find_reps(signals.t, driver, case.exercise.driver, Settings())
    reps = tuple(rep for rep in reps if any(a <= (rep.start_s + rep.end_s) / 2 <= b for a, b in planned))
    truth = {
        (reading.measure.name, reading.measure.side, reading.measure.rep): reading.measure.value
        for reading in measure_set(reps, signals, driver, case.exercise, seen.camera, seen.quality)
    }
    middles = np.array([(rep.start_s + rep.end_s) / 2 for rep in reps])
    in_plane = get_plane(seen.camera) == "sagittal" and case.exercise.driver.sagittal in SAGITTAL_DRIVERS
    plane = get_plane(seen.camera) + (" in plane" if in_plane else "")
    for reading in seen.readings:
        measure = reading.measure
        if measure.value is None or measure.margin is None or measure.rep is None or not len(middles):
            continue
        rep = seen.reps[measure.rep - 1]
        partner = reps[int(np.argmin(np.abs(middles - (rep.start_s + rep.end_s) / 2)))].number
        value = truth.get((measure.name, measure.side, partner))
        if value is not None:
            yield Row(measure.name, plane, case.name, measure.value - value, value, measure.margin)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", nargs="+", default=[""], metavar="WORD", help="sets whose name holds one of these")
    parser.add_argument("--measure", metavar="NAME", help="also print every value of this measure")
    options = parser.parse_args()
    rows: list[Row] = []
    sets = counted = faulty = caught = false = 0
    for case in cases(options.folder, options.only):
        seen = analyse_camera(case.recording, case.exercise)
        findings = judge_checks(case.exercise, seen.readings, seen.reps, seen.camera.name)
        said = {item.check for item in findings if item.verdict == "not_met"}
        true_count = len(case.document["reps"])
        right = len(seen.reps) == true_count and all(rep.complete for rep in seen.reps)
        sets, counted = sets + 1, counted + right
        if case.planted:
            faulty, caught = faulty + 1, caught + (case.planted <= said)
        extra = said - case.planted
        false += bool(extra) and not case.planted
        words = [
            f"{case.name:46}{seen.camera.name:8}{seen.camera.yaw_deg or 0:5.0f} {len(seen.reps)} ({true_count})",
            "" if right else "COUNT",
            f"planted {', '.join(sorted(case.planted))}: {'found' if case.planted <= said else 'MISSED'}"
            if case.planted
            else "",
            f"{'also' if case.planted else 'FALSE'} {', '.join(sorted(extra))}" if extra else "",
        ]
        print("  ".join(word for word in words if word))
        mine = list(compare(case, seen))
        rows.extend(mine)
        for row in mine:
            if row.measure == options.measure:
                print(f"      {row.truth:9.3f} read {row.truth + row.error:9.3f}  ± {row.margin:.3f}")
    print(f"\nreps exactly right: {counted} of {sets} sets; planted faults found: {caught} of {faulty}; ", end="")
    print(f"false alarms in {false} of {sets - faulty} clean sets\n")
    print(f"{'measure':26}{'plane':20}{'sets':>5}{'n':>5}{'bias':>8}{'mean':>8}{'95 %':>8}{'largest':>9}{'inside':>8}")
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row.measure, row.plane].append(row)
    for (measure, plane), members in sorted(groups.items()):
        errors = np.array([row.error for row in members])
        inside = np.mean([abs(row.error) <= row.margin for row in members])
        print(
            f"{measure:26}{plane:20}{len({row.clip for row in members}):5}{len(members):5}{errors.mean():8.2f}"
            f"{np.abs(errors).mean():8.2f}{np.percentile(np.abs(errors), 95):8.2f}{np.abs(errors).max():9.2f}"
            f"{inside:8.0%}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
