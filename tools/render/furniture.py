"""Seats, pads and benches of the exercises, beside the plain studio."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv

from body import Array, RestBody, turn
from motion import BENCH_TOP
from movements import Move
from numbered_sets import NumberedSet
from scene import Room, Studio
from set_movement import PRONE_HIPS

_DARK = (0.16, 0.16, 0.18)
_STEEL = (0.45, 0.45, 0.47)


class SetStudio(Studio):
    """A studio for a numbered set, with the furniture its exercise needs."""

    def __init__(self, body: RestBody, spec: NumberedSet, move: Move, rail_y: float | None) -> None:
        self._handles = move.held == "handles"
        bench = BENCH_TOP if move.base == "sit" else None
        super().__init__(body, spec.look, spec.camera, spec.room, bench=bench, rail_y=rail_y, company=spec.company)
        size, lean = body.height / 1.75, move.lean[0]
        if move.furniture == "seat":
            # Behind the back, leaning with it, and narrower than the back.
            rest = pv.Box(bounds=(-0.14, 0.14, 0.15 * size, 0.21 * size, 0.10, 0.50 * size))
            self._add(_placed(rest, turn([1, 0, 0], lean), [0.0, 0.0, BENCH_TOP]), _DARK, smooth=False)
        elif move.furniture == "pad":
            pad = pv.Box(bounds=(-0.11, 0.11, -0.24 * size, -0.17 * size, 0.26 * size, 0.50 * size))
            self._add(_placed(pad, turn([1, 0, 0], lean), [0.0, 0.0, BENCH_TOP]), _DARK, smooth=False)
            self._add(pv.Box(bounds=(-0.05, 0.05, -0.58, -0.48, 0.0, 1.7)), _STEEL, smooth=False)
            self._add(pv.Box(bounds=(-0.04, 0.04, -0.5, -0.24 * size, 0.78, 0.84)), _STEEL, smooth=False)
        elif move.furniture == "incline":
            hips = [0.0, 0.0, PRONE_HIPS * size]
            pad = pv.Box(bounds=(-0.13, 0.13, -0.24 * size, -0.16 * size, -0.16, 0.46 * size))
            self._add(_placed(pad, turn([1, 0, 0], lean), hips), _DARK, smooth=False)
            self._add(pv.Box(bounds=(-0.04, 0.04, -0.42 * size, -0.34 * size, 0.0, 0.52 * size)), _STEEL, smooth=False)
            self._add(pv.Box(bounds=(-0.18, 0.18, -0.44 * size, -0.34 * size, 0.0, 0.05)), _STEEL, smooth=False)

    def _add_dumbbell(self, room: Room) -> list[Any]:
        if not self._handles:
            return super()._add_dumbbell(room)
        grip = pv.Cylinder(center=(0, 0, 0), direction=(0, 0, 1), radius=0.017, height=0.16, resolution=12)
        return [self._add(grip, (0.2, 0.2, 0.22))]


def _placed(mesh: Any, rotation: Array, at: list[float]) -> Any:
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = rotation, at
    return mesh.transform(matrix, inplace=False)
