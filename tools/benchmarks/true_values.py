"""The truth of every measure in a rendered set, from its exact joint angles.

The truth of a phase is found by formcheck's own rule (5 % of the phase's peak speed) on the true angle, and that
of steadiness by its own readers on the true curves, low-passed like the measured ones: smoothness is defined on those.
Everything else is read here, plainly, from the truth file's curves.
"""

from collections.abc import Sequence

import numpy as np

from cases import Case
from formcheck.core.model import SIDES, Array, Message, Rep, Settings, Side, SignalKey, Signals
from formcheck.exercises.registry import get_exercise
from formcheck.measures.per_rep import READERS
from formcheck.measures.steadiness import STEADINESS, compute_path_deviations
from formcheck.measures.window import Value, Window
from formcheck.reps import find_reps
from formcheck.signals.filtering import low_pass


def true_driver(case: Case) -> tuple[Array, Array]:
    """Even times and the true angle whose course makes the reps: the mean raise of both arms."""
    t = np.linspace(case.t[0], case.t[-1], len(case.t))
    return t, np.interp(t, case.t, (case.truth["left_arm_raise"] + case.truth["right_arm_raise"]) / 2)


def true_reps(case: Case) -> tuple[Rep, ...]:
    """Repetitions by formcheck's own rule on the true angle, without what the lifter does before and after the set."""
    if not case.planned:
        return ()
    found = find_reps(*true_driver(case), get_exercise(case.exercise).driver, Settings())
    return tuple(rep for rep in found if any(start <= rep.top_s <= end for start, end in case.planned))


class Truth:
    """The true value of each measure in each repetition of a set."""

    def __init__(self, case: Case) -> None:
        self.case, self.reps = case, true_reps(case)
        self.tops = np.array([rep.top_s for rep in self.reps])
        self._windows = _windows(case, self.reps)
        driver = true_driver(case)
        inside = [(driver[0] >= rep.start_s) & (driver[0] <= rep.end_s) for rep in self.reps]
        ranges = [float(np.ptp(driver[1][chosen])) for chosen in inside]
        best = float(np.median(sorted(ranges)[-3:])) if ranges else float("nan")
        self._shares = [one / best for one in ranges]

    def partner(self, rep: Rep) -> int | None:
        """Which true repetition a found one is: the one whose top lies inside it, or is nearest."""
        return int(np.argmin(np.abs(self.tops - rep.top_s))) if len(self.tops) else None

    def value(self, measure: str, side: Side | None, index: int) -> float | None:
        """The truth of a measure in a repetition, or None when the truth file does not hold it."""
        if measure == "path_deviation":
            return _number(compute_path_deviations(self._windows)[index])
        if measure in STEADINESS:
            return _number(STEADINESS[measure](self._windows[index], None))
        if measure == "range_share":
            return self._shares[index]
        if measure in ("peak_speed", "mean_concentric_speed"):
            return _number(READERS[measure](self._windows[index], None))
        return true_value(self.case, self.reps[index], measure, side)


def _number(value: Value | Message | None) -> float | None:
    return value.value if isinstance(value, Value) else None


def _windows(case: Case, reps: Sequence[Rep]) -> list[Window]:
    """The true curves of each rep that steadiness is read from; straight arms are taken for the hands' height."""
    t, _ = true_driver(case)

    def smooth(values: Array) -> Array:
        return low_pass(np.interp(t, case.t, values), (len(t) - 1) / (t[-1] - t[0]), Settings().cutoff_hz)

    arms = {side: smooth(case.truth[f"{side}_arm_raise"]) for side in SIDES}
    series: dict[SignalKey, Array] = {("hand_height", side): -np.cos(np.radians(arm)) for side, arm in arms.items()}
    if "torso_lean" in case.truth or case.truth["torso_incl"].min() > 15:
        # Without a sign, a swing through the vertical folds; bent over there is none.
        series["torso_inclination", None] = smooth(case.truth.get("torso_lean", case.truth["torso_incl"]))
    smoothed = (arms["left"] + arms["right"]) / 2
    return [Window(rep, Signals(t, series), smoothed, last=rep is reps[-1]) for rep in reps]


def true_value(case: Case, rep: Rep, measure: str, side: Side | None) -> float | None:
    """The truth of a measure of one rep, or None when the truth file does not hold it."""
    inside = (case.t >= rep.start_s - 1e-6) & (case.t <= rep.end_s + 1e-6)
    t = case.t[inside]
    mine = {key[len(side) + 1 :]: v[inside] for key, v in case.truth.items() if side and key.startswith(side)}
    arms = {which: case.truth[f"{which}_arm_raise"][inside] for which in SIDES}
    torso = case.truth["torso_incl"][inside]
    match measure:
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
            return float(np.interp(rep.top_s, t, mine["elbow_flex"]))
        case "elbow_flexion_bottom":
            return float(np.interp(rep.start_s, t, mine["elbow_flex"]))
        case "knee_flexion_mean":
            return float(mine["knee_flex"].mean()) if "knee_flex" in mine else None
        case "torso_inclination_mean":
            return float(torso.mean())
        case "torso_inclination_range" if "torso_lean" in case.truth:
            return float(np.ptp(case.truth["torso_lean"][inside]))
        case "torso_inclination_range" if torso.min() > 15:
            return float(np.ptp(torso))
        case "torso_side_lean_range" if case.joints:
            return float(np.ptp(_side_lean(case)[inside]))
        case "hand_height_low" if case.joints and side:
            return float(_hand_height(case, side)[inside].min())
        case "arm_peak_difference":
            return float(arms["left"].max() - arms["right"].max())
        case "eccentric_time":
            return rep.tempo.eccentric_s
        case "concentric_time":
            return rep.tempo.concentric_s
        case "bottom_pause":
            return rep.tempo.bottom_pause_s
        case "top_pause":
            return rep.tempo.top_pause_s
    return None


def _side_lean(case: Case) -> Array:
    """(n,) lean of the trunk to the lifter's left, degrees, in the plane of the shoulders and the vertical."""
    shoulders, hips = ((case.joints[f"left_{part}"] + case.joints[f"right_{part}"]) / 2 for part in ("shoulder", "hip"))
    across = case.joints["left_shoulder"] - case.joints["right_shoulder"]
    across = across * [1.0, 1.0, 0.0]
    across = across / np.linalg.norm(across, axis=1, keepdims=True)
    trunk = shoulders - hips
    return np.asarray(np.degrees(np.arctan2((trunk * across).sum(axis=1), trunk[:, 2])))


def _hand_height(case: Case, side: Side) -> Array:
    """(n,) height of the wrist above the shoulder, in upper-arm lengths."""
    shoulder, elbow, wrist = (case.joints[f"{side}_{part}"] for part in ("shoulder", "elbow", "wrist"))
    return np.asarray((wrist[:, 2] - shoulder[:, 2]) / np.linalg.norm(elbow - shoulder, axis=1))
