"""From landmark to joint: what an angle reads too much or too little because the pose model's points are not joints.

The hip's point slides towards the thigh when the hip bends and the shoulder's lies above the joint, so angles read a
few degrees off, by how much depends on the angle itself. An offset stands here only where it brings bodies of every
build nearer to the truth when it was fitted to the other builds: `tools/benchmarks/fit_correction.py` prints that, and
the offsets. Arms have none from straight in front: there, what helps one build harms another. Switched off
by `Settings.correct_landmarks`.
"""

from collections.abc import Mapping

import numpy as np

from formcheck.core.model import Array, CameraView, SignalKey
from formcheck.signals.camera import get_plane

KNOTS_DEG = (0.0, 30.0, 60.0, 90.0, 110.0, 135.0, 160.0, 180.0)
FROM_THE_SIDE: Mapping[str, tuple[float, ...]] = {
    "torso_inclination": (-5.1, -6.2, -6.4, -5.2, -3.6, -1.9, -0.4, 1.0),
    "hip_flexion": (-12.8, -11.1, -11.0, -10.2, -9.3, -7.6, -5.2, -2.5),
    "arm_opening": (0.0, 0.0, -10.1, -4.3, -0.2, 1.9, 2.9, 3.5),
    "arm_extension": (0.0, 0.0, -5.1, -5.4, -4.3, -2.8, -1.2, 0.4),
}
FROM_A_HALF_ANGLE = {"torso_inclination": FROM_THE_SIDE["torso_inclination"]}
"""Stretched to a side view, the same points tell the lean there."""
FROM_THE_FRONT: Mapping[str, tuple[float, ...]] = {"elbow_flexion": (-6.0, -0.5, -0.7, -3.0, -6.0, -2.1, 2.0, 5.6)}
"""Curve → seen minus true angle at the knots, degrees; between them a straight line, beyond them the last one."""
PER_YAW: Mapping[str, tuple[float, ...]] = {
    "arm_elevation": (0.0, 0.0, 0.0, 0.0, 0.024, 0.079, 0.165, 0.259),
    "arm_raise": (0.0, 0.0, 0.0, 0.0, 0.001, 0.031, 0.093, 0.141),
}
"""Curve → degrees the arm nearer to the camera reads more, and the other less, for each degree of the camera's yaw.

From in front: arms are raised a little ahead of the frontal plane, so the nearer one points at the camera.
"""
WITH_THE_TORSO = ("neck_extension", "shoulder_flexion")
"""Angles against the trunk's line, which a side view reads from the same points as its lean."""


def correct_curves(series: Mapping[SignalKey, Array], view: CameraView) -> dict[SignalKey, Array]:
    """The curves (m,) of a view with their offsets taken off."""
    out = dict(series)
    plane, yaw = get_plane(view), view.yaw_deg or 0.0
    sideways = plane == "sagittal"
    known = {"sagittal": FROM_THE_SIDE, "oblique": FROM_A_HALF_ANGLE}.get(plane, {})
    known = FROM_THE_FRONT if view.name == "front" else known
    for (name, side), curve in series.items():
        if name in known:
            out[name, side] = curve - np.interp(curve, KNOTS_DEG, known[name])
        elif name in PER_YAW and not sideways and abs(yaw) <= 90.0:
            nearer = yaw if side == "left" else -yaw
            out[name, side] = curve - nearer * np.interp(curve, KNOTS_DEG, PER_YAW[name])
    lean = series.get(("torso_inclination", None))
    if sideways and lean is not None:
        offset = np.interp(lean, KNOTS_DEG, known["torso_inclination"])
        out |= {key: curve - offset for key, curve in series.items() if key[0] in WITH_THE_TORSO}
    return out
