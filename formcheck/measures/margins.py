"""How far each number may be off."""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from formcheck.core.model import CameraView, MarginOrigin, Quality
from formcheck.exercises.schema import Exercise
from formcheck.signals.camera import compute_yaw_off_plane, get_plane, is_from_behind
from formcheck.signals.geometry import compute_projected_angle, wrap_degrees

TIME_MEASURES = frozenset({"eccentric_time", "bottom_pause", "concentric_time", "top_pause"})
_PROJECTED = frozenset({"arm_elevation_peak", "arm_elevation_low", "arm_raise_peak", "arm_raise_low"})

SAGITTAL_DRIVERS = frozenset({"arm_flexion", "arm_extension", "elbow_flexion", "knee_flexion", "torso_inclination"})
"""Signals that belong to the sagittal plane: a side view shows all of the movement they drive."""
Kind = Literal["", "in_plane", "out_of_plane", "compound", "bent"]
"""What a lift is to the camera: its movement lies in the sagittal plane and that is seen; it does and is seen from
elsewhere, so that its reps are read from a height, or those of a reverse fly from how wide the arms are; it moves
shoulder and elbow together, as a press does; or the trunk is bent forwards, where nothing tells how far the camera
looks up."""
USUAL_JITTER = 0.0075
"""Shaking of the tracked arms in the middle one of the rendered tuning sets, trunk lengths."""
MOST_JITTER = 10.0
"""More of the usual shaking than this widens a margin no further; less than the usual narrows none. Up to 2.5 times, as
was allowed before, only 83 to 88 % of the times of the most shaken tuning sets lay inside their margins."""


def find_kind(exercise: Exercise, view: CameraView) -> Kind:
    """The kind of a lift whose rows of the table count first in a view."""
    sagittal = get_plane(view) == "sagittal"
    if sagittal and exercise.driver.sagittal in SAGITTAL_DRIVERS:
        return "in_plane"
    if exercise.driver.sagittal == "arm_opening" or (exercise.driver.sagittal in SAGITTAL_DRIVERS and not sagittal):
        return "out_of_plane"
    if exercise.position in ("bent-over", "prone"):
        return "bent"
    return "compound" if {"shoulder", "elbow"} <= set(exercise.joints) else ""


ORIGINS: tuple[MarginOrigin, ...] = ("analogy", "hand")
"""Keys of the lists that say which of a measure's rows were not measured."""
PER_YAW = "_per_yaw_deg"
"""Ending of the key that says what an entry adds for each degree of the camera's yaw."""


@cache
def _read_entries() -> Mapping[str, Mapping[str, Any]]:
    return tomllib.loads((Path(__file__).parent / "margins.toml").read_text(encoding="utf-8"))


@cache
def _read_table() -> Mapping[str, Mapping[str, float]]:
    return {
        measure: {key: value for key, value in row.items() if isinstance(value, int | float)}
        for measure, row in _read_entries().items()
    }


def compute_margin(measure: str, value: float, view: CameraView, quality: Quality, kind: Kind = "") -> float | None:
    """Half-width of the 95 % interval of a value, in its unit; None when this view has no known margin.

    The tabled margin goes with the shaking of the landmarks where the row says so (`compute_shaking`) and is
    widened, as independent errors add up, by its share of the value, by what the camera's
    yaw adds or hides of an angle (projection law, `projected_angle`) and, for times, by one frame at each end
    (uniform rounding: 1.96·frame/√6). ``kind``: that of the lift (`find_kind`).
    """
    row = _read_table().get(measure, {})
    key = next((one for one in list_row_keys(view, kind) if one in row), None)
    return None if key is None else widen_margin(measure, row, key, value, view, quality)


def find_margin_origin(measure: str, view: CameraView, kind: Kind = "") -> MarginOrigin | None:
    """Where the margin of a measure in this view comes from (arguments as in `compute_margin`); None when it has none.

    An entry for cameras in front that stands in for one behind, for want of sets filmed from there, is an analogy.
    """
    row = _read_entries().get(measure, {})
    keys = list_row_keys(view, kind)
    key = next((one for one in keys if one in row), None)
    if key is None:
        return None
    stands_in: MarginOrigin = "analogy" if "behind" in keys[0] and "behind" not in key else "measured"
    return next((origin for origin in ORIGINS if key in row.get(origin, ())), stands_in)


def list_row_keys(view: CameraView, kind: Kind = "") -> tuple[str, ...]:
    """Keys of a view's entry in a row of the table; the first the row has counts. Behind is told like in front else."""
    plane = get_plane(view)
    keys: tuple[str, ...] = (plane,)
    if view.name == "back":
        keys = "behind", plane
    elif is_from_behind(view):
        keys = "oblique_behind", plane
    return tuple(one for key in keys for one in ((f"{key}_{kind}", key) if kind else (key,)))


def widen_margin(
    measure: str, row: Mapping[str, float], key: str, value: float, view: CameraView, quality: Quality
) -> float:
    """Half-width of the 95 % interval by one entry of the table, in the measure's unit (`compute_margin`)."""
    base = row[key] * compute_shaking(row, quality)
    parts = [base, read_share(row, key) * value, read_per_yaw(row, key) * compute_yaw_off_plane(view)]
    if measure in _PROJECTED:
        # Wrapped: an arm raised past the vertical, at 185, is seen at -175 or so, which is the same direction.
        seen = float(compute_projected_angle(value, compute_yaw_off_plane(view)))
        parts.append(wrap_degrees(seen - value))
    elif measure in TIME_MEASURES and quality.frame_rate > 0:
        parts.append(1.96 / (6**0.5 * quality.frame_rate))
    return float(np.linalg.norm(parts))


def compute_shaking(row: Mapping[str, float], quality: Quality) -> float:
    """By how much an entry counts in a clip whose landmarks shake more than usual: 1 where that is not known."""
    if quality.landmark_jitter is None or "per_jitter" not in row:
        return 1.0
    return float(np.clip(quality.landmark_jitter / USUAL_JITTER, 1.0, MOST_JITTER) ** row["per_jitter"])


def read_per_yaw(row: Mapping[str, float], key: str) -> float:
    """What a row's entry adds for each degree of the camera's yaw: the entry's own, the row's, or nothing."""
    return row.get(f"{key}{PER_YAW}", row.get(PER_YAW.removeprefix("_"), 0.0))


def read_share(row: Mapping[str, float], key: str) -> float:
    """Share of the value in the margin of a row's entry: the entry's own, its plane's, the row's, or none."""
    where = key.removesuffix("_in_plane").removesuffix("_out_of_plane").removesuffix("_compound").removesuffix("_bent")
    plane = "frontal" if where == "behind" else where.removesuffix("_behind")
    return row.get(f"{key}_share", row.get(f"{plane}_share", row.get("share", 0.0)))
