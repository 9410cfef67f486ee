"""Estimate the landmark-to-joint correction of angles on rendered sets kept for tuning.

    python tools/benchmarks/fit_correction.py                              the benchmark's tuning part
    python tools/render/render.py --random 16 --seed 1 --out DIR       more random sets (needs the render extra)
    python tools/benchmarks/fit_correction.py DIR ...

Prints the offsets that `formcheck.signals.correction` is taken from, and what would be left of the error with all
of them. Never run it on the second tuning part.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from cases import FOLDERS, Case, load_cases
from formcheck.core.model import SIDES, Array, Settings
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import estimate_view, get_plane
from formcheck.signals.correction import KNOTS_DEG, estimate_posture

LOST_DEG = 25.0
SMOOTH = 0.15
"""Weight of the wish for a smooth correction against the data."""


@dataclass(frozen=True)
class Curve:
    """One angle's course in one set."""

    seen: Array
    true: Array
    sign: float
    """+1 for a left arm, -1 for a right one, 0 for the torso."""
    yaw: float


def curves_of(case: Case) -> Iterator[tuple[str, Curve]]:
    """Group (torso, back, or the posture seen from the front) and curve for everything this set can teach."""
    view = estimate_view(case.recording, "auto")
    signals = compute_signals(case.recording, view, Settings(correct_landmarks=False, fit_body=False))
    yaw = view.yaw_deg or 0.0
    if get_plane(view) == "sagittal":
        truth = case.truth.get("torso_lean", case.truth["torso_incl"])
        yield "torso", _curve(case, signals.t, signals.get("torso_inclination"), truth, 0.0, yaw)
        return
    names = [("arm_raise", "arm_raise"), ("arm_elevation", "arm_elev")]
    for name, truth_name in names[:1] if case.exercise == "bent-over-lateral-raise" else names:
        for side, sign in zip(SIDES, (1.0, -1.0), strict=True):
            truth = case.truth[f"{side}_{truth_name}"]
            posture = estimate_posture(case.recording.pixels, side, yaw, case.recording.clip.frame_rate)
            bent_over, bent_arm = (np.mean(one) > 0.4 for one in (posture.bent_over, posture.bent_arm))
            group = "back" if abs(yaw) > 90 else "bent over" if bent_over else "bent arm" if bent_arm else "long arm"
            yield group, _curve(case, signals.t, signals.get(name, side), truth, sign, yaw)


def _curve(case: Case, t: Array, seen: Array, truth: Array, sign: float, yaw: float) -> Curve:
    """The course inside the repetitions, without moments at which the landmarks were somewhere else altogether."""
    true = np.interp(t, case.t, truth)
    there = np.isfinite(seen) & np.any([(t >= start) & (t <= end) for start, end in case.planned], axis=0)
    there &= np.abs(seen - true) < LOST_DEG
    return Curve(seen[there], true[there], sign, yaw)


def design(curve: Curve, group: str) -> Array:
    """(k, columns): weight of each knot, and from the front of each knot times yaw, and times side."""
    hats = np.stack([np.interp(curve.seen, KNOTS_DEG, row) for row in np.eye(len(KNOTS_DEG))], axis=1)
    if group in ("torso", "back"):
        return hats
    return np.concatenate([hats, hats * curve.sign * curve.yaw, hats * curve.sign], axis=1)


def fit(curves: list[Curve], group: str) -> Array:
    """(1 or 3, knots) offsets: degrees, degrees a degree of yaw, degrees the left reads more."""
    matrix, target = [], []
    for curve in curves:
        # Every set and every part of the range counts the same, however long the joint stayed there.
        part = np.digitize(curve.seen, KNOTS_DEG)
        weight = 1 / np.sqrt(np.bincount(part, minlength=len(KNOTS_DEG) + 1)[part])
        matrix.append(design(curve, group) * weight[:, None])
        target.append((curve.seen - curve.true) * weight)
    blocks = matrix[0].shape[1] // len(KNOTS_DEG)
    bend = np.diff(np.eye(len(KNOTS_DEG)), 2, axis=0)
    smooth = np.kron(np.diag([SMOOTH, 30 * SMOOTH, SMOOTH][:blocks]), bend) * np.sqrt(len(curves))
    stacked = np.concatenate([*matrix, smooth])
    found = np.linalg.lstsq(stacked, np.concatenate([*target, np.zeros(len(smooth))]), rcond=None)[0]
    return np.asarray(found.reshape(blocks, -1))


def main() -> None:
    """Print the offsets and the remaining error, by where the camera stands."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, default=[FOLDERS["tuning"]])
    groups: dict[str, list[Curve]] = defaultdict(list)
    for folder in parser.parse_args().folders:
        for case in load_cases(folder):
            if case.no_exercise is None and case.planned:
                for group, curve in curves_of(case):
                    if len(curve.seen):
                        groups[group].append(curve)
    print("KNOTS_DEG =", KNOTS_DEG)
    for group, curves in groups.items():
        offsets = fit(curves, group)
        print(f"\n{group}")
        for label, row in zip(("offset", "for each degree of yaw", "left reads more"), offsets, strict=False):
            print(f"  {label:24}{[round(float(value), 2) for value in row]}")
        raw = [curve.seen - curve.true for curve in curves]
        left = [error - design(curve, group) @ offsets.ravel() for error, curve in zip(raw, curves, strict=True)]
        for label, errors in (("as seen", raw), ("with all of it off", left)):
            means = [float(np.abs(error).mean()) for error in errors]
            print(f"  mean error {label:20}{np.mean(means):5.2f}°, worst curve {np.max(means):5.2f}°")


if __name__ == "__main__":
    main()
