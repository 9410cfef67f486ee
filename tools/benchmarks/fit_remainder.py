"""What is left of the arms' error, and how much of it the picture's own cues tell; never on the second tuning part.

    python tools/benchmarks/fit_remainder.py               what it gains in sets left out of the fit
    python tools/benchmarks/fit_remainder.py --write       puts the coefficients into formcheck/signals/remainder.toml

A ridge regression of (measured minus true) on the cues of `formcheck.signals.remainder`, over the repetitions of the
tuning part and the plain sets, each set counting alike. What it gains is read from tenfold cross-validation by whole
sets: the error of each repetition's highest value (of an elbow, the least) without it, and with coefficients from which
its set was left out.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

import formcheck.signals
from cases import FOLDERS, Case, load_cases
from comparing import BANDS, band_of
from formcheck.core.model import SIDES, Array, Settings
from formcheck.signals.angles import compute_arm_cues, compute_signals, measure_elbow_cues
from formcheck.signals.body_fit.curves import fit_curves
from formcheck.signals.camera import estimate_view
from formcheck.signals.filtering import low_pass, resample
from formcheck.signals.remainder import (
    CURVES,
    ELBOW,
    MOST_DEG,
    TAKEN,
    holds_for,
    list_cue_names,
    make_design,
    select_counted,
)
from formcheck.signals.roll import estimate_roll, level_recording
from formcheck.signals.steady import remove_sway, restore_sides

TABLE = Path(formcheck.signals.__file__).parent / "remainder.toml"
TRUE_NAMES = {"arm_elevation": "arm_elev", "arm_raise": "arm_raise", ELBOW: "elbow_flex"}
NOT_ASKED_IN = {("arm_elevation", "bent-over-lateral-raise")}
"""Curves that an exercise does not ask for: the plane cannot show them there."""
NAMES = (*CURVES, ELBOW)
RIDGE = 0.5
FOLDS = 10
LARGEST_ERROR_DEG = 15.0
"""A larger error is a landmark that was lost, and pulls no harder than this one."""
SEEN = 0.7
HEAD = """\
# What is left of an arm's error, degrees a unit of each cue (`formcheck.signals.remainder`): for every cue its part and
# the part that grows with the arm's height; `knots` the part without cues. Written by
#   python tools/benchmarks/fit_remainder.py --write
"""


@dataclass(frozen=True, eq=False)
class Curve:
    """One arm's curve in one repetition: columns of the design, error and how much each moment counts."""

    clip: str
    tuning: bool
    band: str
    name: str
    rep: int
    side: str
    columns: Array
    angle: Array
    true: Array


def curves_of(case: Case, *, tuning: bool) -> Iterator[Curve]:
    """Curves of all repetitions of a set."""
    recording = restore_sides(remove_sway(case.recording))
    view, settings = estimate_view(recording, "auto"), Settings()
    if (roll := estimate_roll(recording, view)) is not None:
        recording = level_recording(recording, roll)
    if case.no_exercise is not None or not holds_for(view):
        return
    better = compute_signals(recording, view, settings, remainder=False)
    plane = compute_signals(recording, view, replace(settings, fit_body=False))
    fitted = fit_curves(recording, plane.t, plane.rate, settings)
    if fitted is None:
        return
    pixels = np.array(recording.pixels)
    pixels[recording.visibility < settings.min_visibility] = np.nan
    pixels = low_pass(
        resample(recording.t, pixels, plane.t, max_gap_s=settings.max_gap_s), plane.rate, settings.cutoff_hz
    )
    yaw = case.yaw if case.yaw is not None else view.yaw_deg or 0.0
    for name in NAMES:
        if (name, case.exercise) in NOT_ASKED_IN or (name == ELBOW and view.name != "front"):
            continue
        for side in SIDES:
            told = better, plane, pixels, fitted, side, plane.rate, view
            cues = measure_elbow_cues(*told) if name == ELBOW else compute_arm_cues(*told, name)
            angle = better.get(name, side)
            true = np.interp(plane.t, case.t, case.truth[f"{side}_{TRUE_NAMES[name]}"])
            columns = make_design(name, angle, cues)
            for number, (start, end) in enumerate(case.planned, 1):
                inside = (plane.t >= start) & (plane.t <= end)
                if np.isfinite(angle[inside]).mean() >= SEEN:
                    parts = columns[inside], angle[inside], true[inside]
                    yield Curve(case.name, tuning, band_of(yaw), name, number, side, *parts)


def solved(curves: Sequence[Curve]) -> Array:
    """(c,) coefficients: each set counts alike, a moment as much as it is corrected."""
    sets: dict[str, list[Curve]] = defaultdict(list)
    for one in curves:
        sets[one.clip].append(one)
    size = curves[0].columns.shape[1]
    square, right = RIDGE * np.eye(size), np.zeros(size)
    square[0, 0] = 1e-6
    for mine in sets.values():
        for one in mine:
            weight = select_counted(one.name, one.angle)
            if weight.sum() == 0:
                continue
            weighted = one.columns * (weight / weight.sum() / len(mine))[:, None]
            error = np.clip(np.nan_to_num(one.angle - one.true), -LARGEST_ERROR_DEG, LARGEST_ERROR_DEG)
            square += weighted.T @ one.columns
            right += weighted.T @ error
    return np.asarray(np.linalg.solve(square, right))


def errors(one: Curve, coefficients: Array) -> tuple[float, float]:
    """Error of an arm's highest value, or of an elbow's least bend, without the remainder and with it."""
    off = TAKEN * select_counted(one.name, one.angle) * np.clip(one.columns @ coefficients, -MOST_DEG, MOST_DEG)
    seen_of, true_of = (np.nanmin, np.min) if one.name == ELBOW else (np.nanmax, np.max)
    before, after = (float(seen_of(angle) - true_of(one.true)) for angle in (one.angle, one.angle - off))
    return before, after


def without_each(curves: Sequence[Curve]) -> dict[str, Array]:
    """Set → coefficients from which it was left out."""
    clips = [str(clip) for clip in np.random.default_rng(0).permutation(sorted({one.clip for one in curves}))]
    fold_of = {clip: turn % FOLDS for turn, clip in enumerate(clips)}
    fits = {fold: solved([one for one in curves if fold_of[one.clip] != fold]) for fold in range(FOLDS)}
    return {clip: fits[fold] for clip, fold in fold_of.items()}


def all_curves() -> dict[str, list[Curve]]:
    """Every curve of the sets that may be used to set anything, by name."""
    curves: dict[str, list[Curve]] = {name: [] for name in NAMES}
    for part in ("tuning", "plain"):
        for case in load_cases(FOLDERS[part]):
            for one in curves_of(case, tuning=part == "tuning"):
                curves[one.name].append(one)
    return curves


def row_of(name: str, coefficients: Array) -> str:
    """A table's row as text."""
    cues = list_cue_names(name)
    pairs, knots = coefficients[1 : 1 + 2 * len(cues)].reshape(2, -1), coefficients[1 + 2 * len(cues) :]
    lines = [f"[{name}]", f"base = {coefficients[0]:.3f}"]
    lines += [f"{cue} = [{pairs[0, index]:.3f}, {pairs[1, index]:.3f}]" for index, cue in enumerate(cues)]
    return "\n".join([*lines, f"knots = [{', '.join(f'{value:.3f}' for value in knots)}]"])


def print_gain(name: str, results: Sequence[tuple[Curve, float, float]]) -> None:
    """Mean errors of the highest value (an elbow's least) and of the arms' difference, by part and camera."""
    pairs: dict[tuple[str, int], dict[str, tuple[float, float]]] = defaultdict(dict)
    parts = {}
    for one, before, after in results:
        pairs[one.clip, one.rep][one.side] = before, after
        parts[one.clip] = "tuning" if one.tuning else "plain"
    for part in ("tuning", "plain"):
        for band in BANDS:
            chosen = [(b, a) for one, b, a in results if (parts[one.clip], one.band) == (part, band)]
            if chosen:
                size = np.abs(chosen).mean(axis=0)
                sets = len({one.clip for one, _, _ in results if (parts[one.clip], one.band) == (part, band)})
                print(f"{name:16}{part:8}{band:14}{sets:5}{len(chosen):6}{size[0]:8.2f}{size[1]:8.2f}")
        both = [np.subtract(one["left"], one["right"]) for (clip, _), one in pairs.items()
                if len(one) == 2 and parts[clip] == part]  # fmt: skip
        if both and name != ELBOW:
            size = np.abs(both).mean(axis=0)
            print(f"{name:16}{part:8}{'left - right':14}{'':5}{len(both):6}{size[0]:8.2f}{size[1]:8.2f}")


def main() -> None:
    """Print what is gained, and write the coefficients on request."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--write", action="store_true", help="put the coefficients into the table")
    options = parser.parse_args()
    curves = all_curves()
    print(f"{'curve':16}{'part':8}{'camera':14}{'sets':>5}{'n':>6}{'without':>8}{'with':>8}")
    for name in NAMES:
        fits = without_each(curves[name])
        print_gain(name, [(one, *errors(one, fits[one.clip])) for one in curves[name]])
    if options.write:
        TABLE.write_text(HEAD + "\n".join(row_of(name, solved(curves[name])) for name in NAMES) + "\n")


if __name__ == "__main__":
    main()
