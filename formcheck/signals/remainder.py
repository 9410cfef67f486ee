"""What is still wrong with the angles of raised arms and of elbows after the first correction, as far as pictures tell.

`formcheck.signals.correction` takes off what bodies have in common. What then remains differs from set to set, and
partly goes with things every clip shows: how far the body fitted in space disagrees with the plane, how much shorter
the upper arm looks than at its full length, how the shoulder moves on the trunk, where the camera stands. A small
ridge regression on these cues, fitted to rendered sets by ``tools/benchmarks/fit_remainder.py`` and held against sets
left out of it, says how many degrees to take off; the coefficients are in `remainder.toml`. Only cameras in front of
the lifter or at an angle there; never more than `MOST_DEG`; nothing of a hanging arm, which the first correction suits.
The bend of an elbow has cues of its own, and holds for cameras straight in front.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np

from formcheck.core.model import Array, CameraView, Side
from formcheck.signals.camera import get_plane
from formcheck.signals.correction import estimate_posture
from formcheck.signals.lengths import compute_full_length, measure_trunk, measure_width, select_both_sides
from formcheck.signals.skeleton import INDEX, TRUNK_PER_SHOULDER_WIDTH, get_index

CUES = (
    *("disagreement", "disagreement_turned", "disagreement_near", "disagreement_unsure"),
    *("upper_arm_short", "shoulder_width", "shoulder_out"),
    *("neck", "elbow", "left", "near", "bent_arm", "bent_arm_left", "bent_arm_near", "bent_arm_turned", "bent_over"),
)
"""Columns of `compute_cues`, each about -1 to 1 in size: the unit of each stands there."""
ELBOW_CUES = ("disagreement", "upper_arm_short", "forearm_short", "arm", "bent_arm", "bent_over")
"""Columns of `compute_elbow_cues`."""
KNOTS_DEG = (30.0, 60.0, 90.0, 110.0, 135.0, 160.0, 180.0)
"""Angles of the arm at which the part without cues is told; between them a straight line."""
ELBOW_KNOTS_DEG = (0.0, 10.0, 20.0, 40.0, 80.0, 140.0)
CURVES = ("arm_elevation", "arm_raise")
ELBOW = "elbow_flexion"
IN_FRONT_DEG = 60.0
HANGS_DEG, RAISED_DEG = 30.0, 70.0
"""Nothing is taken off below the first, the whole above the second."""
STEEPER_FROM_DEG, STEEPER_PER_DEG = 60.0, 60.0
"""A cue may count for more the higher the arm is: by its angle above the first, in units of the second."""
TAKEN = 0.8
"""Share of it that is taken off: bodies and clothes other than those fitted to will have less in common."""
MOST_DEG = 8.0
LARGEST_CUE = 4.0


def holds_for(view: CameraView) -> bool:
    """The camera stands where the coefficients were fitted: in front of the lifter, or at an angle there."""
    return get_plane(view) != "sagittal" and abs(view.yaw_deg or 0.0) <= IN_FRONT_DEG and view.name != "back"


def estimate_remainder(name: str, curve: Array, cues: Array) -> Array:
    """Degrees to be taken off an angle (m,) with its cues (m, k); 0 where the angle is not known."""
    whole = np.clip(make_design(name, curve, cues) @ np.array(read_table()[name]), -MOST_DEG, MOST_DEG)
    return np.asarray(TAKEN * select_counted(name, curve) * whole)


def select_counted(name: str, curve: Array) -> Array:
    """How much (m,) of the remainder counts, 0..1; 0 where the angle is not known."""
    known = np.isfinite(curve)
    if name == ELBOW:
        return np.asarray(known, dtype=float)
    return np.where(known, np.interp(np.nan_to_num(curve), (HANGS_DEG, RAISED_DEG), (0.0, 1.0)), 0.0)


def make_design(name: str, curve: Array, cues: Array) -> Array:
    """(m, c) columns the coefficients belong to: 1, the cues, the cues of a higher arm, and the angle's knots."""
    angle = np.nan_to_num(curve)
    at, steeper = (KNOTS_DEG, STEEPER_FROM_DEG) if name != ELBOW else (ELBOW_KNOTS_DEG, 0.0)
    higher = np.clip((angle - steeper) / STEEPER_PER_DEG, -1.0, 2.0)[:, None]
    knots = np.stack([np.interp(angle, at, row) for row in np.eye(len(at))], axis=1)
    return np.hstack([np.ones((len(angle), 1)), cues, cues * higher, knots])


def compute_cues(
    pixels: Array,
    side: Side,
    yaw_deg: float,
    rate: float,
    disagreement_deg: Array,
    unsure_deg: Array,
    elbow_deg: Array,
) -> Array:
    """(m, k) cues of one arm at every moment, 0 where unseen, each held within ±`LARGEST_CUE`.

    Parameters
    ----------
    pixels : (m, 33, 2) smoothed landmarks in the picture.
    disagreement_deg : (m,) the fitted body's angle of this arm less the plane's, in tens of degrees as a cue.
    unsure_deg : (m,) standard deviation of the fitted body's angle by the fit itself, in fives of degrees as a cue.
    elbow_deg : (m,) bend of the elbow, in fifties of degrees as a cue.
    """
    shoulder, elbow = (pixels[:, get_index(part, side)] for part in ("shoulder", "elbow"))
    pair, hip_pair = select_both_sides(pixels, "shoulder"), select_both_sides(pixels, "hip")
    hips, width, trunk = hip_pair.mean(axis=1), measure_width(pair), measure_trunk(pair, hip_pair)
    upper_arm = np.linalg.norm(elbow - shoulder, axis=1)
    # Not `full_trunk_length`: where the hips are never seen, the shoulders alone give the scale.
    scale = float(np.fmax(compute_full_length(trunk), TRUNK_PER_SHOULDER_WIDTH * compute_full_length(width)))
    posture = estimate_posture(pixels, side, yaw_deg, rate)
    out = np.abs(shoulder[:, 0] - hips[:, 0]) / scale
    level = np.ones(len(pixels))
    sign = (1.0 if side == "left" else -1.0) * level
    near, turned = sign * yaw_deg / 20.0, level * abs(yaw_deg) / 20.0
    apart = np.clip(np.nan_to_num(disagreement_deg / 10.0), -3.0, 3.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        columns = {
            "disagreement": apart,
            "disagreement_turned": apart * turned,
            "disagreement_near": apart * near,
            "disagreement_unsure": apart * np.clip(np.nan_to_num(unsure_deg / 5.0), 0.0, 3.0),
            "upper_arm_short": upper_arm / compute_full_length(upper_arm) - 0.9,
            "shoulder_width": (width / _compute_usual(width) - 1.0) / 0.1,
            "shoulder_out": (out - _compute_usual(out)) / 0.05,
            "neck": ((shoulder[:, 1] - pixels[:, INDEX["nose"], 1]) / scale - 0.4) / 0.1,
            "elbow": np.nan_to_num(elbow_deg, nan=30.0) / 50.0,
            "left": sign,
            "near": near,
            "bent_arm": posture.bent_arm,
            "bent_arm_left": posture.bent_arm * sign,
            "bent_arm_near": posture.bent_arm * near,
            "bent_arm_turned": posture.bent_arm * turned,
            "bent_over": posture.bent_over,
        }
    return np.stack([np.clip(np.nan_to_num(columns[name]), -LARGEST_CUE, LARGEST_CUE) for name in CUES], axis=1)


def compute_elbow_cues(
    pixels: Array, side: Side, yaw_deg: float, rate: float, disagreement_deg: Array, arm_deg: Array
) -> Array:
    """(m, k) cues of one elbow, as those of an arm; ``arm_deg``: the arm's raise, in right angles from level."""
    shoulder, elbow, wrist = (pixels[:, get_index(part, side)] for part in ("shoulder", "elbow", "wrist"))
    posture = estimate_posture(pixels, side, yaw_deg, rate)
    with np.errstate(divide="ignore", invalid="ignore"):
        short = [
            length / compute_full_length(length) - 0.9
            for length in (np.linalg.norm(far - near, axis=1) for near, far in ((shoulder, elbow), (elbow, wrist)))
        ]
    columns = {
        "disagreement": np.clip(np.nan_to_num(disagreement_deg / 10.0), -3.0, 3.0),
        "upper_arm_short": short[0],
        "forearm_short": short[1],
        "arm": np.nan_to_num(arm_deg, nan=90.0) / 90.0 - 1.0,
        "bent_arm": posture.bent_arm,
        "bent_over": posture.bent_over,
    }
    return np.stack([np.clip(np.nan_to_num(columns[name]), -LARGEST_CUE, LARGEST_CUE) for name in ELBOW_CUES], axis=1)


def list_cue_names(name: str) -> tuple[str, ...]:
    """Cues of a curve, in the order of their columns."""
    return ELBOW_CUES if name == ELBOW else CUES


def _compute_usual(values: Array) -> float:
    return float(np.nanmedian(values)) if np.isfinite(values).any() else float("nan")


@cache
def read_table() -> Mapping[str, tuple[float, ...]]:
    """Curve name → coefficients in the order of `make_design`, as `remainder.toml` says."""
    text = (Path(__file__).parent / "remainder.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)
    out: dict[str, tuple[float, ...]] = {}
    for name, row in rows.items():
        pairs = np.array([row[cue] for cue in list_cue_names(name)])
        out[name] = tuple(float(x) for x in (row["base"], *pairs[:, 0], *pairs[:, 1], *row["knots"]))
    return out
