"""From landmarks to what the fit sees, and its first guess of the pose."""

from itertools import pairwise

import numpy as np

from formcheck.core.model import SIDES, Array, Mask
from formcheck.signals.body_fit.body import JOINTS, Pose
from formcheck.signals.body_fit.depth import Depths, estimate_across, estimate_depths, estimate_trunk
from formcheck.signals.body_fit.fit import FOCAL, Seen
from formcheck.signals.geometry import normalise
from formcheck.signals.lengths import compute_full_trunk_length
from formcheck.signals.skeleton import INDEX, get_index

MOMENTS_HZ = 15.0
"""The fit looks at about this many moments a second: landmarks are low-passed at 6 Hz."""
HIDDEN_TRUST = 0.02
"""Share of a seen landmark's weight that one called hidden keeps, so that no joint hangs in the air."""

_JOINTS = [INDEX[name] for name in JOINTS]


def choose_step(rate: float) -> int:
    """Which samples of a grid the fit looks at: every so many."""
    return max(1, round(rate / MOMENTS_HZ))


def prepare_observations(
    pixels: Array,
    world: Array,
    visibility: Array,
    rate: float,
    size: tuple[int, int],
    min_visibility: float,
    *,
    corrected: bool = True,
) -> tuple[Seen, Pose] | None:
    """What the fit sees, and where it starts, from n smoothed moments; None when the trunk was never seen.

    Parameters
    ----------
    pixels, world, visibility : (n, 33, 2), (n, 33, 3), (n, 33); NaN where missing.
    rate : moments a second; size : width and height of the picture, pixels.
    min_visibility : below this a landmark hardly counts.
    corrected : take off the world points' own leaning (`formcheck.signals.body_fit.depth`).
    """
    points = pixels[:, _JOINTS] - np.array(size) / 2
    there: Mask = np.asarray(np.isfinite(points).all(axis=2))
    visible = np.nan_to_num(visibility[:, _JOINTS])
    weight = np.where(there, np.where(visible >= min_visibility, visible**2, HIDDEN_TRUST), 0.0)
    scale = compute_full_trunk_length(pixels)
    upright = estimate_trunk(world)
    if not (np.isfinite(scale) and scale > 0) or not np.isfinite(upright).any():
        return None
    hint = estimate_depths(world, pixels, scale, corrected=corrected)
    seen = Seen(
        rate=rate,
        points=np.where(there[:, :, None], points, 0.0),
        weight=weight,
        slant=np.nan_to_num(hint.slant),
        slant_sd=np.where(np.isfinite(hint.slant), np.nan_to_num(hint.sd, nan=1.0), np.inf),
        axes_slant=np.nan_to_num(hint.axes),
        axes_sd=np.where(np.isfinite(hint.axes), hint.axes_sd, np.inf),
        scale=scale,
        long_side=float(max(size)),
    )
    return seen, _guess_pose(seen, world, hint)


def _guess_pose(seen: Seen, world: Array, hint: Depths) -> Pose:
    """Directions as the picture shows them, slanted as the world points hint; hips where they are seen."""
    count = len(world)
    world = _fill_gaps(world.reshape(count, -1)).reshape(count, -1, 3)
    up, left = estimate_trunk(world), estimate_across(world)
    left = normalise(left - (left * up).sum(axis=1, keepdims=True) * up)
    directions = []
    for limb, parts in enumerate((("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle"))):
        for number, side in enumerate(SIDES):
            for link, (near, far) in enumerate(pairwise(parts)):
                line = normalise(world[:, get_index(far, side)] - world[:, get_index(near, side)])
                sine = hint.slant[:, 4 * limb + 2 * number + link]
                sine = np.clip(np.where(np.isfinite(sine), sine, line[:, 2]), -0.98, 0.98)
                flat = normalise(line[:, :2] + 1e-9)
                directions.append(np.concatenate([flat * np.sqrt(1 - sine**2)[:, None], sine[:, None]], axis=1))
    focal = FOCAL[0] * seen.long_side
    distance = focal / seen.scale
    hips = [JOINTS.index(f"{side}_hip") for side in SIDES]
    middle = np.where((seen.weight[:, hips] > 0)[:, :, None], seen.points[:, hips], np.nan).mean(axis=1)
    root = np.concatenate([_fill_gaps(middle) * distance / focal, np.full((count, 1), distance)], axis=1)
    trunk = np.stack([left, up, np.cross(left, up)], axis=2)
    return Pose(root, trunk, np.zeros((count, 2, 2)), np.stack(directions, axis=1))


def _fill_gaps(columns: Array) -> Array:
    """Gaps of (n, k) columns bridged by straight lines; a column never seen is 0."""
    out = np.array(columns)
    at = np.arange(len(out))
    for column in range(out.shape[1]):
        there: Mask = np.isfinite(out[:, column])
        out[:, column] = np.interp(at, at[there], out[there, column]) if there.any() else 0.0
    return out
