"""The room, the weights and the camera; draws one lifter off-screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from body import Array, Posed, RestBody, turn
from company import Company, Mirror, SecondPerson, put_before
from posture import Hand
from wardrobe import Colour, Layer, Look, dress


@dataclass(frozen=True)
class Camera:
    """Where the camera stands: `yaw` degrees around the lifter (0 = facing them, positive towards their left)."""

    yaw: float = 0.0
    distance: float = 3.6
    height: float = 1.1
    look: float = 0.95
    """Height of the point in the middle of the picture, metres."""
    shift: float = 0.0
    """How far that point lies to the right of the lifter, metres."""
    margin: float = 0.08
    """Free space kept around the lifter in all poses, share of half the picture."""
    view: float = 45.0
    """Vertical angle of view, degrees."""
    width: int = 608
    height_px: int = 1080
    roll: float = 0.0
    """How far the camera is tilted to its right, degrees."""


@dataclass(frozen=True)
class Room:
    """Colours and furniture."""

    wall: Colour = (0.80, 0.78, 0.74)
    floor: Colour = (0.36, 0.34, 0.33)
    depth: float = 2.0
    """From the lifter to the wall behind, metres."""
    turn: float = 0.0
    """How far the wall is turned from facing the camera, degrees."""
    things: tuple[str, ...] = ()
    """Any of: box, window, rack, mat, plant, mirror wall."""
    light: float = 0.95
    weight: Colour = (0.12, 0.12, 0.13)
    plate: float = 0.05
    """Radius of the dumbbell heads, metres."""


class Studio:
    """A scene that can be drawn pose by pose.

    The room is drawn once; for each pose only the lifter and what stands before or under them is drawn, finer than
    needed and without smoothing, and laid over the room. That is several times quicker than drawing everything.
    """

    FINER = 1.4
    """How much finer than the picture the lifter is drawn. Where there is company, they are drawn at the picture's own
    size: the pose model sees the body on 256 pixels anyhow, and the benchmark has many pictures."""

    def __init__(
        self,
        body: RestBody,
        look: Look,
        camera: Camera,
        room: Room,
        *,
        bench: float | None,
        rail_y: float | None,
        company: Company | None = None,
    ) -> None:
        self._body, self._size = body, (camera.width, camera.height_px)
        finer = self.FINER if company is None else 1.0
        self._behind = self._draw_room(room, camera)
        self._plot = self._new_plot(finer, camera, room)
        company = company or Company()
        self._mirror = None
        if company.mirror:
            self._mirror = Mirror(camera.yaw + room.turn, room.depth - 0.04, standpoint(camera)[0])
        self._second = SecondPerson(company, camera.yaw, self._add_layer) if company.person != "none" else None
        self._layers: list[Layer] = dress(body, look)
        for layer in self._layers:
            self._add_layer(layer)
            if self._mirror is not None:
                self._mirror.show(self._add_layer(layer))
        put_before(company, camera.yaw, camera.distance, self._add)
        self._held: dict[str, list[Any]] = {}
        if bench is not None:
            self._add_bench(bench)
        if rail_y is None:
            self._held = {side: self._add_dumbbell(room) for side in ("left", "right")}
        else:
            self._held = {"both": self._add_bar(room, rail_y)}
        self._mirrored: dict[str, list[Any]] = {}
        if self._mirror is not None and rail_y is None:
            self._mirrored = {
                side: [self._mirror.show(actor) for actor in self._add_dumbbell(room)] for side in self._held
            }

    def draw(self, posed: Posed, hands: dict[str, Hand], when: float = 0.0) -> NDArray[np.uint8]:
        """(height, width, 3) picture of one pose; `when` (seconds) tells where a second person is."""
        for layer in self._layers:
            layer.follow(posed, self._body.heads)
        if self._second is not None:
            self._second.follow(when)
        for side, actors in self._held.items():
            matrix = np.eye(4)
            if side == "both":
                matrix[:3, 3] = (hands["left"].centre + hands["right"].centre) / 2
                bar = hands["left"].centre - hands["right"].centre
                matrix[:3, :3] = turn([0, 1, 0], -float(np.degrees(np.arctan2(bar[2], bar[0]))))
            else:
                matrix[:3, :3], matrix[:3, 3] = hands[side].axes, hands[side].centre
            for actor in actors:
                actor.user_matrix = matrix
            if self._mirror is not None:
                for actor in self._mirrored.get(side, ()):
                    actor.user_matrix = self._mirror.matrix @ matrix
        self._plot.render()  # without it every screenshot shows the first pose
        shot = self._plot.screenshot(return_img=True, transparent_background=True)
        over = np.ascontiguousarray(shot)
        if over.shape[1::-1] != self._size:
            over = cv2.resize(over, self._size, interpolation=cv2.INTER_AREA)
        through = cv2.cvtColor(255 - over[:, :, 3], cv2.COLOR_GRAY2RGB)
        return np.asarray(cv2.add(cv2.multiply(self._behind, through, scale=1 / 255), over[:, :, :3]))

    def close(self) -> None:
        """Free the window."""
        self._plot.close()

    # ------------------------------------------------------------ parts

    def _new_plot(self, finer: float, camera: Camera, room: Room) -> Any:
        size = [round(camera.width * finer), round(camera.height_px * finer)]
        plot = pv.Plotter(off_screen=True, window_size=size, lighting="none")
        plot.render_window.SetMultiSamples(0)
        plot.set_background("black")
        place, axes = standpoint(camera)
        plot.camera_position = [tuple(place), tuple(place + camera.distance * axes[:, 2]), tuple(axes[:, 1])]
        plot.camera.view_angle = camera.view
        side = np.radians(camera.yaw + 35.0)
        key = pv.Light(position=(4 * np.sin(side), -4 * np.cos(side), 4.5), focal_point=(0, 0, 1), intensity=room.light)
        plot.add_light(key)
        return plot

    def _draw_room(self, room: Room, camera: Camera) -> NDArray[np.uint8]:
        self._plot = self._new_plot(2.0, camera, room)
        self._furnish(room, camera)
        self._plot.render()
        shot = np.ascontiguousarray(np.asarray(self._plot.screenshot(return_img=True))[:, :, :3])
        self._plot.close()
        return np.asarray(cv2.resize(shot, self._size, interpolation=cv2.INTER_AREA))

    def _add(
        self, mesh: Any, colour: Colour, *, smooth: bool = True, opacity: float = 1.0, ambient: float = 0.3
    ) -> Any:
        return self._plot.add_mesh(
            mesh,
            color=colour,
            smooth_shading=smooth,
            split_sharp_edges=smooth,
            opacity=opacity,
            ambient=ambient,
            diffuse=0.8,
            specular=0.05,
        )

    def _add_layer(self, layer: Layer) -> Any:
        shine = {"ambient": 0.28, "diffuse": 0.85, "specular": 0.06, "specular_power": 8}
        layer.mesh.point_data["Normals"] = layer.normals
        layer.mesh.point_data.active_normals_name = "Normals"
        if isinstance(layer.colours, tuple):
            actor = self._plot.add_mesh(layer.mesh, color=layer.colours, copy_mesh=False, **shine)
        else:
            layer.mesh.point_data["rgb"] = (255 * np.clip(layer.colours, 0, 1)).astype(np.uint8)
            actor = self._plot.add_mesh(layer.mesh, scalars="rgb", rgb=True, copy_mesh=False, **shine)
        actor.prop.interpolation = "Gouraud"
        return actor

    def _add_dumbbell(self, room: Room) -> list[Any]:
        handle = pv.Cylinder(center=(0, 0, 0), direction=(0, 0, 1), radius=0.014, height=0.14, resolution=12)
        ends = [
            pv.Cylinder(center=(0, 0, z), direction=(0, 0, 1), radius=room.plate, height=0.05, resolution=20)
            for z in (-0.085, 0.085)
        ]
        return [self._add(handle, (0.55, 0.55, 0.57)), *(self._add(end, room.weight) for end in ends)]

    def _add_bench(self, top: float) -> None:
        self._add(pv.Box(bounds=(-0.19, 0.19, -0.16, 0.30, top - 0.08, top)), (0.16, 0.16, 0.18), smooth=False)
        self._add(pv.Box(bounds=(-0.06, 0.06, -0.02, 0.24, 0.0, top - 0.08)), (0.45, 0.45, 0.47), smooth=False)

    def _add_bar(self, room: Room, y: float) -> list[Any]:
        """Rails at depth y; the parts that move with the hands."""
        for x in (-0.62, 0.62):
            rail = pv.Cylinder(center=(x, y, 1.12), direction=(0, 0, 1), radius=0.022, height=2.24, resolution=14)
            self._add(rail, (0.62, 0.63, 0.66))
        self._add(pv.Box(bounds=(-0.66, 0.66, y - 0.03, y + 0.03, 2.2, 2.26)), (0.3, 0.3, 0.32), smooth=False)
        bar = pv.Cylinder(center=(0, 0, 0), direction=(1, 0, 0), radius=0.016, height=1.5, resolution=14)
        ends = [
            pv.Cylinder(center=(x, 0, 0), direction=(1, 0, 0), radius=0.11, height=0.05, resolution=24)
            for x in (-0.69, 0.69)
        ]
        return [self._add(bar, (0.6, 0.6, 0.63)), *(self._add(end, room.weight) for end in ends)]

    def _furnish(self, room: Room, camera: Camera) -> None:
        spin = -(camera.yaw + room.turn)

        def put(mesh: Any, colour: Colour, **options: Any) -> None:
            self._add(mesh.rotate_z(-spin, inplace=False), colour, **{"smooth": False, **options})

        far = room.depth
        put(pv.Plane(center=(0, 0, 0), i_size=14, j_size=14, i_resolution=1, j_resolution=1), room.floor, ambient=0.45)
        wall = pv.Plane(center=(0, far, 2.4), direction=(0, -1, 0), i_size=5.0, j_size=14)
        put(wall, room.wall, ambient=0.5)
        put(pv.Box(bounds=(-7, 7, far - 0.02, far, 0.0, 0.09)), (0.9, 0.9, 0.88))
        self._add_shadow()
        if "mat" in room.things:
            put(pv.Box(bounds=(-0.9, 0.9, -0.8, 0.8, -0.004, 0.003)), (0.18, 0.22, 0.24), ambient=0.4)
        if "box" in room.things:
            put(pv.Box(bounds=(0.95, 1.45, far - 0.9, far - 0.4, 0.0, 0.45)), (0.62, 0.45, 0.30))
        if "window" in room.things:
            put(pv.Box(bounds=(-1.75, -0.75, far - 0.03, far - 0.01, 1.0, 2.2)), (0.93, 0.93, 0.92), ambient=0.5)
            put(pv.Box(bounds=(-1.70, -0.80, far - 0.04, far - 0.02, 1.05, 2.15)), (0.72, 0.83, 0.92), ambient=0.7)
        if "mirror wall" in room.things:
            wide = Mirror.HALF_WIDTH
            glass = pv.Box(bounds=(-wide, wide, far - 0.04, far - 0.01, Mirror.LOW, Mirror.HIGH))
            put(glass, (0.66, 0.70, 0.72), ambient=0.55)
        if "rack" in room.things:
            for z in (0.35, 0.75):
                put(pv.Box(bounds=(-2.0, -0.7, far - 0.45, far - 0.1, z, z + 0.05)), (0.25, 0.25, 0.27))
                for x in np.arange(-1.9, -0.75, 0.22):
                    ball = pv.Cylinder(center=(x, far - 0.3, z + 0.12), direction=(0, 1, 0), radius=0.07, height=0.26)
                    put(ball, room.weight)
        if "plant" in room.things:
            pot = pv.Cylinder(center=(-1.2, far - 0.4, 0.18), direction=(0, 0, 1), radius=0.16, height=0.36)
            put(pot, (0.75, 0.72, 0.68))
            for i in range(9):
                lean = 0.18 * np.array([np.cos(2.4 * i), np.sin(2.4 * i)])
                tip = np.array([-1.2 + lean[0], far - 0.4 + lean[1], 0.75 + 0.05 * (i % 3)])
                put(pv.Cone(center=tip, direction=(lean[0], lean[1], 1), height=0.75, radius=0.06), (0.25, 0.42, 0.24))

    def _add_shadow(self) -> None:
        """A soft dark patch under the feet; a true shadow would double the drawing time."""
        patch = pv.Disc(center=(0, 0.0, 0.006), inner=0.0, outer=0.75, r_res=24, c_res=48).triangulate()
        strength = np.clip(1.0 - np.linalg.norm(np.asarray(patch.points)[:, :2], axis=1) / 0.75, 0.0, 1.0) ** 1.5
        rgba = np.zeros((patch.n_points, 4), dtype=np.uint8)
        rgba[:, 3] = (120 * strength).astype(np.uint8)
        patch["rgba"] = rgba
        self._plot.add_mesh(patch, scalars="rgba", rgb=True, ambient=1.0, diffuse=0.0)


def rail_position(hands: list[dict[str, Hand]]) -> float:
    """Mean depth of the bar over some poses: where its rails must stand."""
    return float(np.mean([hand.centre[1] for pair in hands for hand in pair.values()]))


def standpoint(camera: Camera) -> tuple[Array, Array]:
    """(3,) where the camera is, and (3, 3) columns: to its right, up, ahead."""
    yaw, roll = np.radians(camera.yaw), np.radians(camera.roll)
    right = np.array([np.cos(yaw), np.sin(yaw), 0.0])
    place = camera.distance * np.array([np.sin(yaw), -np.cos(yaw), 0.0]) + [0, 0, camera.height] + camera.shift * right
    ahead = camera.shift * right + np.array([0.0, 0.0, camera.look]) - place
    ahead /= np.linalg.norm(ahead)
    up = np.cross(right, ahead)
    turned = np.cos(roll) * right - np.sin(roll) * up, np.cos(roll) * up + np.sin(roll) * right
    return place, np.column_stack([*turned, ahead])


def picture_points(camera: Camera, points: Array) -> Array:
    """(n, 2) pixels where (n, 3) points of the room appear."""
    place, axes = standpoint(camera)
    local = (points - place) @ axes
    scale = camera.height_px / 2 / np.tan(np.radians(camera.view) / 2)
    return np.column_stack(
        [camera.width / 2 + scale * local[:, 0] / local[:, 2], camera.height_px / 2 - scale * local[:, 1] / local[:, 2]]
    )
