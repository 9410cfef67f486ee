"""An angle drawn on the body: its joint, its arc, the limb, and the line where the limb should be.

The measured limb is where its landmarks are; the line asked for lies as far from it as the number is from its limit, so
that the picture says what was judged. Where the picture does not show an angle as it was measured (it points at the
camera), nothing is claimed of it: only the joint is ringed. An arm that opens level is drawn as from above.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import copysign, degrees, hypot, pi, radians

import numpy as np

from formcheck.core.model import Analysis, Array, CameraView, LandmarkRecording, Rep, Side
from formcheck.core.vocabulary import MEASURES
from formcheck.exercises.schema import Check
from formcheck.report.body_lines import (
    Place,
    Point,
    find_beside,
    find_direction,
    find_places,
    go,
    locate,
    measure_trunk,
    trace_arc,
    wrap,
)
from formcheck.signals.camera import get_facing_sign, get_plane
from formcheck.video.mark_drawing import MarkDrawing, Stroke

Trace = Callable[[Array], MarkDrawing | None]
"""Landmarks (33, 2) of a picture → what is drawn on it; None where they were not seen."""
MOST_APART_DEG = 20.0
"""An angle that looks farther than this from what was measured is not drawn as an arc."""
_SPREAD_SHARE = 0.5
"""Radius of an arc, as a share of its limb."""


@dataclass(frozen=True, eq=False)
class Scene:
    """One number at its moment."""

    analysis: Analysis
    recording: LandmarkRecording
    check: Check
    rep: Rep
    side: Side | None
    value: float
    at_s: float
    pixels: Array
    """(33, 2) landmarks at the moment."""

    @property
    def view(self) -> CameraView:
        """Where the camera stood."""
        return self.analysis.review.view

    @property
    def limit(self) -> float:
        """The limit, on the side of 0 that the value is on where only its size counts."""
        return copysign(self.check.limit, self.value) if self.check.absolute else self.check.limit

    @property
    def is_short(self) -> bool:
        """Whether the value is beyond the limit, so that the way to it is shown."""
        size = abs(self.value) if self.check.absolute else self.value
        return size < self.check.limit if self.check.at_least is not None else size > self.check.limit


@dataclass(frozen=True, slots=True)
class _Angle:
    """How an angle lies on the body: at a joint, from a base line to a limb; ``#`` stands for the side."""

    vertex: str
    end: str
    base: str
    """``down``, ``up``, or the landmark from which the line through the vertex goes on."""
    forward: int = 0
    """From the side: 1 where the angle grows clockwise for a body facing the picture's right, -1 where against it."""


_TRUNK = "trunk"
_ANGLES: dict[str, _Angle] = {
    "arm_elevation": _Angle("#_shoulder", "#_elbow", _TRUNK),
    "arm_raise": _Angle("#_shoulder", "#_elbow", "down"),
    "arm_line_raise": _Angle("#_shoulder", "#_wrist", "down"),
    "arm_flexion": _Angle("#_shoulder", "#_elbow", "down", -1),
    "arm_extension": _Angle("#_shoulder", "#_elbow", "down", 1),
    "shoulder_flexion": _Angle("#_shoulder", "#_elbow", _TRUNK, -1),
    "elbow_flexion": _Angle("#_elbow", "#_wrist", "#_shoulder"),
    "forearm_sideways": _Angle("#_elbow", "#_wrist", "up"),
    "hip_flexion": _Angle("#_hip", "#_knee", "#_shoulder"),
    "knee_flexion": _Angle("#_knee", "#_ankle", "#_hip"),
    "thigh_inclination": _Angle("#_hip", "#_knee", "down"),
    "shin_inclination": _Angle("#_ankle", "#_knee", "up", 1),
    "torso_inclination": _Angle("hips", "shoulders", "up", 1),
    "torso_side_lean": _Angle("hips", "shoulders", "up"),
}
_OTHER_NAMES = {"lean_half_way_up": "torso_inclination", "torso_lean_back": "torso_inclination"}
"""Measures that do not begin with the name of their curve."""
_SPANS = ("_range", "_change", "_lean_back")
"""Endings of measures that say how far an angle went, not where it is."""


def _find_angle(measure: str) -> str | None:
    names = [name for name in _ANGLES if measure.startswith(f"{name}_")]
    return _OTHER_NAMES.get(measure) or max(names, key=len, default=None)


def make_turn(scene: Scene) -> Trace | None:
    """An angle with its arc and where it should be; only where the picture shows it as it was measured."""
    name = _find_angle(scene.check.measure)
    if name is None:
        return None
    shape = _ANGLES[name]
    vertex, end = find_places(shape.vertex, scene.side), find_places(shape.end, scene.side)
    limb = find_direction(scene.pixels, vertex, end)
    base = _find_base(scene.pixels, shape, vertex, scene.side)
    if limb is None or base is None:
        return None
    seen = wrap(limb - base)
    turned = _read_turn(scene, seen)
    if turned is None:
        return None
    value, limit = turned
    grows = copysign(1.0, seen * (value if not scene.check.measure.endswith(_SPANS) else 1.0))
    if shape.forward and get_plane(scene.view) == "sagittal":
        grows = shape.forward * get_facing_sign(scene.view)
    if scene.check.measure.endswith(_SPANS):
        grows *= _find_way(scene, name)
        base = limb - grows * radians(value)
    elif abs(degrees(wrap(seen - grows * radians(value)))) > MOST_APART_DEG:
        return ring(vertex)
    fixed = base if scene.check.measure.endswith(_SPANS) or shape.base in ("down", "up") else None
    target = limb + grows * radians(limit - value)
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        now, at = find_direction(pixels, vertex, end), locate(pixels, vertex)
        start = fixed if fixed is not None else _find_base(pixels, shape, vertex, scene.side)
        tip = locate(pixels, end)
        if now is None or at is None or start is None or tip is None:
            return None
        reach = hypot(tip[0] - at[0], tip[1] - at[1])
        arc = trace_arc(at, _SPREAD_SHARE * reach, start, start + wrap(now - start))
        strokes = [
            Stroke("base", (at, go(at, start, 0.8 * reach))),
            Stroke("arc", arc),
            Stroke("limb", (at, tip)),
            Stroke("target", (at, go(at, target, 1.12 * reach))),
        ]
        if short:
            strokes += _trace_way(at, reach, now, target)
        middle = start + wrap(now - start) / 2
        # Beside the angle; of a torso's behind the hips, since ahead of it are the arms.
        label = go(at, middle + pi, 0.55 * reach) if shape.vertex == "hips" else go(at, middle, 1.15 * reach)
        return MarkDrawing(tuple(strokes), label)

    return trace


def _read_turn(scene: Scene, seen: float) -> tuple[float, float] | None:
    """Value and limit, degrees; of a share of a lean, as large as the lean is seen. None: it is no angle."""
    if MEASURES[scene.check.measure].unit == "deg":
        return scene.value, scene.limit
    if scene.check.measure not in _OTHER_NAMES or not scene.value:
        return None
    return abs(degrees(seen)), abs(degrees(seen)) * scene.limit / scene.value


def _find_way(scene: Scene, name: str) -> float:
    """+1 where the angle grew from the rep's start to the moment, -1 where it fell."""
    curve = scene.analysis.signals.get(name, scene.side)
    seen = np.isfinite(curve)
    if not seen.any():
        return 1.0
    before, now = np.interp([scene.rep.start_s, scene.at_s], scene.analysis.signals.t[seen], curve[seen])
    return 1.0 if now >= before else -1.0


def _find_base(pixels: Array, shape: _Angle, vertex: Place, side: Side | None) -> float | None:
    """Direction of an angle's base line, radians in the picture."""
    if shape.base in ("down", "up"):
        return pi / 2 if shape.base == "down" else -pi / 2
    if shape.base == _TRUNK:
        return find_direction(pixels, find_places("shoulders", None), find_places("hips", None))
    return find_direction(pixels, find_places(shape.base, side), vertex)


def _trace_way(at: Point, reach: float, now: float, target: float) -> list[Stroke]:
    """The field from the limb to where it should be, with an arrow head at its end."""
    turn = wrap(target - now)
    rim = trace_arc(at, 0.97 * reach, now, now + turn)
    head_at, way = go(at, target, 0.78 * reach), target + copysign(pi / 2, turn)
    size = min(0.16 * reach, max(0.06 * reach, 0.78 * reach * abs(turn)))
    back = go(head_at, way, -size)
    wings = [go(back, target, sign * 0.55 * size) for sign in (1.0, -1.0)]
    return [Stroke("gap", (at, *rim)), Stroke("head", (head_at, wings[0], wings[1]))]


def make_plan(scene: Scene) -> Trace | None:
    """An arm opened level, seen from the side, points at the camera: beside the head it is drawn as from above.

    The lifter of that drawing looks where the one of the picture looks, and the near arm opens to its foot.
    """
    side = scene.side
    if not scene.check.measure.startswith("arm_opening") or side is None or get_plane(scene.view) != "sagittal":
        return None
    across, ahead = scene.recording.clip.width, 0.0 if get_facing_sign(scene.view) > 0 else pi
    turn = -1.0 if side == "left" else 1.0
    arm, goal = (ahead + turn * radians(angle) for angle in (scene.value, scene.limit))
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        place = find_beside_head(pixels, across, away=-1.0 if ahead == 0.0 else 1.0)
        shoulder, elbow = (locate(pixels, (f"{side}_{part}",)) for part in ("shoulder", "elbow"))
        if place is None or shoulder is None or elbow is None:
            return None
        middle, reach = place[0], 2.0 * place[1]
        joint, rest = (go(middle, ahead + sign * turn * pi / 2, 0.45 * reach) for sign in (1.0, -1.0))
        face = go(middle, ahead, 0.22 * reach)
        strokes = [
            Stroke("limb", (shoulder, elbow)),
            Stroke("base", (joint, rest)),
            Stroke("base", trace_arc(middle, 0.22 * reach, 0.0, 2 * pi)),
            Stroke("base", (face, go(face, ahead, 0.14 * reach))),
            Stroke("base", (joint, go(joint, ahead, 0.8 * reach))),
            Stroke("arc", trace_arc(joint, _SPREAD_SHARE * reach, ahead, arm)),
            Stroke("limb", (joint, go(joint, arm, reach))),
            Stroke("target", (joint, go(joint, goal, 1.12 * reach))),
            *(_trace_way(joint, reach, arm, goal) if short else ()),
        ]
        return MarkDrawing(tuple(strokes), (middle[0], middle[1] - 0.8 * reach))

    return trace


def find_beside_head(pixels: Array, across: float, *, away: float = 0.0) -> tuple[Point, float] | None:
    """Middle and radius of a drawing beside the head, above what the arms do; None where no trunk was seen.

    away : 1 to the picture's right, -1 to its left, 0 to the side that has more room.
    """
    at, radius = locate(pixels, find_places("shoulders", None)), 0.3 * measure_trunk(pixels)
    if at is None or radius <= 0:
        return None
    away = away or (1.0 if at[0] < across / 2 else -1.0)
    x = min(max(at[0] + away * 3.4 * radius, 1.3 * radius), across - 1.3 * radius)
    return (x, max(at[1] - 2.2 * radius, 1.7 * radius)), radius


def ring(place: Place) -> Trace:
    """A ring round each of some landmarks: no line of the picture says more."""

    def trace(pixels: Array) -> MarkDrawing | None:
        radius, strokes, ends = 0.13 * measure_trunk(pixels), [], []
        for part in place:
            at = locate(pixels, (part,))
            if at is not None and radius > 0:
                strokes.append(Stroke("arc", trace_arc(at, radius, 0.0, 2 * pi)))
                ends.append(at)
        return MarkDrawing(tuple(strokes), find_beside(pixels, ends)) if ends else None

    return trace
