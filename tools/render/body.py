"""An invented lifter's body: rest shape from the parametric model, posed by world rotations of bones.

Axes: x towards the lifter's left, y backwards, z up; metres. The rest shape (vertices, bone heads, skin
weights) comes from `anny`; posing and skinning are done here, so that joints and surface obey the same numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]
SIDES = {"left": "L", "right": "R"}

JOINT_BONES = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}
"""Which bone's head is taken as which joint centre."""

STRETCHED = {"upper_arm": "upperarm01", "forearm": "lowerarm01", "thigh": "upperleg01", "shin": "lowerleg01"}
"""Which limb parts `make_body` can make longer or shorter, and the bone each begins with."""
ENDS = {"upperarm01": "lowerarm01", "lowerarm01": "wrist", "upperleg01": "lowerleg01", "lowerleg01": "foot"}

PHENOTYPE = ("gender", "age", "muscle", "weight", "height", "proportions", "african", "asian", "caucasian")


@dataclass(frozen=True, eq=False)
class RestBody:
    """The body at rest: arms half raised to the sides, palms in, feet flat."""

    vertices: Array
    """(v, 3) metres, soles at z = 0."""
    faces: NDArray[np.int64]
    """(f, 3) vertex indices."""
    heads: Array
    """(b, 3) bone heads, metres."""
    labels: tuple[str, ...]
    parents: tuple[int, ...]
    weights: Any
    """(v, b) sparse skin weights, rows sum to 1."""
    girdle: float = 1.0
    """How much of the usual movement of collar bone and shoulder blade goes with the arm."""

    @property
    def height(self) -> float:
        """Standing height in metres."""
        return float(np.ptp(self.vertices[:, 2]))

    def bone(self, label: str) -> int:
        """Index of a bone."""
        return self.labels.index(label)

    def head(self, label: str) -> Array:
        """(3,) rest position of a bone's head."""
        return np.asarray(self.heads[self.bone(label)])

    def weight_of(self, *prefixes: str) -> Array:
        """(v,) summed skin weight of all bones whose label starts with one of the prefixes."""
        columns = [i for i, label in enumerate(self.labels) if label.startswith(prefixes)]
        return np.asarray(self.weights[:, columns].sum(axis=1)).ravel()


@lru_cache(maxsize=1)
def _model() -> Any:
    import anny  # takes seconds and pulls in torch: only where a body is really made

    return anny.Anny(skinning_method="lbs", phenotypes="all", phenotype_blendshapes="original")


def make_body(shape: dict[str, float]) -> RestBody:
    """The rest body for phenotype values 0..1 (`PHENOTYPE`; gender 0 = male, 1 = female).

    `stature`, when given, is the standing height in metres the result is scaled to. `girdle` is the field of that
    name. `shoulder_out`, `shoulder_up`, `hip_out`, `hip_up` move those joint centres inside the skin, metres: bodies
    of the same shape whose bones lie elsewhere. `upper_arm`, `forearm`, `thigh`, `shin` make those parts of both sides
    so many times as long.
    """
    model = _model()
    wanted = {name: shape[name] for name in PHENOTYPE if name in shape}
    rest = model.get_rest_model(model.get_phenotype_blendshape_coefficients(**wanted))
    vertices = rest["rest_vertices"][0].double().numpy().copy()
    heads = rest["rest_bone_heads"][0].double().numpy().copy()
    floor = vertices[:, 2].min()
    scale = shape["stature"] / np.ptp(vertices[:, 2]) if "stature" in shape else 1.0
    for points in (vertices, heads):
        points[:, 2] -= floor
        points *= scale
    labels = list(model.bone_labels)
    for joint, bone in (("shoulder", "upperarm01"), ("hip", "upperleg01")):
        for letter, sign in (("L", 1.0), ("R", -1.0)):
            shift = np.array([sign * shape.get(f"{joint}_out", 0.0), 0.0, shape.get(f"{joint}_up", 0.0)])
            heads[labels.index(f"{bone}.{letter}")] += shift
    weight = model.vertex_bone_weights.double().numpy()
    index = model.vertex_bone_indices.numpy()
    rows = np.repeat(np.arange(len(vertices)), weight.shape[1])
    matrix = sparse.csr_matrix((weight.ravel(), (rows, index.ravel())), shape=(len(vertices), len(heads)))
    matrix.sum_duplicates()
    matrix.eliminate_zeros()
    faces = model.get_triangular_faces().numpy().astype(np.int64)
    girdle = shape.get("girdle", 1.0)
    parents = tuple(int(parent) for parent in model.bone_parents)
    if any(name in shape for name in STRETCHED):
        vertices, heads = _stretch(vertices, heads, labels, parents, matrix, shape)
        for points in (heads, vertices):
            points[:, 2] -= vertices[:, 2].min()
    return RestBody(vertices, faces, heads, tuple(labels), parents, matrix, girdle)


def _stretch(
    vertices: Array, heads: Array, labels: list[str], parents: tuple[int, ...], weights: Any, shape: dict[str, float]
) -> tuple[Array, Array]:
    """Vertices (v, 3) and bone heads (b, 3) of the rest body with limb parts of other lengths.

    Each stretched bone scales along its own line from its head; all bones after it move along.
    """
    factors = {bone: shape.get(name, 1.0) for name, bone in STRETCHED.items()}
    affine = np.zeros((len(labels), 3, 4))
    new_heads = heads.copy()
    for i, (label, parent) in enumerate(zip(labels, parents, strict=True)):
        if parent >= 0:
            new_heads[i] = affine[parent, :, :3] @ heads[i] + affine[parent, :, 3]
        bone, _, letter = label.partition(".")
        first = f"{bone[:-1]}1"
        matrix = np.eye(3)
        if first in ENDS and bone.endswith(("1", "2")):
            start, end = (heads[labels.index(f"{name}.{letter}")] for name in (first, ENDS[first]))
            line = unit(end - start)
            matrix = matrix + (factors[first] - 1.0) * np.outer(line, line)
        affine[i, :, :3], affine[i, :, 3] = matrix, new_heads[i] - matrix @ heads[i]
    blended = (weights @ affine.reshape(len(labels), 12)).reshape(-1, 3, 4)
    return np.einsum("vij,vj->vi", blended[:, :, :3], vertices) + blended[:, :, 3], new_heads


# ---------------------------------------------------------------- small geometry


def unit(vector: Array) -> Array:
    """The vector with length one."""
    return np.asarray(vector / np.linalg.norm(vector))


def across(vector: Array, axis: Array) -> Array:
    """The part of a vector at right angles to a unit axis, with length one."""
    return unit(vector - axis * float(vector @ axis))


def frame(direction: Array, bend: Array) -> Array:
    """(3, 3) columns: direction, bend made perpendicular, their cross product."""
    first = unit(direction)
    second = across(bend, first)
    return np.column_stack([first, second, np.cross(first, second)])


def turn(axis: Array | list[float], degrees: float) -> Array:
    """(3, 3) rotation about an axis."""
    return np.asarray(Rotation.from_rotvec(np.radians(degrees) * unit(np.asarray(axis, float))).as_matrix())


def between(start: Array, end: Array) -> Array:
    """(3, 3) smallest rotation that brings one unit vector onto the other."""
    axis = np.cross(start, end)
    size = float(np.linalg.norm(axis))
    if size < 1e-9:
        return np.eye(3)
    return turn(axis, float(np.degrees(np.arctan2(size, start @ end))))


def part_of(rotation: Array, share: float) -> Array:
    """(3, 3) the given share of a rotation."""
    return np.asarray(Rotation.from_rotvec(share * Rotation.from_matrix(rotation).as_rotvec()).as_matrix())


def bend_point(root: Array, target: Array, upper: float, lower: float, bend: Array) -> Array:
    """(3,) middle joint of a two-link chain that reaches for target and bends towards `bend`."""
    line = target - root
    reach = min(float(np.linalg.norm(line)), (upper + lower) * 0.9995)
    along = unit(line)
    foot = (upper**2 - lower**2 + reach**2) / (2 * reach)
    height = np.sqrt(max(upper**2 - foot**2, 0.0))
    return np.asarray(root + foot * along + height * across(bend, along))


# ---------------------------------------------------------------- posing


@dataclass(frozen=True, eq=False)
class Posed:
    """Bone rotations and heads of one moment."""

    rotations: Array
    """(b, 3, 3) world rotation of each bone from rest."""
    heads: Array
    """(b, 3) metres."""

    def skin(self, rest_points: Array, weights: Any, rest_heads: Array) -> Array:
        """(v, 3) where surface points with these weights go."""
        moves = np.concatenate(
            [self.rotations, (self.heads - np.einsum("bij,bj->bi", self.rotations, rest_heads))[:, :, None]], axis=2
        )
        blended = (weights @ moves.reshape(len(moves), 12)).reshape(-1, 3, 4)
        return np.asarray(np.einsum("vij,vj->vi", blended[:, :, :3], rest_points) + blended[:, :, 3])

    def turn_normals(self, rest_normals: Array, weights: Any) -> Array:
        """(v, 3) rest normals carried along."""
        blended = (weights @ self.rotations.reshape(-1, 9)).reshape(-1, 3, 3)
        turned = np.einsum("vij,vj->vi", blended, rest_normals)
        return np.asarray(turned / np.maximum(np.linalg.norm(turned, axis=1, keepdims=True), 1e-9))


def place(body: RestBody, rotations: dict[str, Array], root: Array) -> Posed:
    """Give bones world rotations; bones not named follow their parent. `root` is the pelvis position."""
    count = len(body.labels)
    world = np.empty((count, 3, 3))
    heads = np.empty((count, 3))
    for i, (label, parent) in enumerate(zip(body.labels, body.parents, strict=True)):
        follows = world[parent] if parent >= 0 else np.eye(3)
        world[i] = rotations.get(label, follows)
        heads[i] = root if parent < 0 else heads[parent] + world[parent] @ (body.heads[i] - body.heads[parent])
    return Posed(world, heads)


def joints_of(body: RestBody, posed: Posed) -> dict[str, Array]:
    """Joint centres such as ``left_elbow``, (3,) metres."""
    return {
        f"{side}_{joint}": posed.heads[body.bone(f"{bone}.{letter}")]
        for side, letter in SIDES.items()
        for joint, bone in JOINT_BONES.items()
    }
