"""What makes a lifter harder to see: other people behind, a mirror on the wall, things that stand before the body."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvista as pv

from arm import Arm
from body import Array, RestBody, make_body, turn
from posture import Posture, pose
from walking import Where, stand_at, to_and_fro, walk
from wardrobe import Layer, Look, dress


@dataclass(frozen=True)
class Company:
    """What else is in the picture."""

    person: str = "none"
    """none, standing or walking: a second person between the lifter and the wall."""
    person_body: dict[str, float] | None = None
    person_look: Look | None = None
    mirror: bool = False
    """A wide mirror on the wall behind shows the lifter once more."""
    before: str = "nothing"
    """nothing, bench (hides the shins), post (stands before one arm) or machine (hides one hip and thigh)."""
    right: bool = False
    """Post or machine stand on the right of the picture."""


AddMesh = Callable[..., Any]
AddLayer = Callable[[Layer], Any]


class SecondPerson:
    """Someone behind the lifter, drawn with the same tools."""

    BEHIND_M, HALF_WAY_M, SPEED = 1.35, 1.5, 1.0

    def __init__(self, company: Company, yaw: float, add_layer: AddLayer) -> None:
        self._body: RestBody = make_body(company.person_body or {})
        self._layers = dress(self._body, company.person_look or Look())
        self._walks, self._yaw = company.person == "walking", yaw
        for layer in self._layers:
            add_layer(layer)

    def follow(self, when: float) -> None:
        """Move the meshes to where the person is at a time, seconds."""
        if self._walks:
            along, way, forth = to_and_fro(when + 0.4, self.HALF_WAY_M, self.SPEED)
            posed, _ = walk(self._body, way, self._at(along, 90.0 if forth else -90.0))
        else:
            bob = 2.0 * float(np.sin(0.9 * when))
            arms = Arm(10.0 + bob, 30.0, 30.0), Arm(14.0, 55.0, 75.0 + 6.0 * bob)
            still, hands = pose(self._body, Posture(twist=bob, left=arms[0], right=arms[1]))
            posed, _ = stand_at(still, hands, np.zeros(3), self._at(0.85, 20.0))
        for layer in self._layers:
            layer.follow(posed, self._body.heads)

    def _at(self, along: float, facing: float) -> Where:
        """A place `along` metres to the right of the picture's middle, behind the lifter."""
        x, y, _ = turn([0, 0, 1], self._yaw) @ np.array([along, self.BEHIND_M, 0.0])
        return Where(float(x), float(y), self._yaw + facing)


class Mirror:
    """The lifter drawn once more, behind the wall, and cut off at the mirror's edge."""

    LOW, HIGH, HALF_WIDTH = 0.15, 2.15, 2.6

    def __init__(self, wall_turn: float, depth: float, camera_place: Array) -> None:
        facing = turn([0, 0, 1], wall_turn)
        normal, middle = facing @ np.array([0.0, 1.0, 0.0]), facing @ np.array([0.0, depth, 0.0])
        self.matrix = np.eye(4)
        self.matrix[:3, :3] -= 2 * np.outer(normal, normal)
        self.matrix[:3, 3] = 2 * float(middle @ normal) * normal
        corners = [
            middle + facing @ np.array([x, 0.0, z])
            for x, z in (
                (-self.HALF_WIDTH, self.LOW),
                (self.HALF_WIDTH, self.LOW),
                (self.HALF_WIDTH, self.HIGH),
                (-self.HALF_WIDTH, self.HIGH),
            )
        ]
        centre = np.mean(corners, axis=0)
        self._planes = []
        for first, second in zip(corners, corners[1:] + corners[:1], strict=True):
            across = np.cross(first - camera_place, second - camera_place)
            inwards = across * np.sign(across @ (centre - camera_place))
            self._planes.append(_clipping_plane(camera_place, inwards / np.linalg.norm(inwards)))

    def show(self, actor: Any) -> Any:
        """Make an actor the mirror image of what it draws."""
        actor.user_matrix = self.matrix
        for plane in self._planes:
            actor.mapper.AddClippingPlane(plane)
        return actor


def _clipping_plane(origin: Array, normal: Array) -> Any:
    from vtkmodules.vtkCommonDataModel import vtkPlane

    plane = vtkPlane()
    plane.SetOrigin(*origin)
    plane.SetNormal(*normal)
    return plane


def put_before(company: Company, yaw: float, distance: float, add: AddMesh) -> None:
    """Set up what stands between camera and lifter."""
    sign = 1.0 if company.right else -1.0
    near = -min(0.75, 0.3 * distance)

    def put(mesh: Any, colour: tuple[float, float, float], **options: Any) -> None:
        add(mesh.rotate_z(yaw, inplace=False), colour, **options)

    dark, grey = (0.14, 0.14, 0.16), (0.5, 0.5, 0.53)
    if company.before == "bench":
        put(pv.Box(bounds=(-0.65, 0.65, near - 0.14, near + 0.14, 0.36, 0.44)), dark, smooth=False)
        for x in (-0.5, 0.5):
            put(pv.Box(bounds=(x - 0.04, x + 0.04, near - 0.1, near + 0.1, 0.0, 0.36)), grey, smooth=False)
    elif company.before == "post":
        middle = (sign * 0.3, near, 1.1)
        put(pv.Cylinder(center=middle, direction=(0, 0, 1), radius=0.035, height=2.2, resolution=16), grey)
    elif company.before == "machine":
        x = sign * 0.24
        put(pv.Box(bounds=(x - 0.14, x + 0.14, near - 0.15, near + 0.15, 0.0, 0.92)), dark, smooth=False)
        put(pv.Box(bounds=(x - 0.1, x + 0.1, near - 0.16, near - 0.15, 0.3, 0.85)), grey, smooth=False)
