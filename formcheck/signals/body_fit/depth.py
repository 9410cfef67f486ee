"""The pose model's world points as a weak hint of depth: how far segments slant towards or away from the camera.

The world points' depth is short and leans to one side, by an amount that depends on where the camera stands and
how high the arm is. What was seen of that on the rendered tuning sets is taken off here, and what is left is told
as the hint's standard deviation: large enough that the picture decides wherever it can.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from formcheck.core.model import SIDES, Array
from formcheck.signals.geometry import normalise
from formcheck.signals.skeleton import get_index

KNOTS_DEG = (15.0, 45.0, 75.0, 105.0, 135.0, 165.0)
"""Angle of a segment from straight down in the picture at which the offsets below hold."""
AWAY_FRONT_DEG = {
    "upper_arm": (12.0, 10.0, 6.0, 4.0, -3.0, -20.0),
    "forearm": (-1.0, 0.0, 2.0, 1.0, 0.0, 0.0),
}
"""Degrees the world points place a segment too far away, camera in front of the lifter (tuning sets)."""
AWAY_BACK_DEG = {
    "upper_arm": (-8.0, -18.0, -19.0, -13.0, -9.0, 3.0),
    "forearm": (-6.0, -22.0, -35.0, -30.0, -30.0, -27.0),
}
"""The same with the camera behind the lifter."""
SHORT_AT_SIDE = 0.35
"""Share of a segment's slant that the world points miss with the camera at the lifter's side (the same sets)."""
UPRIGHT_TOWARDS_DEG = 7.0
"""An upright trunk is placed this much too far towards the camera at the top; a trunk slanted by 60° is not."""
LEVEL_TURN_DEG = 5.0
SHORT_TURN_DEG = 4.0
"""What straightens the yaw of the line across shoulders and hips (`formcheck.signals.camera`)."""
PLUMB_SLACK = 0.06
PLUMB_PER_SIDEWAYS = 0.5
PLUMB_SHORT = 0.4
"""An upper arm seen plumb and at full length is plumb in space too: its slant is 0 give or take the first, more by the
second times the share of its length it reaches sideways, and by what the slant it looks shortened by exceeds the third.
"""
UPPER_ARM_PER_TRUNK = 0.58
"""As in the body fit's proportions (de Leva 1996 and Winter, from memory)."""
LEFT_SD = 0.17
LEFT_SD_AT_SIDE = 0.3
LEG_SD = 0.25
AXIS_SD = 0.12
"""Standard deviations of what is left, of the sine of the slant; at the side the second comes on top of the first."""


@dataclass(frozen=True, eq=False)
class Depths:
    """Hints of depth at n moments.

    Parameters
    ----------
    slant, sd : (n, 8) sine of each segment's slant away from the camera, and its standard deviation; NaN unseen.
    axes, axes_sd : (n, 2) the same of the line across to the lifter's left, and of the trunk upwards.
    """

    slant: Array
    sd: Array
    axes: Array
    axes_sd: Array


def estimate_depths(world: Array, pixels: Array, scale: float, *, corrected: bool = True) -> Depths:
    """Hints from world points (n, 33, 3) and landmarks in the picture (n, 33, 2); NaN where either is missing.

    ``scale`` is a trunk length in pixels. Not ``corrected``, the world points are taken as they are,
    and nothing is taken for usual.
    """
    across = estimate_across(world, corrected=corrected)
    taken = 1.0 if corrected else 0.0
    facing = across[:, 0]  # 1 seen from the front, -1 from behind, 0 at the side
    at_side = np.abs(across[:, 2])
    slants, sds = [], []
    for parts, names in ((("shoulder", "elbow", "wrist"), ("upper_arm", "forearm")), (("hip", "knee", "ankle"), None)):
        for side in SIDES:
            for link, (near, far) in enumerate(pairwise(parts)):
                sine = normalise(world[:, get_index(far, side)] - world[:, get_index(near, side)])[:, 2]
                if names is None:
                    slants.append(sine)
                    sds.append(np.full(len(sine), LEG_SD))
                    continue
                seen = pixels[:, get_index(far, side)] - pixels[:, get_index(near, side)]
                raised = np.degrees(np.arctan2(np.abs(seen[:, 0]), seen[:, 1]))
                away = np.maximum(facing, 0) * np.interp(raised, KNOTS_DEG, AWAY_FRONT_DEG[names[link]])
                away += np.maximum(-facing, 0) * np.interp(raised, KNOTS_DEG, AWAY_BACK_DEG[names[link]])
                slant = np.degrees(np.arcsin(np.clip(sine, -1, 1))) - taken * away
                slant = slant / (1 - taken * SHORT_AT_SIDE * at_side**2)
                sine, sd = np.sin(np.radians(np.clip(slant, -89.0, 89.0))), LEFT_SD + LEFT_SD_AT_SIDE * at_side**2
                if corrected and link == 0:
                    sine, sd = _add_plumb(sine, sd, seen, UPPER_ARM_PER_TRUNK * scale)
                slants.append(sine)
                sds.append(sd)
    up = estimate_trunk(world)
    slant = np.degrees(np.arcsin(np.clip(up[:, 2], -1, 1)))
    slant = slant + taken * UPRIGHT_TOWARDS_DEG * np.clip(1 - np.abs(slant) / 60.0, 0.0, 1.0)
    axes = np.stack([across[:, 2], np.sin(np.radians(slant))], axis=1)
    return Depths(np.stack(slants, axis=1), np.stack(sds, axis=1), axes, np.full(axes.shape, AXIS_SD))


def _add_plumb(sine: Array, sd: Array, seen: Array, length: float) -> tuple[Array, Array]:
    """The hint joined with what is usual of arms seen plumb (a product of two normal densities)."""
    size = np.linalg.norm(seen, axis=1)
    shortened = np.sqrt(1 - np.minimum(size / length, 1.0) ** 2)
    usual = PLUMB_SLACK + PLUMB_PER_SIDEWAYS * np.abs(seen[:, 0]) / np.maximum(size, 1e-9)
    usual = usual + np.maximum(shortened - PLUMB_SHORT, 0.0)
    share = usual**2 / (usual**2 + sd**2)
    return sine * share, sd * np.sqrt(share)


def estimate_across(world: Array, *, corrected: bool = True) -> Array:
    """(n, 3) unit line to the lifter's left by shoulders and hips, its turn straightened."""
    line = np.zeros((len(world), 3))
    for part in ("shoulder", "hip"):
        line += normalise(world[:, get_index(part, "left")] - world[:, get_index(part, "right")])
    turn = np.arctan2(-line[:, 2], line[:, 0])
    flat = np.hypot(line[:, 0], line[:, 2])
    if corrected:
        turn = turn + np.radians(LEVEL_TURN_DEG) * np.cos(turn) + np.radians(SHORT_TURN_DEG) * np.sin(turn)
    return normalise(np.stack([flat * np.cos(turn), line[:, 1], -flat * np.sin(turn)], axis=1))


def estimate_trunk(world: Array) -> Array:
    """(n, 3) unit line up the trunk."""
    line = np.zeros((len(world), 3))
    for side in SIDES:
        line += world[:, get_index("shoulder", side)] - world[:, get_index("hip", side)]
    return normalise(line)
