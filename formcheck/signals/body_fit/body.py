"""A jointed body of constant segment lengths: where its joints are, and how they move when a joint turns.

Lengths are in trunk lengths (middle of the hips to middle of the shoulders). Axes are the camera's: x to the right in
the picture, y down, z away. Left comes first everywhere.

What moves, 26 numbers a moment: the middle of the hips (3), the trunk's turn (3), each shoulder's shift on the trunk,
outwards and up (4), and the directions of eight segments (2 each). A turn is a small rotation in the trunk's own axes;
a direction moves in the plane at right angles to itself, so segment lengths never change.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from formcheck.core.model import Array

SEGMENTS: Final = (
    "left_upper_arm",
    "left_forearm",
    "right_upper_arm",
    "right_forearm",
    "left_thigh",
    "left_shank",
    "right_thigh",
    "right_shank",
)
JOINTS: Final = (
    "left_shoulder",
    "left_elbow",
    "left_wrist",
    "right_shoulder",
    "right_elbow",
    "right_wrist",
    "left_hip",
    "left_knee",
    "left_ankle",
    "right_hip",
    "right_knee",
    "right_ankle",
)
LENGTHS: Final = ("shoulder_width", "hip_width", "upper_arm", "forearm", "thigh", "shank")
CHAINS: Final = ((0, 1.0, "shoulder"), (3, -1.0, "shoulder"), (6, 1.0, "hip"), (9, -1.0, "hip"))
"""First joint of each limb, its side (+1 left), and where it hangs on the trunk; its segments are numbered in step."""
ROOT: Final = slice(0, 3)
TURN: Final = slice(3, 6)
GIRDLE: Final = slice(6, 10)
DIRECTIONS: Final = slice(10, 26)
STATE: Final = 26
SMOOTHED_COUNT: Final = 37
"""Numbers a moment whose courses are smooth: hips 3, trunk's left and up 6, shoulders 4, directions 24."""


def get_direction_slice(segment: int) -> slice:
    """Place of a segment's two numbers in the state."""
    return slice(10 + 2 * segment, 12 + 2 * segment)


@dataclass(frozen=True, eq=False)
class Pose:
    """n moments of a body.

    Parameters
    ----------
    root : (n, 3) middle of the hips, trunk lengths from the camera.
    trunk : (n, 3, 3) columns: the lifter's left, up along the trunk, ahead; a rotation.
    girdle : (n, 2, 2) left and right shoulder's shift outwards and up, trunk lengths.
    directions : (n, 8, 3) unit vectors along `SEGMENTS`, away from the trunk.
    """

    root: Array
    trunk: Array
    girdle: Array
    directions: Array

    def moved(self, step: Array) -> "Pose":
        """The pose after a step (n, 26) of its state."""
        turned = compute_tangents(self.directions) @ step[:, DIRECTIONS].reshape(-1, len(SEGMENTS), 2, 1)
        directions = self.directions + turned[..., 0]
        directions /= np.linalg.norm(directions, axis=2, keepdims=True)
        return replace(
            self,
            root=self.root + step[:, ROOT],
            trunk=self.trunk @ make_small_rotation(step[:, TURN]),
            girdle=self.girdle + step[:, GIRDLE].reshape(-1, 2, 2),
            directions=directions,
        )


def compute_joints(pose: Pose, lengths: Array) -> Array:
    """Joint centres (n, 12, 3) for segment lengths (6,) in the order of `LENGTHS`."""
    out = np.empty((len(pose.root), len(JOINTS), 3))
    for limb, (first, side, where) in enumerate(CHAINS):
        point = pose.root + np.einsum("nij,nj->ni", pose.trunk, _locate_on_trunk(pose, lengths, side, where))
        out[:, first] = point
        for link in (0, 1):
            point = point + _compute_link_length(lengths, where, link) * pose.directions[:, 2 * limb + link]
            out[:, first + 1 + link] = point
    return out


def compute_joint_derivatives(pose: Pose, lengths: Array) -> tuple[Array, Array]:
    """Derivatives of the joints by the state (n, 12, 3, 26) and by the logarithms of the lengths (n, 12, 3, 6)."""
    count = len(pose.root)
    by_state = np.zeros((count, len(JOINTS), 3, STATE))
    by_length = np.zeros((count, len(JOINTS), 3, len(LENGTHS)))
    by_state[:, :, :, ROOT] = np.eye(3)
    left, up = pose.trunk[:, :, 0], pose.trunk[:, :, 1]
    bases = compute_tangents(pose.directions)
    for limb, (first, side, where) in enumerate(CHAINS):
        position = _locate_on_trunk(pose, lengths, side, where)
        chain = slice(first, first + 3)
        by_state[:, chain, :, TURN] = (-pose.trunk @ make_cross_matrix(position))[:, None]
        width = LENGTHS.index(f"{where}_width")
        by_length[:, chain, :, width] = (side * lengths[width] / 2 * left)[:, None]
        if where == "shoulder":
            by_state[:, chain, :, GIRDLE.start + 2 * limb] = (side * left)[:, None]
            by_state[:, chain, :, GIRDLE.start + 2 * limb + 1] = up[:, None]
        for link in (0, 1):
            segment = 2 * limb + link
            beyond = slice(first + 1 + link, first + 3)
            length = _compute_link_length(lengths, where, link)
            by_state[:, beyond, :, get_direction_slice(segment)] = length * bases[:, None, segment]
            which = LENGTHS.index(_LINKS[where][link])
            by_length[:, beyond, :, which] += (length * pose.directions[:, segment])[:, None]
    return by_state, by_length


def compute_smoothed_values(pose: Pose) -> Array:
    """The numbers whose course is smooth, (n, 37)."""
    count = len(pose.root)
    parts = [pose.root, pose.trunk[:, :, 0], pose.trunk[:, :, 1], pose.girdle, pose.directions]
    return np.concatenate([part.reshape(count, -1) for part in parts], axis=1)


def compute_smoothed_derivatives(pose: Pose) -> Array:
    """Derivatives of `compute_smoothed_values` by the state, (n, 37, 26)."""
    by_state = np.zeros((len(pose.root), SMOOTHED_COUNT, STATE))
    by_state[:, 0:3, ROOT] = np.eye(3)
    for axis in (0, 1):
        by_state[:, 3 + 3 * axis : 6 + 3 * axis, TURN] = compute_axis_derivative(pose, axis)
    by_state[:, 9:13, GIRDLE] = np.eye(4)
    bases = compute_tangents(pose.directions)
    for segment in range(len(SEGMENTS)):
        rows = slice(13 + 3 * segment, 16 + 3 * segment)
        by_state[:, rows, get_direction_slice(segment)] = bases[:, segment]
    return by_state


def compute_axis_derivative(pose: Pose, axis: int) -> Array:
    """Derivative (n, 3, 3) of one of the trunk's axes by its turn."""
    return np.asarray(-pose.trunk @ make_cross_matrix(np.broadcast_to(np.eye(3)[axis], (len(pose.root), 3))))


def compute_tangents(direction: Array) -> Array:
    """(..., 3, 2) two unit vectors at right angles to each unit vector (..., 3) and to each other.

    Source: Duff et al. 2017, J Computer Graphics Techniques 6(1), "Building an orthonormal basis, revisited".
    """
    x, y, z = direction[..., 0], direction[..., 1], direction[..., 2]
    sign = np.copysign(1.0, z)
    a = -1.0 / (sign + z)
    b = x * y * a
    out = np.empty((*direction.shape, 2))
    out[..., 0, 0], out[..., 1, 0], out[..., 2, 0] = 1.0 + sign * x * x * a, sign * b, -sign * x
    out[..., 0, 1], out[..., 1, 1], out[..., 2, 1] = b, sign + y * y * a, -y
    return out


def make_cross_matrix(vector: Array) -> Array:
    """(n, 3, 3) matrices M with M @ w = vector × w."""
    x, y, z = vector[:, 0], vector[:, 1], vector[:, 2]
    zero = np.zeros_like(x)
    return np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=1).reshape(-1, 3, 3)


def make_small_rotation(turn: Array) -> Array:
    """(n, 3, 3) rotations by rotation vectors (n, 3), radians (Rodrigues' formula)."""
    angle = np.linalg.norm(turn, axis=1)[:, None, None]
    cross = make_cross_matrix(turn)
    return np.asarray(
        np.eye(3) + np.sinc(angle / np.pi) * cross + 0.5 * np.sinc(angle / (2 * np.pi)) ** 2 * (cross @ cross)
    )


_LINKS: Final = {"shoulder": ("upper_arm", "forearm"), "hip": ("thigh", "shank")}


def _compute_link_length(lengths: Array, where: str, link: int) -> float:
    return float(lengths[LENGTHS.index(_LINKS[where][link])])


def _locate_on_trunk(pose: Pose, lengths: Array, side: float, where: str) -> Array:
    """(n, 3) where a limb hangs, in the trunk's own axes."""
    position = np.zeros((len(pose.root), 3))
    position[:, 0] = side * lengths[LENGTHS.index(f"{where}_width")] / 2
    if where == "shoulder":
        shift = pose.girdle[:, 0 if side > 0 else 1]
        position[:, 0] += side * shift[:, 0]
        position[:, 1] = 1.0 + shift[:, 1]
    return position
