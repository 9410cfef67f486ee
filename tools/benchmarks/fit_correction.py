"""The landmark-to-joint offsets of angles, fitted to the rendered tuning sets, and what they do for builds kept out.

    python tools/benchmarks/fit_correction.py

For every angle and camera of `SITUATIONS`: the offsets at the knots, fitted to all sets (`formcheck.signals.correction`
holds them), and for each build of bodies the mean error at the reps' highest and lowest values without an offset and
with one fitted to the other builds. An offset is kept only where every build is nearer
to the truth with it, both ends taken together.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, SignalKey
from formcheck.signals.camera import get_plane
from formcheck.signals.correction import KNOTS_DEG
from raw_curves import HIGHEST, LOWEST, RawSet, all_raw_sets

LOST_DEG = 25.0
"""Where an angle is farther off, its landmarks were lost."""
SMOOTH, SMALL = 0.3, 0.1
"""Weights of the wish for smooth and for small offsets against the data."""
USUAL_YAW_DEG = 30.0


def from_side(view: CameraView) -> bool:
    """The camera sees the sagittal plane."""
    return get_plane(view) == "sagittal"


def from_front(view: CameraView) -> bool:
    """The camera stands in front."""
    return view.name == "front"


def ahead(view: CameraView) -> bool:
    """The camera stands in front, or at an angle there."""
    return not from_side(view) and abs(view.yaw_deg or 0.0) <= 90.0


@dataclass(frozen=True)
class Situation:
    """An angle, seen from somewhere."""

    curve: str
    seen_from: Callable[[CameraView], bool]
    nothing_at: tuple[float, ...] = ()
    """Knots without an offset: there it would harm some build."""
    per_yaw: bool = False
    """The offset goes with the camera's yaw, with one sign for the left and the other for the right."""

    def weight(self, one: RawSet, key: SignalKey) -> float:
        """What the offset is multiplied with."""
        return (one.camera.yaw_deg or 0.0) * (1.0 if key[1] == "left" else -1.0) if self.per_yaw else 1.0


SITUATIONS = (
    Situation("torso_inclination", from_side),
    Situation("hip_flexion", from_side),
    Situation("arm_opening", from_side, (0.0, 30.0)),
    Situation("arm_extension", from_side, (0.0, 30.0)),
    Situation("elbow_flexion", from_front),
    Situation("arm_elevation", ahead, (0.0, 30.0, 60.0, 90.0), per_yaw=True),
    Situation("arm_raise", ahead, (0.0, 30.0, 60.0, 90.0), per_yaw=True),
    # Tried, and of no use to some build:
    Situation("thigh_inclination", from_side),
    Situation("knee_flexion", from_side, (30.0, 60.0)),
    Situation("arm_elevation", ahead),
    Situation("arm_raise", ahead),
    Situation("elbow_flexion", from_side),
    Situation("arm_flexion", from_side),
)


@dataclass(frozen=True, eq=False)
class Curve:
    """One angle's course in one set, inside its reps and where its landmarks were not lost."""

    one: RawSet
    key: SignalKey
    whole: Array
    seen: Array
    true: Array
    weight: float


def curves_of(sets: Sequence[RawSet], situation: Situation) -> list[Curve]:
    """The curves that a situation is fitted to."""
    result = []
    for one in sets:
        if situation.curve not in {name for name, _ in one.asked} or not situation.seen_from(one.camera):
            continue
        inside = np.any([(one.t >= start) & (one.t <= end) for start, end in one.reps], axis=0)
        for key in [(situation.curve, side) for side in (*SIDES, None)]:
            if key not in one.true:
                continue
            whole = one.chosen(key)
            there = inside & np.isfinite(whole)
            there[there] = np.abs(whole[there] - one.true[key][there]) < LOST_DEG
            if there.any():
                result.append(Curve(one, key, whole, whole[there], one.true[key][there], situation.weight(one, key)))
    return result


def fit(curves: Sequence[Curve], situation: Situation) -> Array:
    """(knots,) offsets in degrees, or in degrees a degree of yaw."""
    unit = USUAL_YAW_DEG if situation.per_yaw else 1.0
    matrix, target = [], []
    for curve in curves:
        # Every set and every part of the range counts the same, however long the joint stayed there.
        part = np.digitize(curve.seen, KNOTS_DEG)
        weight = 1 / np.sqrt(np.bincount(part, minlength=len(KNOTS_DEG) + 1)[part])
        hats = np.stack([np.interp(curve.seen, KNOTS_DEG, row) for row in np.eye(len(KNOTS_DEG))], axis=1)
        matrix.append(hats * (weight * curve.weight / unit)[:, None])
        target.append((curve.seen - curve.true) * weight)
    count = np.sqrt(len(curves))
    wishes = [SMOOTH * count * np.diff(np.eye(len(KNOTS_DEG)), 2, axis=0), SMALL * count * np.eye(len(KNOTS_DEG))]
    stacked = np.concatenate([*matrix, *wishes])
    wanted = np.concatenate([*target, np.zeros(sum(len(wish) for wish in wishes))])
    free = [knot not in situation.nothing_at for knot in KNOTS_DEG]
    offsets = np.zeros(len(KNOTS_DEG))
    offsets[free] = np.linalg.lstsq(stacked[:, free], wanted, rcond=None)[0] / unit
    return offsets


def errors(curves: Sequence[Curve], offsets: Array) -> tuple[float, float]:
    """Mean error of the reps' highest and lowest values, every set and side counting alike."""
    found: dict[bool, list[float]] = defaultdict(list)
    for curve in curves:
        corrected = curve.whole - curve.weight * np.interp(curve.whole, KNOTS_DEG, offsets)
        for lowest in (HIGHEST, LOWEST):
            if (curve.key[0], lowest) not in curve.one.asked:
                continue
            each = curve.one.extremes(corrected, curve.key, lowest=lowest)
            if np.isfinite(each).any():
                found[lowest].append(float(np.nanmean(np.abs(each))))
    return float(np.mean(found[HIGHEST] or [np.nan])), float(np.mean(found[LOWEST] or [np.nan]))


def by_build(curves: Sequence[Curve]) -> Mapping[str, list[Curve]]:
    """Build → its curves."""
    groups: dict[str, list[Curve]] = defaultdict(list)
    for curve in curves:
        groups[curve.one.build].append(curve)
    return dict(sorted(groups.items()))


def main() -> None:
    """Print offsets and errors."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--processes", type=int, default=2)
    sets = list(all_raw_sets(parser.parse_args().processes))
    print("knots", *(f"{knot:g}" for knot in KNOTS_DEG))
    for situation in SITUATIONS:
        curves = curves_of(sets, situation)
        label = f"{situation.curve} {situation.seen_from.__name__}{' per yaw' if situation.per_yaw else ''}"
        digits = 3 if situation.per_yaw else 1
        print(f"\n{label}: {[round(float(value), digits) for value in fit(curves, situation)]}")
        for build, mine in by_build(curves).items():
            others = [curve for curve in curves if curve.one.build != build]
            if not others:
                continue
            without, offsets = errors(mine, np.zeros(len(KNOTS_DEG))), fit(others, situation)
            with_it = errors(mine, offsets)
            print(
                f"  {build:20}{len(mine):4} curves   highest {without[0]:5.2f} -> {with_it[0]:5.2f}"
                f"   lowest {without[1]:5.2f} -> {with_it[1]:5.2f}"
            )


if __name__ == "__main__":
    main()
