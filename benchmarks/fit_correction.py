"""Estimate the landmark-to-joint correction of the upper arm's angle on rendered sets kept for tuning.

    python clips_demo/render.py --random 16 --seed 1 --out DIR       (needs the render extra)
    python benchmarks/fit_correction.py DIR

Prints the offsets that `formcheck.signals.correction` is taken from, and what would be left of the error with all
of them. Never run it on clips that are used to report accuracy.
"""

import argparse
from collections import defaultdict
from pathlib import Path

import numpy as np

from accuracy import Case, load_cases
from formcheck.model import SIDES, Array, Settings
from formcheck.signals.angles import compute_signals
from formcheck.signals.camera import camera_view, plane_of
from formcheck.signals.correction import KNOTS_DEG

RIDGE = 0.02
"""Weight of the wish for a small and smooth correction against the data."""


def seen_and_true(case: Case, name: str, truth: str) -> tuple[Array, Array]:
    """Uncorrected angles and true ones at the same moments, (k,) degrees each."""
    view = camera_view(case.recording, "auto")
    signals = compute_signals(case.recording, view, Settings(correct_landmarks=False))
    if (name, None) in signals.series:
        pairs = [(np.abs(signals.get(name)), case.truth[truth])]
    else:
        pairs = [(signals.get(name, side), case.truth[f"{side}_{truth}"]) for side in SIDES]
    seen = [curve for curve, _ in pairs]
    true = [np.interp(signals.t, case.t, curve) for _, curve in pairs]
    together = np.stack([np.concatenate(seen), np.concatenate(true)])
    return tuple(together[:, np.isfinite(together).all(axis=0)])


def hats(angle: Array) -> Array:
    """(k, knots) weights of each knot in a piecewise linear curve."""
    return np.stack([np.interp(angle, KNOTS_DEG, row) for row in np.eye(len(KNOTS_DEG))], axis=1)


def fit(rows: list[tuple[str, str, Array, Array]]) -> Array:
    """Offsets at the knots, (knots,) degrees, from (set, curve, seen, true) rows."""
    matrix, target = [], []
    for _, _, seen, true in rows:
        # Every set and every part of the range counts the same, however long the arm stayed there.
        part = np.digitize(seen, KNOTS_DEG)
        weight = 1 / np.sqrt(np.bincount(part, minlength=len(KNOTS_DEG) + 1)[part])
        matrix.append(hats(seen) * weight[:, None])
        target.append((seen - true) * weight)
    smooth = np.diff(np.eye(len(KNOTS_DEG)), 2, axis=0) * np.sqrt(RIDGE * len(rows))
    stacked = np.concatenate([*matrix, smooth])
    return np.asarray(np.linalg.lstsq(stacked, np.concatenate([*target, np.zeros(len(smooth))]), rcond=None)[0])


def main() -> None:
    """Print the offsets and the remaining error, by where the camera stands."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="+", type=Path)
    groups: dict[str, list[tuple[str, str, Array, Array]]] = defaultdict(list)
    for folder in parser.parse_args().folders:
        for case in load_cases(folder):
            view = camera_view(case.recording, "auto")
            if plane_of(view) == "sagittal":
                groups["torso"].append((case.name, "torso", *seen_and_true(case, "torso_inclination", "torso_incl")))
            elif plane_of(view) == "frontal":
                curves = [("arm_raise", "arm_raise"), ("arm_elevation", "arm_elev")]
                if case.exercise == "bent-over-lateral-raise":
                    curves = curves[:1]
                for name, truth in curves:
                    groups[view.name].append((case.name, name, *seen_and_true(case, name, truth)))
    print("KNOTS_DEG =", KNOTS_DEG)
    for group, rows in groups.items():
        offsets = fit(rows)
        print(f"\n{group}: {[round(float(value), 1) for value in offsets]}")
        print(f"{'set':40}{'curve':16}{'raw: bias, mean error':>24}{'all of it off':>18}")
        for name, curve, seen, true in rows:
            raw = seen - true
            left = raw - np.interp(seen, KNOTS_DEG, offsets)
            print(
                f"{name:40}{curve:16}{raw.mean():14.2f}{np.abs(raw).mean():10.2f}"
                f"{left.mean():10.2f}{np.abs(left).mean():8.2f}"
            )


if __name__ == "__main__":
    main()
