"""Skin, clothes, hair and shoes as layers over one rest body, cut along smooth lines."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyvista as pv
from scipy import sparse
from scipy.spatial import ConvexHull

from body import Array, Posed, RestBody

Colour = tuple[float, float, float]
STRIPE_M = 0.11
"""Height of one pair of stripes."""


@dataclass(frozen=True)
class Look:
    """What the lifter looks like; colours are RGB 0..1, lengths shares of a limb."""

    skin: Colour = (0.78, 0.58, 0.46)
    hair: Colour = (0.16, 0.11, 0.08)
    hair_style: str = "short"
    """short, long, bun or none."""
    shirt: Colour = (0.25, 0.35, 0.6)
    sleeve: float = 0.5
    """Share of the upper arm that is covered; 0 is a vest with open armholes."""
    shirt_ease: float = 0.009
    """How far the shirt stands off the body, metres."""
    shorts: Colour = (0.12, 0.12, 0.15)
    leg: float = 0.36
    """Share of the leg that is covered; above 0.9 these are leggings."""
    shorts_ease: float = 0.010
    shoes: Colour = (0.85, 0.85, 0.85)
    sole: Colour = (0.95, 0.95, 0.95)
    socks: Colour = (0.80, 0.80, 0.80)
    stripes: Colour | None = None
    """Second colour of a striped shirt."""


@dataclass(eq=False)
class Layer:
    """One coloured surface that follows the bones."""

    mesh: Any
    rest: Array
    normals: Array
    weights: Any
    colours: Array | Colour

    def follow(self, posed: Posed, heads: Array) -> None:
        """Move the mesh to a pose."""
        self.mesh.points = posed.skin(self.rest, self.weights, heads)
        self.mesh.point_data["Normals"] = posed.turn_normals(self.normals, self.weights)


def dress(body: RestBody, look: Look) -> list[Layer]:
    """All layers of a lifter."""
    whole = pv.PolyData.from_regular_faces(body.vertices, body.faces)
    whole = whole.compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    whole["weights"] = body.weights.toarray()
    shirt, shorts, hair = _shirt_field(body, look), _shorts_field(body, look), _hair_field(body, look)
    whole["colour"] = _skin_colours(body, look)
    layers = []
    covered = (np.minimum(shirt, shorts) < -0.02) & (body.weight_of("head", "neck", "eye") < 0.2)
    layers.append(_layer(_drop(whole, covered), None))
    ease = np.full(len(shirt), look.shirt_ease) + 0.006 * (body.vertices[:, 2] < body.head("spine04")[2])
    top = _cut(whole, shirt, ease, look.shirt)
    if look.stripes is not None:
        banded = np.sin(2 * np.pi * top.rest[:, 2] / STRIPE_M)[:, None] > 0
        top = replace(top, colours=np.where(banded, look.shirt, look.stripes))
    layers.append(top)
    knee, hip = body.head("lowerleg01.L")[2], body.head("upperleg01.L")[2]
    flare = np.clip((hip - body.vertices[:, 2]) / (hip - knee), 0.0, 1.0)
    loose = look.shorts_ease * (0.7 + (1.6 if look.leg < 0.6 else 0.0) * flare)
    layers.append(_cut(whole, shorts, loose, look.shorts))
    if look.hair_style != "none":
        thick = 0.013 * np.clip(-hair / 0.02, 0.0, 1.0) + 0.002
        if look.hair_style == "long":
            thick = thick + 0.02 * np.clip((body.head("eye.L")[2] - body.vertices[:, 2]) / 0.05, 0.0, 1.0)
        layers.append(_cut(whole, hair, thick, look.hair))
        if look.hair_style == "bun":
            layers.append(_bun(body, look.hair))
    sock = np.abs(body.vertices[:, 2] - body.head("foot.L")[2] - 0.02) - 0.045
    layers.append(_cut(whole, sock, np.full(len(sock), 0.005), look.socks))
    for letter in "LR":
        layers.extend(_shoe(body, letter, look))
    return layers


# ---------------------------------------------------------------- where each garment ends (negative inside)


def _arm_weight(body: RestBody) -> Array:
    return body.weight_of("upperarm", "lowerarm", "wrist", "finger", "meta")


def _shirt_field(body: RestBody, look: Look) -> Array:
    points, arm = body.vertices, _arm_weight(body)
    neck = body.head("neck01")
    outside = points[:, 2] - (neck[2] - 0.012) + 0.45 * np.clip(neck[1] - points[:, 1], 0.0, None)
    hem = body.head("upperleg01.L")[2] - 0.03
    outside = np.maximum(outside, np.where(arm > 0.5, -1.0, hem - points[:, 2]))
    for letter, sign in (("L", 1.0), ("R", -1.0)):
        shoulder, elbow = body.head(f"upperarm01.{letter}"), body.head(f"lowerarm01.{letter}")
        axis = elbow - shoulder
        length = float(np.linalg.norm(axis))
        along = (points - shoulder) @ axis / length
        here = (points[:, 0] * sign > 0) & (arm > 0.5)
        if look.sleeve > 0.05:
            outside = np.where(here, np.maximum(outside, along - look.sleeve * length), outside)
        else:
            centre = shoulder + np.array([sign * 0.035, 0.0, -0.005])
            hole = 0.105 * body.height / 1.75 - np.linalg.norm(points - centre, axis=1)
            outside = np.maximum(outside, np.where(here & (along > 0.08), 1.0, hole))
    return np.asarray(outside)


def _shorts_field(body: RestBody, look: Look) -> Array:
    points = body.vertices
    hip, ankle = body.head("upperleg01.L")[2], body.head("foot.L")[2]
    waist = hip + 0.075
    hem = hip - look.leg * (hip - ankle)
    outside = np.maximum(points[:, 2] - waist, hem - points[:, 2])
    return np.where(_arm_weight(body) > 0.2, 1.0, outside)


def _hair_field(body: RestBody, look: Look) -> Array:
    points, eye = body.vertices, body.head("eye.L")
    size = body.height / 1.75
    back = (points[:, 1] - eye[1]) / (0.19 * size)
    fall = {"short": 0.13, "bun": 0.125, "long": 0.20}.get(look.hair_style, 0.13) * size
    side = np.clip(np.abs(points[:, 0]) / (0.075 * size), 0.0, 1.0)
    line = eye[2] + 0.062 * size - 0.012 * size * side - fall * np.clip(back, -0.2, 1.3) ** 1.0
    outside = line - points[:, 2]
    return np.where(body.weight_of("head", "neck") < 0.5, 1.0, outside)


def _skin_colours(body: RestBody, look: Look) -> Array:
    points, skin = body.vertices, np.asarray(look.skin)
    colours = np.tile(skin, (len(points), 1))
    size = body.height / 1.75
    for letter, sign in (("L", 1.0), ("R", -1.0)):
        eye = body.head(f"eye.{letter}")
        ball = body.weight_of(f"eye.{letter}") > 0.5
        colours[ball] = (0.93, 0.92, 0.90)
        if ball.any():
            centre = points[ball].mean(axis=0)
            pupil = np.hypot(points[:, 0] - centre[0], points[:, 2] - centre[2]) < 0.0062 * size
            colours[ball & pupil & (points[:, 1] < centre[1])] = (0.12, 0.08, 0.06)
        across = (points[:, 0] - eye[0]) * sign
        height = points[:, 2] - (eye[2] + 0.022 * size - 0.10 * np.abs(across - 0.004))
        front = points[:, 1] < eye[1] + 0.02
        brow = (np.abs(across) < 0.021 * size) & (np.abs(height) < 0.0036 * size) & front & ~ball
        colours[brow] = 0.6 * np.asarray(look.hair) + 0.4 * skin * 0.5
    mouth_z = body.head("eye.L")[2] - 0.068 * size
    front = points[:, 1] < body.head("eye.L")[1] + 0.012
    lips = ((points[:, 0] / (0.026 * size)) ** 2 + ((points[:, 2] - mouth_z) / (0.009 * size)) ** 2 < 1) & front
    colours[lips] = 0.75 * skin * np.array([1.0, 0.72, 0.70]) + 0.1 * np.array([0.7, 0.2, 0.2])
    return colours


# ---------------------------------------------------------------- cutting


def _drop(mesh: Any, hidden: np.typing.NDArray[np.bool_]) -> Any:
    """The mesh without faces all of whose corners are hidden."""
    faces = mesh.regular_faces
    kept = faces[~hidden[faces].all(axis=1)]
    used, inverse = np.unique(kept, return_inverse=True)
    result = pv.PolyData.from_regular_faces(np.asarray(mesh.points)[used], inverse.reshape(-1, 3))
    for name in ("weights", "Normals", "colour"):
        result[name] = np.asarray(mesh[name])[used]
    return result


def _cut(mesh: Any, outside: Array, ease: Array, colour: Colour) -> Layer:
    """The part of the mesh where `outside` is negative, moved off the body by `ease` metres."""
    lifted = mesh.copy()
    lifted.points = np.asarray(mesh.points) + ease[:, None] * np.asarray(mesh["Normals"])
    lifted["outside"] = outside
    part = lifted.clip_scalar(scalars="outside", value=0.0).extract_surface(algorithm="dataset_surface").triangulate()
    part = part.compute_normals(cell_normals=False, split_vertices=False, consistent_normals=False)
    return _layer(part, colour)


def _layer(mesh: Any, colour: Colour | None) -> Layer:
    weights = sparse.csr_matrix(np.asarray(mesh["weights"], dtype=np.float64))
    clean = pv.PolyData.from_regular_faces(np.asarray(mesh.points, dtype=np.float32), mesh.regular_faces)
    normals = np.asarray(mesh["Normals"], dtype=np.float64)
    colours: Array | Colour = np.asarray(mesh["colour"]) if colour is None else colour
    return Layer(clean, np.asarray(mesh.points, dtype=np.float64), normals, weights, colours)


def _rigid(mesh: Any, body: RestBody, bone: str, colour: Colour) -> Layer:
    mesh = mesh.triangulate().compute_normals(cell_normals=False, split_vertices=False)
    weights = np.zeros((mesh.n_points, len(body.labels)))
    weights[:, body.bone(bone)] = 1.0
    mesh["weights"] = weights
    return _layer(mesh, colour)


def _bun(body: RestBody, colour: Colour) -> Layer:
    size = body.height / 1.75
    centre = body.head("eye.L") * np.array([0.0, 1.0, 1.0]) + np.array([0.0, 0.215, 0.075]) * size
    ball = pv.Sphere(radius=0.042 * size, center=centre, theta_resolution=24, phi_resolution=24)
    return _rigid(ball, body, "head", colour)


def _shoe(body: RestBody, letter: str, look: Look) -> list[Layer]:
    points = body.vertices
    ankle = body.head(f"foot.{letter}")
    foot = (body.weight_of(f"foot.{letter}") > 0.3) | (points[:, 0] * ankle[0] > 0) & (body.weight_of("toe") > 0.3)
    foot &= points[:, 2] < ankle[2] + 0.012
    cloud = points[foot]
    middle = cloud.mean(axis=0)
    upper = middle + (cloud - middle) * np.array([1.10, 1.05, 1.08])
    upper[:, 2] = np.maximum(upper[:, 2], 0.0)
    flat = upper[upper[:, 2] < 0.05] * np.array([1.0, 1.0, 0.0])
    flat = middle * [1, 1, 0] + (flat - middle * [1, 1, 0]) * np.array([1.03, 1.02, 1.0])
    sole = np.vstack([flat - np.array([0, 0, 0.012]), flat + np.array([0, 0, 0.014])])
    return [
        _rigid(_hull(upper, 2), body, f"foot.{letter}", look.shoes),
        _rigid(_hull(sole, 0), body, f"foot.{letter}", look.sole),
    ]


def _hull(cloud: Array, rounds: int) -> Any:
    hull = ConvexHull(cloud)
    lookup = {int(v): i for i, v in enumerate(hull.vertices)}
    faces = np.array([[lookup[int(i)] for i in face] for face in hull.simplices])
    inside = cloud.mean(axis=0)
    corners = cloud[hull.vertices]
    for face in faces:
        a, b, c = corners[face]
        if np.cross(b - a, c - a) @ (a - inside) < 0:
            face[[1, 2]] = face[[2, 1]]
    mesh = pv.PolyData.from_regular_faces(corners, faces).clean()
    return mesh.subdivide(1, subfilter="linear").smooth(n_iter=12 * rounds, relaxation_factor=0.08) if rounds else mesh
