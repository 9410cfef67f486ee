"""What is still wrong with a raised arm's angles after the first correction, as far as the picture itself tells.

`formcheck.signals.correction` takes off what bodies have in common. What then remains differs from set to set, and
partly goes with things every clip shows: how far the body fitted in space disagrees with the plane, how much shorter
the upper arm looks than at its full length, how the shoulder moves on the trunk, where the camera stands. A small
ridge regression on these cues, fitted to rendered sets by ``benchmarks/fit_remainder.py`` and held against sets left
out of it, says how many degrees to take off; the coefficients are in `remainder.toml`. Only cameras in front of the
lifter or at an angle there; never more than `MOST_DEG`; nothing of a hanging arm, which the first correction suits.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np

from formcheck.model import Array, CameraView, Side
from formcheck.signals.camera import plane_of
from formcheck.signals.correction import posture_of
from formcheck.signals.skeleton import INDEX, sided

CUES = (
    *("disagreement", "disagreement_turned", "disagreement_near", "upper_arm_short", "shoulder_width", "shoulder_out"),
    *("neck", "elbow", "left", "near", "bent_arm", "bent_arm_left", "bent_arm_near", "bent_arm_turned", "bent_over"),
)
"""Columns of `cues_of`, each about -1 to 1 in size: the unit of each stands there."""
KNOTS_DEG = (30.0, 60.0, 90.0, 110.0, 135.0, 160.0, 180.0)
"""Angles of the arm at which the part without cues is told; between them a straight line."""
CURVES = ("arm_elevation", "arm_raise")
IN_FRONT_DEG = 60.0
HANGS_DEG, RAISED_DEG = 30.0, 70.0
"""Nothing is taken off below the first, the whole above the second."""
STEEPER_FROM_DEG, STEEPER_PER_DEG = 60.0, 60.0
"""A cue may count for more the higher the arm is: by its angle above the first, in units of the second."""
TAKEN = 0.8
"""Share of it that is taken off: bodies and clothes other than those fitted to will have less in common."""
MOST_DEG = 8.0
LARGEST_CUE = 4.0
FULL_LENGTH_PERCENTILE = 95.0
TRUNK_PER_SHOULDER_WIDTH = 1.4


def holds_for(view: CameraView) -> bool:
    """The camera stands where the coefficients were fitted: in front of the lifter, or at an angle there."""
    return plane_of(view) != "sagittal" and abs(view.yaw_deg or 0.0) <= IN_FRONT_DEG and view.name != "back"


def remainder_of(name: str, curve: Array, cues: Array) -> Array:
    """Degrees to be taken off an arm's angle (m,) with its cues (m, k); 0 where the angle is not known."""
    whole = np.clip(design(curve, cues) @ np.array(_table()[name]), -MOST_DEG, MOST_DEG)
    return np.asarray(TAKEN * raised(curve) * whole)


def raised(curve: Array) -> Array:
    """How much (m,) of the remainder counts, 0..1; 0 where the angle is not known."""
    return np.asarray(np.nan_to_num(np.interp(curve, (HANGS_DEG, RAISED_DEG), (0.0, 1.0))))


def design(curve: Array, cues: Array) -> Array:
    """(m, c) columns the coefficients belong to: 1, the cues, the cues of a higher arm, and the angle's knots."""
    angle = np.nan_to_num(curve)
    higher = np.clip((angle - STEEPER_FROM_DEG) / STEEPER_PER_DEG, -1.0, 2.0)[:, None]
    knots = np.stack([np.interp(angle, KNOTS_DEG, row) for row in np.eye(len(KNOTS_DEG))], axis=1)
    return np.hstack([np.ones((len(angle), 1)), cues, cues * higher, knots])


def cues_of(pixels: Array, side: Side, yaw_deg: float, rate: float, disagreement_deg: Array, elbow_deg: Array) -> Array:
    """(m, k) cues of one arm at every moment, 0 where unseen, each held within ±`LARGEST_CUE`.

    Parameters
    ----------
    pixels : (m, 33, 2) smoothed landmarks in the picture.
    disagreement_deg : (m,) the fitted body's angle of this arm less the plane's, in tens of degrees as a cue.
    elbow_deg : (m,) bend of the elbow, in fifties of degrees as a cue.
    """
    shoulder, elbow = (pixels[:, sided(part, side)] for part in ("shoulder", "elbow"))
    left, right = (pixels[:, sided("shoulder", one)] for one in ("left", "right"))
    hips = (pixels[:, sided("hip", "left")] + pixels[:, sided("hip", "right")]) / 2
    width = np.linalg.norm(left - right, axis=1)
    trunk = np.linalg.norm((left + right) / 2 - hips, axis=1)
    upper_arm = np.linalg.norm(elbow - shoulder, axis=1)
    scale = float(np.fmax(_high(trunk), TRUNK_PER_SHOULDER_WIDTH * _high(width)))
    posture = posture_of(pixels, side, yaw_deg, rate)
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
            "upper_arm_short": upper_arm / _high(upper_arm) - 0.9,
            "shoulder_width": (width / _usual(width) - 1.0) / 0.1,
            "shoulder_out": (out - _usual(out)) / 0.05,
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


def _high(values: Array) -> float:
    return float(np.nanpercentile(values, FULL_LENGTH_PERCENTILE)) if np.isfinite(values).any() else float("nan")


def _usual(values: Array) -> float:
    return float(np.nanmedian(values)) if np.isfinite(values).any() else float("nan")


@cache
def _table() -> Mapping[str, tuple[float, ...]]:
    text = (Path(__file__).parent / "remainder.toml").read_text(encoding="utf-8")
    return {name: coefficients_of(row) for name, row in tomllib.loads(text).items()}


def coefficients_of(row: Mapping[str, list[float] | float]) -> tuple[float, ...]:
    """Coefficients in the order of `design` from a table's row: ``base``, a pair a cue, ``knots``."""
    pairs = np.array([row[name] for name in CUES])
    return tuple(float(x) for x in (row["base"], *pairs[:, 0], *pairs[:, 1], *row["knots"]))  # type: ignore[misc]
