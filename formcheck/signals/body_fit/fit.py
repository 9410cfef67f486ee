"""Least squares of a jointed body and a perspective camera to the landmarks of a set.

What is asked of the body: its joints, seen by the camera, lie on the landmarks; segments point about as far towards
or away from the camera as the model's world points say (weakly); courses are smooth; proportions are human.
"""

from dataclasses import dataclass

import numpy as np

from formcheck.core.model import Array
from formcheck.signals.body_fit import body
from formcheck.signals.body_fit.banded import Normal
from formcheck.signals.body_fit.body import GIRDLE, JOINTS, LENGTHS, SEGMENTS, STATE, TURN, Pose

PIXEL_SD = 0.03
"""A landmark lies this far off its joint, trunk lengths."""
GIRDLE_SD = 0.04
"""A shoulder shifts this far on the trunk, outwards or up, trunk lengths."""
ALIKE = 8.0
"""Neighbouring moments err alike: this many count as one."""
ROUGHNESS_SD = np.concatenate(
    [[0.05, 0.05, 0.05], np.full(6, 0.05), np.full(4, 0.02), np.tile([0.15, 0.15, 0.06], len(SEGMENTS))]
)
"""Usual second difference of the courses from one moment to the next, at 15 moments a second."""
OUTLIER = 2.5
"""Residuals beyond this many standard deviations pull with constant force (Huber)."""
LOOSE_SD = 1.0
"""Directions nobody sees stay this near to their first guess, radians."""

PROPORTIONS: dict[str, tuple[float, float]] = {
    "shoulder_width": (0.70, 0.10),
    "hip_width": (0.40, 0.15),
    "upper_arm": (0.58, 0.07),
    "forearm": (0.52, 0.07),
    "thigh": (0.85, 0.08),
    "shank": (0.83, 0.08),
}
"""Length in trunk lengths, and how uncertain its logarithm is. Limbs: between the joint centres of de Leva 1996 and the
bony landmarks of Winter's figure 4.1 (from memory); widths: of the pose model's points on rendered bodies."""
FOCAL = (0.95, 0.35)
"""Focal length over the picture's long side, and how uncertain its logarithm is."""
MAX_STEPS = 40
MOST_DAMPING = 1e4
ENOUGH = 1e-3
ENOUGH_GAIN = 3e-3
"""The fit has settled when no direction moves by more than this, radians, or the cost falls by less than this share."""


@dataclass(frozen=True, eq=False)
class Seen:
    """What was seen at n moments.

    Parameters
    ----------
    rate : moments a second.
    points : (n, 12, 2) landmarks from the picture's middle, pixels; 0 where missing.
    weight : (n, 12) 0..1; 0 where missing.
    slant, slant_sd : (n, 8) hint of the sine of each segment's slant away from the camera; sd infinite where none.
    axes_slant, axes_sd : (n, 2) the same of the line across (to the lifter's left) and of the trunk (upwards).
    scale : pixels a trunk length at the lifter.
    long_side : pixels of the picture's longer side.
    """

    rate: float
    points: Array
    weight: Array
    slant: Array
    slant_sd: Array
    axes_slant: Array
    axes_sd: Array
    scale: float
    long_side: float


@dataclass(frozen=True, eq=False)
class BodyFit:
    """The fitted body, n moments."""

    pose: Pose
    lengths: Array
    focal: float
    covariance: Array
    """(n, 26, 26) of the pose's state."""
    steps: int
    settled: bool
    misfit: float
    """Root mean square distance of the landmarks from the body, trunk lengths."""


def fit_body(seen: Seen, start: Pose) -> BodyFit:
    """Fit by damped Gauss-Newton steps (Levenberg-Marquardt). Raises LinAlgError when nothing holds the body."""
    pose, shared = start, _make_priors(seen)[0]
    damping, growth, settled, steps = 1e-2, 2.0, False, 0
    cost = _compute_cost(seen, pose, shared, start)
    system, right, right_shared = _make_normal(seen, pose, shared, start)
    while steps < MAX_STEPS and not settled:
        steps += 1
        step, step_shared = system.damped(damping).solve(right, right_shared)
        trial, trial_shared = pose.moved(step), shared + step_shared
        trial_cost = _compute_cost(seen, trial, trial_shared, start)
        if not trial_cost < cost:
            damping, growth = damping * growth, 2.0 * growth
            settled = damping > MOST_DAMPING  # no step lowers the cost any more
            continue
        gain = cost - trial_cost
        pose, shared, damping, growth = trial, trial_shared, max(damping / 3.0, 1e-9), 2.0
        cost = trial_cost
        settled = float(np.abs(step[:, body.DIRECTIONS]).max()) < ENOUGH or gain < ENOUGH_GAIN * cost
        system, right, right_shared = _make_normal(seen, pose, shared, start)
    moments, _ = system.covariances()
    residual = _compute_residual(seen, pose, shared)[0] * PIXEL_SD
    weight = np.broadcast_to(seen.weight[:, :, None], residual.shape)
    misfit = float(np.sqrt((weight * residual**2).sum() / max(weight.sum() / 2, 1e-9)))
    return BodyFit(
        pose=pose,
        lengths=np.exp(shared[:6]),
        focal=float(np.exp(shared[6])),
        covariance=moments,
        steps=steps,
        settled=settled,
        misfit=misfit,
    )


def _make_priors(seen: Seen) -> tuple[Array, Array]:
    centre = [np.log(PROPORTIONS[name][0]) for name in LENGTHS] + [np.log(FOCAL[0] * seen.long_side)]
    spread = [PROPORTIONS[name][1] for name in LENGTHS] + [FOCAL[1]]
    return np.array(centre), np.array(spread)


def _project(points: Array, focal: float) -> Array:
    return np.asarray(focal * points[..., :2] / points[..., 2:])


def _compute_residual(seen: Seen, pose: Pose, shared: Array) -> tuple[Array, Array]:
    """Landmarks' residuals (n, 12, 2) in standard deviations, and the points that were projected."""
    points = body.compute_joints(pose, np.exp(shared[:6]))
    projected = _project(points, float(np.exp(shared[6])))
    return (projected - seen.points) / (PIXEL_SD * seen.scale), points


def _weigh_huber(residual: Array) -> tuple[Array, Array]:
    """Cost and weight of residual vectors along the last axis."""
    size = np.linalg.norm(residual, axis=-1)
    cost = np.where(size <= OUTLIER, size**2, OUTLIER * (2 * size - OUTLIER))
    return cost, np.where(size <= OUTLIER, 1.0, OUTLIER / np.maximum(size, OUTLIER))


def _make_roughness_weights(seen: Seen) -> Array:
    return np.asarray(ROUGHNESS_SD * (15.0 / seen.rate) ** 2)


def _compute_slants(seen: Seen, pose: Pose) -> tuple[Array, Array]:
    segments = (pose.directions[:, :, 2] - seen.slant) / seen.slant_sd
    axes = (pose.trunk[:, 2, :2] - seen.axes_slant) / seen.axes_sd
    return segments, axes


def _compute_cost(seen: Seen, pose: Pose, shared: Array, start: Pose) -> float:
    residual, points = _compute_residual(seen, pose, shared)
    if (points[..., 2] <= 0.1).any():
        return float("inf")
    segments, axes = _compute_slants(seen, pose)
    bend = np.diff(body.compute_smoothed_values(pose), 2, axis=0) / _make_roughness_weights(seen)
    centre, spread = _make_priors(seen)
    total = (seen.weight * _weigh_huber(residual)[0]).sum() / ALIKE
    total += ((segments**2).sum() + (axes**2).sum()) / ALIKE
    total += ((pose.girdle / GIRDLE_SD) ** 2).sum() / ALIKE
    total += ((pose.directions - start.directions) ** 2).sum() / LOOSE_SD**2 / ALIKE
    total += (bend**2).sum() / ALIKE
    return float(total + (((shared - centre) / spread) ** 2).sum())


def _make_normal(seen: Seen, pose: Pose, shared: Array, start: Pose) -> tuple[Normal, Array, Array]:
    """Normal equations of the linearised problem, and minus half its gradient."""
    count = len(pose.root)
    lengths, focal = np.exp(shared[:6]), float(np.exp(shared[6]))
    residual, points = _compute_residual(seen, pose, shared)
    weight = seen.weight * _weigh_huber(residual)[1] / ALIKE
    depth = points[:, :, 2]
    project = np.zeros((count, len(JOINTS), 2, 3))
    project[:, :, 0, 0] = project[:, :, 1, 1] = focal / depth
    project[:, :, :, 2] = -focal * points[:, :, :2] / depth[:, :, None] ** 2
    project /= PIXEL_SD * seen.scale
    by_state, by_length = body.compute_joint_derivatives(pose, lengths)
    jacobian = (project @ by_state).reshape(count, -1, STATE)
    by_shared = np.concatenate(
        [
            project @ by_length,
            (focal * points[:, :, :2] / depth[:, :, None] / (PIXEL_SD * seen.scale))[..., None],
        ],
        axis=3,
    ).reshape(count, -1, len(LENGTHS) + 1)
    weights = np.repeat(weight, 2, axis=1)[:, :, None]
    flat = residual.reshape(count, -1, 1)
    transposed = (weights * jacobian).transpose(0, 2, 1)
    own = transposed @ jacobian
    border = transposed @ by_shared
    right = -(transposed @ flat)[:, :, 0]
    shared_block = np.einsum("nri,nrj->ij", weights * by_shared, by_shared)
    right_shared = -np.einsum("nri,nr->i", weights * by_shared, flat[:, :, 0])

    segments, axes = _compute_slants(seen, pose)
    for axis in (0, 1):
        change = body.compute_axis_derivative(pose, axis)[:, 2] / seen.axes_sd[:, axis, None]
        pull = change / ALIKE
        own[:, TURN, TURN] += pull[:, :, None] * change[:, None, :]
        right[:, TURN] -= pull * axes[:, axis, None]
    bases = body.compute_tangents(pose.directions)
    for segment in range(len(SEGMENTS)):
        columns = body.get_direction_slice(segment)
        base = bases[:, segment]
        change = base[:, 2] / seen.slant_sd[:, segment, None]
        pull = change / ALIKE
        own[:, columns, columns] += pull[:, :, None] * change[:, None, :] + np.eye(2) / LOOSE_SD**2 / ALIKE
        away = pose.directions[:, segment] - start.directions[:, segment]
        right[:, columns] -= pull * segments[:, segment, None]
        right[:, columns] -= np.einsum("nij,ni->nj", base, away) / LOOSE_SD**2 / ALIKE
    own[:, GIRDLE, GIRDLE] += np.eye(4) / GIRDLE_SD**2 / ALIKE
    right[:, GIRDLE] -= pose.girdle.reshape(-1, 4) / GIRDLE_SD**2 / ALIKE

    one, two = _smooth(seen, pose, own, right)
    centre, spread = _make_priors(seen)
    shared_block = shared_block + np.diag(1 / spread**2)
    right_shared = right_shared - (shared - centre) / spread**2
    return Normal((own, one, two), border, shared_block), right, right_shared


def _smooth(seen: Seen, pose: Pose, own: Array, right: Array) -> tuple[Array, Array]:
    """Add the wish for smooth courses to the diagonal blocks and the right side; gives the blocks beside them."""
    values, change = body.compute_smoothed_values(pose), body.compute_smoothed_derivatives(pose)
    scale = 1 / _make_roughness_weights(seen)
    bend = np.diff(values, 2, axis=0) * scale
    change = change * scale[None, :, None] / ALIKE**0.5
    bend = bend / ALIKE**0.5
    flipped = change.transpose(0, 2, 1)
    count = len(values)
    one = np.zeros((max(count - 1, 0), STATE, STATE))
    two = np.zeros((max(count - 2, 0), STATE, STATE))
    if count < 3:
        return one, two
    coefficients = (1.0, -2.0, 1.0)
    inner = count - 2
    square = flipped @ change
    for i, first in enumerate(coefficients):
        part = slice(i, i + inner)
        own[part] += first**2 * square[part]
        right[part] -= first * (flipped[part] @ bend[:, :, None])[:, :, 0]
    one[:inner] += coefficients[1] * coefficients[0] * (flipped[1 : 1 + inner] @ change[:inner])
    one[1 : 1 + inner] += coefficients[2] * coefficients[1] * (flipped[2 : 2 + inner] @ change[1 : 1 + inner])
    two[:] = flipped[2:] @ change[:inner]
    return one, two
