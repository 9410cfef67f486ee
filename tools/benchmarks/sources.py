"""Which angle from where: errors of the picture's plane, of the fitted body and of their mean, on the tuning part.

    python tools/benchmarks/sources.py                  the benchmark's tuning part
    python tools/benchmarks/sources.py FOLDER ...       other folders of sets with truth, such as further rendered ones
    python tools/benchmarks/sources.py --cost [CLIP]    what the fit costs, against tracking the clip in this run

`formcheck/signals/sources.toml` is chosen from what this prints: for every curve and camera angle the mean size of
the error at the rep's highest and lowest value, exercises counted alike, and what the table says. Then the processor
time the fit of a minute of a set takes. Never run it on the second tuning part.
"""

import argparse
import os
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from cases import FOLDERS, HERE, Case, load_cases
from formcheck.core.model import Array, CameraView, Settings, SignalKey, Signals
from formcheck.signals import sources
from formcheck.signals.angles import compute_signals
from formcheck.signals.body_fit.curves import fit_curves
from formcheck.signals.camera import estimate_view
from formcheck.signals.correction import compute_fitted_arm_offset, estimate_posture
from formcheck.signals.filtering import resample

TRUE_NAMES = {
    "arm_elevation": "arm_elev",
    "arm_raise": "arm_raise",
    "elbow_flexion": "elbow_flex",
    "knee_flexion": "knee_flex",
    "torso_inclination": "torso_incl",
}
NOT_ASKED_IN = {"bent-over-lateral-raise"}
"""Exercises that do not ask for the arm against the trunk: the plane cannot show it there."""
MIN_SEEN_SHARE = 0.7


@dataclass(frozen=True)
class Row:
    """Errors of one curve's extreme in one repetition, degrees; NaN where a source has no curve."""

    curve: str
    band: sources.Band
    exercise: str
    plane: float
    fit: float
    both: float


def rows_of(case: Case) -> tuple[list[Row], float]:
    """Errors of one set, and seconds of fitting for each second of the set."""
    view = estimate_view(case.recording, "auto")
    settings = Settings()
    plane = compute_signals(case.recording, view, replace(settings, fit_body=False))
    began = time.process_time()
    fitted = fit_curves(case.recording, plane.t, plane.rate, settings)
    spent = (time.process_time() - began) / max(float(case.t[-1]), 1e-9)
    if fitted is None:
        return [], spent
    rows: list[Row] = []
    for (name, side), body in fitted.series.items():
        column = f"{side}_{TRUE_NAMES.get(name)}" if side else TRUE_NAMES.get(name, "")
        true = case.truth.get(column)
        if true is None or (name == "arm_elevation" and case.exercise in NOT_ASKED_IN):
            continue
        seen = plane.get(name, side)
        if name == "torso_inclination":  # its truth has no sign
            seen, fit = np.abs(seen), np.abs(body)
        else:
            fit = _corrected(case, plane, body, (name, side), view)
        both = fit if np.isnan(seen).all() else (fit + seen) / 2
        mean = name in ("torso_inclination", "knee_flexion")
        errors = _extremes(case, plane.t, true, (seen, fit, both), mean=mean)
        rows.extend(Row(name, sources.find_band(view), case.exercise, *one) for one in errors)
    return rows, spent


def _corrected(case: Case, plane: Signals, curve: Array, key: SignalKey, view: CameraView) -> Array:
    name, side = key
    if side is None or name not in ("arm_elevation", "arm_raise"):
        return curve
    pixels = resample(case.recording.t, np.array(case.recording.pixels), plane.t, max_gap_s=Settings().max_gap_s)
    posture = estimate_posture(pixels, side, view.yaw_deg or 0.0, plane.rate)
    return curve - compute_fitted_arm_offset(curve, side, view.yaw_deg or 0.0, posture)


def _extremes(
    case: Case, t: Array, true: Array, curves: tuple[Array, ...], *, mean: bool
) -> Iterator[tuple[float, float, float]]:
    """Errors of each repetition's highest and lowest value, or of its mean."""
    for start, end in case.planned:
        inside, there = (t >= start) & (t <= end), (case.t >= start) & (case.t <= end)
        for pick in (np.nanmean,) if mean else (np.nanmax, np.nanmin):
            errors = [
                float(pick(curve[inside]) - pick(true[there]))
                if np.isfinite(curve[inside]).mean() >= MIN_SEEN_SHARE
                else float("nan")
                for curve in curves
            ]
            yield errors[0], errors[1], errors[2]


def _mean(rows: list[Row], source: str) -> float:
    """Mean size of the error, exercises counted alike."""
    groups: dict[str, list[float]] = defaultdict(list)
    for row in rows:
        groups[row.exercise].append(abs(getattr(row, source)))
    means = [np.nanmean(values) for values in groups.values() if np.isfinite(values).any()]
    return float(np.mean(means)) if means else float("nan")


def print_cost(clip: Path, rounds: int = 3) -> None:
    """Processor time of the fit over that of tracking, median of rounds in turns."""
    from formcheck.pose.estimator import MediaPipeEstimator
    from formcheck.sandbox.sandboxed_tracking import track_clip

    ratios, seconds = [], []
    for _ in range(rounds):
        began = sum(os.times()[:4])
        recording = track_clip(clip, MediaPipeEstimator, processes=1)
        tracking_s = sum(os.times()[:4]) - began
        plane = compute_signals(recording, estimate_view(recording, "auto"), Settings(fit_body=False))
        ready = time.process_time()
        fit_curves(recording, plane.t, plane.rate, Settings())
        seconds.append(time.process_time() - ready)
        ratios.append(seconds[-1] / tracking_s)
    minute = 60 * float(np.median(seconds)) / recording.clip.duration_s
    print(f"{clip.name}: fit over tracking {np.median(ratios):.3f}; a minute of it {minute:.1f} s of processor time")


def main() -> None:
    """Print the table, and how long the fit takes."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[FOLDERS["tuning"]])
    demo = HERE.parents[1] / "clips_demo" / "lateral_raise_front_clean.mp4"
    parser.add_argument("--cost", nargs="?", type=Path, const=demo, metavar="CLIP")
    options = parser.parse_args()
    if options.cost:
        print_cost(options.cost)
        return
    rows: list[Row] = []
    spent: list[float] = []
    for folder in options.folders:
        for case in load_cases(folder):
            if case.no_exercise is None and case.planned:
                more, seconds = rows_of(case)
                rows.extend(more)
                spent.append(seconds)
    print(f"{'curve':20}{'camera':14}{'n':>5}{'plane':>8}{'fit':>8}{'both':>8}   used")
    bands = {band: None for row in sources.read_table().values() for band in row}
    for curve in TRUE_NAMES:
        for band in bands:
            group = [row for row in rows if (row.curve, row.band) == (curve, band)]
            if group:
                figures = "".join(f"{_mean(group, source):8.1f}" for source in ("plane", "fit", "both"))
                figures = figures.replace("nan", "  -")
                print(f"{curve:20}{band:14}{len(group):5}{figures}   {sources.read_table()[curve].get(band, 'plane')}")
    minute = 60 * float(np.median(spent))
    print(f"\nfit of a minute of a set: {minute:.1f} s of processor time, median of {len(spent)} sets")


if __name__ == "__main__":
    main()
