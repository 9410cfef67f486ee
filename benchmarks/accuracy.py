"""How near formcheck comes to the truth on rendered sets whose joint angles are known exactly.

    python benchmarks/accuracy.py [FOLDER ...]        default: clips_demo

Each clip needs a ``<clip>.truth.json`` beside it (see clips_demo/README.md). Prints, for every measure, plane
and side: number, bias, mean error, 95th percentile, and the share of truths inside the stated margin; then rep
counts and phase durations. Landmark recordings are cached in benchmarks/.cache, so a second run takes seconds.

The truth of a phase is found by formcheck's own rule (5 % of the phase's peak speed) on the true angle, and that
of steadiness by its own readers on the true curves, low-passed like the measured ones: smoothness is defined on those.
"""

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from formcheck.analysis import analyse
from formcheck.capture.pose import MediaPipeEstimator
from formcheck.capture.recording import cached_recording
from formcheck.exercises.registry import get_exercise
from formcheck.measures.steadiness import STEADINESS, path_deviations
from formcheck.measures.window import Value, Window
from formcheck.model import SIDES, Array, LandmarkRecording, Measure, Rep, Review, Settings, SignalKey, Signals
from formcheck.reps import find_reps
from formcheck.signals.camera import plane_of
from formcheck.signals.filtering import low_pass

HERE = Path(__file__).parent
_GUESS = {"lateral": "lateral-raise", "bent": "bent-over-lateral-raise", "press": "guided-bar-press"}


@dataclass(frozen=True)
class Case:
    """One rendered set: its landmarks, its exercise and its truth."""

    name: str
    exercise: str
    recording: LandmarkRecording
    t: Array
    truth: dict[str, Array]
    """Curve name of the truth file → (n,) degrees."""
    planned: tuple[tuple[float, float], ...]
    """Planned start and end of each repetition, seconds."""
    yaw: float | None
    """The camera's true angle around the lifter, when the truth file says it."""


def load_cases(folder: Path) -> Iterator[Case]:
    """Every clip of a folder that has a truth file, in the order of their names."""
    for clip in sorted(folder.glob("*.mp4")):
        path = clip.with_name(f"{clip.stem}.truth.json")
        if not path.exists():
            continue
        document = json.loads(path.read_text(encoding="utf-8"))
        recording = cached_recording(clip, MediaPipeEstimator, HERE / ".cache")
        frames = columns(document["frames"])
        planned = tuple((rep["start"], rep["end"]) for rep in document["reps"])
        yaw = document.get("camera", {}).get("yaw")
        yield Case(clip.stem, exercise_of(document), recording, frames.pop("t"), frames, planned, yaw)


def columns(frames: Any) -> dict[str, Array]:
    """Frames of a truth file, written as rows or as columns, → columns."""
    if isinstance(frames, dict):
        return {key: np.array(values, dtype=float) for key, values in frames.items()}
    return {key: np.array([row[key] for row in frames], dtype=float) for key in frames[0]}


def exercise_of(document: dict[str, Any]) -> str:
    """Exercise id of a truth file; older files name only the movement."""
    if "exercise" in document:
        return str(document["exercise"])
    spec = document["spec"]
    if spec["exercise"] == "lateral" and max(rep.get("high", 0) for rep in spec["reps"]) > 130:
        return "overhead-lateral-raise"
    return _GUESS[spec["exercise"]]


def true_reps(case: Case) -> tuple[Rep, ...]:
    """Repetitions by formcheck's own rule on the true angle, without what the lifter does before and after the set."""
    t = np.linspace(case.t[0], case.t[-1], len(case.t))
    driver = np.interp(t, case.t, (case.truth["left_arm_raise"] + case.truth["right_arm_raise"]) / 2)
    found = find_reps(t, driver, get_exercise(case.exercise).driver, Settings())
    return tuple(rep for rep in found if any(start <= rep.top_s <= end for start, end in case.planned))


def true_windows(case: Case, reps: Sequence[Rep]) -> list[Window]:
    """The true curves of each rep that steadiness is read from; straight arms are taken for the hands' height."""
    t = np.linspace(case.t[0], case.t[-1], len(case.t))

    def smooth(values: Array) -> Array:
        return low_pass(np.interp(t, case.t, values), (len(t) - 1) / (t[-1] - t[0]), Settings().cutoff_hz)

    arms = {side: smooth(case.truth[f"{side}_arm_raise"]) for side in SIDES}
    series: dict[SignalKey, Array] = {("hand_height", side): -np.cos(np.radians(arm)) for side, arm in arms.items()}
    lean = case.truth.get("torso_lean", case.truth["torso_incl"])
    if "torso_lean" in case.truth or lean.min() > 15:
        # Without a sign, a swing through the vertical folds; bent over there is none.
        series["torso_inclination", None] = smooth(lean)
    driver = (arms["left"] + arms["right"]) / 2
    return [Window(rep, Signals(t, series), driver, last=rep is reps[-1]) for rep in reps]


def true_steadiness(name: str, windows: Sequence[Window], index: int) -> float | None:
    """The truth of a measure of steadiness in one rep of a set; None when there is none."""
    value = path_deviations(windows)[index] if name == "path_deviation" else STEADINESS[name](windows[index], None)
    return value.value if isinstance(value, Value) else None


def true_value(case: Case, rep: Rep, measure: Measure) -> float | None:
    """The truth of a measure in a rep, or None when the truth file does not hold it."""
    inside = (case.t >= rep.start_s - 1e-6) & (case.t <= rep.end_s + 1e-6)
    sides = {
        side: {key[len(side) + 1 :]: v[inside] for key, v in case.truth.items() if key.startswith(side)}
        for side in SIDES
    }
    torso = case.truth["torso_incl"][inside]
    mine = sides[measure.side] if measure.side else {}
    match measure.name:
        case "arm_elevation_peak":
            return float(mine["arm_elev"].max())
        case "arm_elevation_low":
            return float(mine["arm_elev"].min())
        case "arm_raise_peak":
            return float(mine["arm_raise"].max())
        case "arm_raise_low":
            return float(mine["arm_raise"].min())
        case "range_of_motion":
            return float(np.ptp(mine["arm_raise"]))
        case "elbow_flexion_min":
            return float(mine["elbow_flex"].min())
        case "elbow_flexion_max":
            return float(mine["elbow_flex"].max())
        case "elbow_flexion_top":
            return float(np.interp(rep.top_s, case.t[inside], mine["elbow_flex"]))
        case "knee_flexion_mean":
            return float(mine["knee_flex"].mean()) if "knee_flex" in mine else None
        case "torso_inclination_mean":
            return float(torso.mean())
        case "torso_inclination_range" if "torso_lean" in case.truth:
            return float(np.ptp(case.truth["torso_lean"][inside]))
        case "torso_inclination_range" if torso.min() > 15:
            # Without a sign, a swing through the vertical folds; bent over there is none.
            return float(np.ptp(torso))
        case "arm_peak_difference":
            return float(sides["left"]["arm_raise"].max() - sides["right"]["arm_raise"].max())
        case "eccentric_time":
            return rep.tempo.eccentric_s
        case "concentric_time":
            return rep.tempo.concentric_s
        case "bottom_pause":
            return rep.tempo.bottom_pause_s
        case "top_pause":
            return rep.tempo.top_pause_s
    return None


@dataclass(frozen=True)
class Row:
    """One measured value beside its truth."""

    measure: str
    plane: str
    clip: str
    error: float
    inside: bool


def compare(case: Case, review: Review, truth: tuple[Rep, ...]) -> Iterator[Row]:
    """Every value of a review beside its truth; reps are paired by the moment of their top."""
    tops = np.array([rep.top_s for rep in truth])
    windows = true_windows(case, truth)
    for measure in review.measures:
        rep = next(item for item in review.reps if item.number == measure.rep)
        if measure.value is None or measure.margin is None or not len(tops):
            continue
        partner = int(np.argmin(np.abs(tops - rep.top_s)))
        if measure.name in STEADINESS or measure.name == "path_deviation":
            value = true_steadiness(measure.name, windows, partner)
        else:
            value = true_value(case, truth[partner], measure)
        if value is not None:
            error = measure.value - value
            yield Row(measure.name, plane_of(review.view), case.name, error, abs(error) <= measure.margin)


def main() -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[HERE.parent / "clips_demo"])
    parser.add_argument("--raw", action="store_true", help="without the landmark-to-joint correction")
    arguments = parser.parse_args()
    settings = Settings(correct_landmarks=not arguments.raw)
    rows: list[Row] = []
    turns: list[float] = []
    wrong = sets = 0
    print(f"{'clip':34}{'view':9}{'yaw':>5}  reps found (true)")
    for folder in arguments.folders:
        for case in load_cases(folder):
            review = analyse(case.recording, get_exercise(case.exercise), settings=settings).review
            truth = true_reps(case)
            sets += 1
            wrong += len(review.reps) != len(case.planned)
            mark = "" if len(review.reps) == len(case.planned) else "  WRONG"
            found = f"{len(review.reps)} ({len(case.planned)}){mark}"
            print(f"{case.name:34}{review.view.name:9}{review.view.yaw_deg or 0:5.0f}  {found}")
            rows.extend(compare(case, review, truth))
            if case.yaw is not None and review.view.yaw_deg is not None:
                turns.append((review.view.yaw_deg - case.yaw + 180) % 360 - 180)
    print(f"\nrep count exactly right: {sets - wrong} of {sets} sets\n")
    print(f"{'measure':26}{'plane':11}{'n':>4}{'bias':>8}{'mean':>8}{'95 %':>8}{'inside margin':>15}")
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row.measure, row.plane].append(row)
    for (measure, plane), members in sorted(groups.items()):
        errors = np.array([row.error for row in members])
        inside = np.mean([row.inside for row in members])
        print(
            f"{measure:26}{plane:11}{len(members):4}{errors.mean():8.2f}{np.abs(errors).mean():8.2f}"
            f"{np.percentile(np.abs(errors), 95):8.2f}{inside:15.0%}"
        )
    times = [abs(row.error) for row in rows if row.measure.endswith(("_time", "_pause"))]
    print(f"\nphase durations: mean error {np.mean(times):.3f} s over {len(times)} phases")
    if turns:
        off = np.abs(turns)
        print(
            f"camera yaw: mean error {off.mean():.1f}°, 95 % within {np.percentile(off, 95):.1f}° over {len(off)} sets"
        )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
