"""Where the points of a posed body are: joint centres, and what else a measure may be checked with.

Joint centres are the bone heads of the body model: the centre of the glenohumeral joint, the middle of the elbow's
axis, the centre of the wrist, hip, knee and ankle, as the ISB's proposals define joint rotations about (Wu et al., J
Biomech 2002 and 2005, from memory). The other points lie on the skin, or in the hands.
"""

from __future__ import annotations

import numpy as np

from body import JOINT_BONES, SIDES, Array, Posed, RestBody
from posture import Hand

BONE_POINTS = {**JOINT_BONES, "index": "finger2-1", "pinky": "finger5-1", "thumb": "finger1-2", "foot_index": "toe2-1"}
"""Point of a side, and the bone whose head it is; index and pinky are the knuckles."""
MIDDLE_BONES = {"neck": "neck01", "pelvis": "root", "chest": "spine01", "head": "head"}
DIRECTION_M = 0.1
"""Directions are told by a point so far away: gaze from head (level when the head is upright), palm from grip."""
POINTS = (
    *(f"{side}_{name}" for side in SIDES for name in (*BONE_POINTS, "ear", "heel", "grip", "palm")),
    *(*MIDDLE_BONES, "nose", "gaze"),
)
"""Every point, in the order of the arrays. A grip is the middle of what the hand holds."""


class TruthPoints:
    """The points of one body in any pose."""

    def __init__(self, body: RestBody) -> None:
        self._body = body
        vertices, size = body.vertices, body.height / 1.75
        head = body.weight_of("head") > 0.8
        eye = body.head("eye.L")
        beside = head & (np.abs(vertices[:, 2] - eye[2]) < 0.035 * size) & (vertices[:, 1] > eye[1] + 0.03 * size)
        self._skin = {
            "left_ear": _extreme(vertices, beside, np.array([1.0, 0.0, 0.0])),
            "right_ear": _extreme(vertices, beside, np.array([-1.0, 0.0, 0.0])),
            "nose": _extreme(vertices, head & (vertices[:, 2] < eye[2]), np.array([0.0, -1.0, 0.0])),
        }
        for side, letter in SIDES.items():
            low = (body.weight_of(f"foot.{letter}") > 0.5) & (vertices[:, 2] < 0.05 * size)
            self._skin[f"{side}_heel"] = _extreme(vertices, low, np.array([0.0, 1.0, 0.0]))

    def at(self, posed: Posed, hands: dict[str, Hand]) -> Array:
        """(k, 3) metres in the room, in the order of `POINTS`."""
        body = self._body
        found = {
            f"{side}_{name}": posed.heads[body.bone(f"{bone}.{letter}")]
            for side, letter in SIDES.items()
            for name, bone in BONE_POINTS.items()
        }
        found |= {name: posed.heads[body.bone(bone)] for name, bone in MIDDLE_BONES.items()}
        rows = list(self._skin.values())
        skin = posed.skin(body.vertices[rows], body.weights[rows], body.heads)
        found |= dict(zip(self._skin, skin, strict=True))
        found |= {f"{side}_grip": hand.centre for side, hand in hands.items()}
        found |= {f"{side}_palm": hand.centre + DIRECTION_M * hand.axes[:, 1] for side, hand in hands.items()}
        found["gaze"] = found["head"] + DIRECTION_M * posed.rotations[body.bone("head")] @ np.array([0.0, -1.0, 0.0])
        return np.array([found[name] for name in POINTS])


def _extreme(points: Array, among: np.typing.NDArray[np.bool_], direction: Array) -> int:
    """Index of the point farthest along a direction among those marked."""
    return int(np.argmax(np.where(among, points @ direction, -np.inf)))
