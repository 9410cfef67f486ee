"""Where the number of a finding lies on the body: the angle's arc, its limb, and the line where it should be.

The one geometry behind player, stills, overlay film and report: each takes the strokes of a moment and only draws them
(`formcheck.video.mark_drawing`, the player's ``marks.js``). The measured limb is where its landmarks are; the line
asked for lies as far from it as the number is from its limit, so that the picture says what was judged. Where the
picture does not show an angle as it was measured (it points at the camera), nothing is claimed of it: only the joint is
ringed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import atan2, copysign, cos, degrees, hypot, isfinite, pi, radians, sin

import numpy as np

from formcheck.core.model import SIDES, Analysis, Array, CameraView, Grade, LandmarkRecording, Message, Rep, Side
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.exercises.schema import Check
from formcheck.measures.per_rep import READERS, compute_driver_range
from formcheck.measures.window import Window
from formcheck.report.cue_trend import CueTrend
from formcheck.signals.camera import get_facing_sign, get_plane
from formcheck.signals.interpolation import compute_landmarks_at
from formcheck.signals.lengths import compute_full_length
from formcheck.signals.skeleton import INDEX
from formcheck.video.mark_drawing import MarkDrawing, Stroke

MOST_APART_DEG = 20.0
"""An angle that looks farther than this from what was measured is not drawn as an arc."""
SHOWN_S = 0.4
"""A mark is shown so long before and after its moment."""
_SPREAD_SHARE = 0.5
"""Radius of an arc, as a share of its limb."""

Point = tuple[float, float]
Place = tuple[str, ...]
"""Landmarks whose middle is meant."""
Trace = Callable[[Array], MarkDrawing | None]
"""Landmarks (33, 2) of a picture → what is drawn on it; None where they were not seen."""


@dataclass(frozen=True, eq=False)
class BodyMark:
    """What is drawn on the body at one moment of a rep."""

    check: str
    rep: int
    at_s: float
    grade: Grade
    text: str
    """The number with its margin."""
    trace: Trace

    def draw_at(self, recording: LandmarkRecording, t: float) -> MarkDrawing | None:
        """The strokes at a moment, seconds; None where no body was tracked."""
        body = compute_landmarks_at(recording, t)
        return None if body is None else self.trace(body[0])

    def list_drawings(self, recording: LandmarkRecording) -> list[tuple[float, MarkDrawing]]:
        """Moment and strokes of every tracked picture in which the mark is shown, its own moment among them."""
        near = recording.t[np.abs(recording.t - self.at_s) <= SHOWN_S].tolist()
        drawings = [(t, self.draw_at(recording, t)) for t in sorted({*near, self.at_s})]
        return [(t, drawing) for t, drawing in drawings if drawing is not None]


def make_body_mark(
    analysis: Analysis, recording: LandmarkRecording, check: Check, rep: Rep, side: Side | None, grade: Grade, text: str
) -> BodyMark | None:
    """The mark of one rep's number; None where it has none, or where it lies on no place of the body.

    Parameters
    ----------
    check : with the limit that the value itself is held against.
    side : of a measure with sides, the one that is meant.
    text : the number with its margin, as it is written.
    """
    measure = analysis.review.measure(check.measure, rep=rep.number, side=side)
    if measure is None or measure.value is None:
        return None
    at_s = find_moment(analysis, check.measure, rep, side)
    body = compute_landmarks_at(recording, at_s)
    if body is None:
        return None
    scene = _Scene(analysis, recording, check, rep, side, measure.value, at_s, body[0])
    trace = next((found for make in _KINDS if (found := make(scene)) is not None), None)
    return None if trace is None else BodyMark(check.id, rep.number, at_s, grade, text, trace)


def make_trend_marks(analysis: Analysis, recording: LandmarkRecording, trend: CueTrend) -> tuple[BodyMark, ...]:
    """The mark of every rep that a trend has a value for, as far as there is one."""
    reps = {rep.number: rep for rep in analysis.review.reps}
    made = (
        make_body_mark(analysis, recording, trend.check, reps[item.rep], item.side, item.grade, item.text)
        for item in trend.values
        if item.rep in reps
    )
    return tuple(mark for mark in made if mark is not None)


def make_moment_mark(analysis: Analysis, recording: LandmarkRecording, trend: CueTrend, at_s: float) -> BodyMark | None:
    """The mark of the rep that a moment of the clip lies in, shown at that moment."""
    rep = next((rep for rep in analysis.review.reps if rep.start_s <= at_s <= rep.end_s), None)
    item = None if rep is None else trend.find(rep.number)
    if rep is None or item is None:
        return None
    mark = make_body_mark(analysis, recording, trend.check, rep, item.side, item.grade, item.text)
    return None if mark is None else replace(mark, at_s=at_s)


def find_moment(analysis: Analysis, measure: str, rep: Rep, side: Side | None) -> float:
    """The moment of the clip that shows a rep's number best, seconds: that of its reading, else the rep's top."""
    reader = READERS.get(measure)
    last = rep.number == len(analysis.review.reps)
    value = None if reader is None else reader(Window(rep, analysis.signals, analysis.driver, last), side)
    if value is None or isinstance(value, Message) or not isfinite(value.at_s):
        return rep.top_s
    return value.at_s


@dataclass(frozen=True, eq=False)
class _Scene:
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
        return self.analysis.review.view

    @property
    def limit(self) -> float:
        return copysign(self.check.limit, self.value) if self.check.absolute else self.check.limit

    @property
    def is_short(self) -> bool:
        """Whether the value is beyond the limit, so that the way to it is shown."""
        size = abs(self.value) if self.check.absolute else self.value
        return size < self.check.limit if self.check.at_least is not None else size > self.check.limit


# ---------------------------------------------------------------- angles


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


def _make_turn(scene: _Scene) -> Trace | None:
    """An angle with its arc and where it should be; only where the picture shows it as it was measured."""
    name = _find_angle(scene.check.measure)
    if name is None or MEASURES[scene.check.measure].unit != "deg":
        return None
    shape = _ANGLES[name]
    vertex, end = _find_places(shape.vertex, scene.side), _find_places(shape.end, scene.side)
    limb = _find_direction(scene.pixels, vertex, end)
    base = _find_base(scene.pixels, shape, vertex, scene.side)
    if limb is None or base is None:
        return None
    seen = _wrap(limb - base)
    grows = copysign(1.0, seen * (scene.value if not scene.check.measure.endswith(_SPANS) else 1.0))
    if shape.forward and get_plane(scene.view) == "sagittal":
        grows = shape.forward * get_facing_sign(scene.view)
    if scene.check.measure.endswith(_SPANS):
        grows *= _find_way(scene, name)
        base = limb - grows * radians(scene.value)
    elif abs(degrees(_wrap(seen - grows * radians(scene.value)))) > MOST_APART_DEG:
        return _ring(vertex)
    fixed = base if scene.check.measure.endswith(_SPANS) or shape.base in ("down", "up") else None
    target = limb + grows * radians(scene.limit - scene.value)
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        now, at = _find_direction(pixels, vertex, end), _locate(pixels, vertex)
        start = fixed if fixed is not None else _find_base(pixels, shape, vertex, scene.side)
        tip = _locate(pixels, end)
        if now is None or at is None or start is None or tip is None:
            return None
        reach = hypot(tip[0] - at[0], tip[1] - at[1])
        arc = _trace_arc(at, _SPREAD_SHARE * reach, start, start + _wrap(now - start))
        strokes = [
            Stroke("base", (at, _go(at, start, 0.8 * reach))),
            Stroke("arc", arc),
            Stroke("limb", (at, tip)),
            Stroke("target", (at, _go(at, target, 1.12 * reach))),
        ]
        if short:
            strokes += _trace_way(at, reach, now, target)
        middle = start + _wrap(now - start) / 2
        # Beside the angle; of a torso's behind the hips, since ahead of it are the arms.
        label = _go(at, middle + pi, 0.55 * reach) if shape.vertex == "hips" else _go(at, middle, 1.15 * reach)
        return MarkDrawing(tuple(strokes), label)

    return trace


def _find_way(scene: _Scene, name: str) -> float:
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
        return _find_direction(pixels, _find_places("shoulders", None), _find_places("hips", None))
    return _find_direction(pixels, _find_places(shape.base, side), vertex)


def _trace_way(at: Point, reach: float, now: float, target: float) -> list[Stroke]:
    """The field from the limb to where it should be, with an arrow head at its end."""
    turn = _wrap(target - now)
    rim = _trace_arc(at, 0.97 * reach, now, now + turn)
    head_at, way = _go(at, target, 0.78 * reach), target + copysign(pi / 2, turn)
    size = min(0.16 * reach, max(0.06 * reach, 0.78 * reach * abs(turn)))
    tip = head_at
    back = (tip[0] - size * cos(way), tip[1] - size * sin(way))
    wings = [_go(back, target, sign * 0.55 * size) for sign in (1.0, -1.0)]
    return [Stroke("gap", (at, *rim)), Stroke("head", (tip, wings[0], wings[1]))]


# ---------------------------------------------------------------- range, levels, widths


def _make_ghost(scene: _Scene) -> Trace | None:
    """Of a rep that went less far: where the limbs were when the best rep was as far as is asked for."""
    if scene.check.measure != "range_share":
        return None
    name = scene.analysis.driver_name
    chains = _list_chains(name, scene.view)
    best = _find_best_rep(scene.analysis)
    if best is None or scene.value <= 0:
        return None
    wanted = _find_moment_at(scene.analysis, best, scene.limit)
    body = None if wanted is None else compute_landmarks_at(scene.recording, wanted)
    if body is None:
        return None
    short, model = scene.is_short, body[0]

    def trace(pixels: Array) -> MarkDrawing | None:
        strokes, ends = [], []
        for chain in chains:
            here, there = [_locate(pixels, part) for part in chain], [_locate(model, part) for part in chain]
            if None in here or None in there:
                continue
            line = [point for point in here if point is not None]
            ghost = _lay_upon(line[0], [point for point in there if point is not None])
            strokes += [Stroke("limb", tuple(line)), Stroke("target", tuple(ghost))]
            if short:
                strokes += [Stroke("gap", (*line[1:], *reversed(ghost[1:]))), *_point_from(line[-1], ghost[-1])]
            ends.append(line[-1])
        return MarkDrawing(tuple(strokes), _find_beside(pixels, ends)) if ends else None

    return trace


def _list_chains(driver: str, view: CameraView) -> list[tuple[Place, ...]]:
    """The limbs that a driver moves, each from what stays to what moves; from the side the nearer one."""
    sides: Sequence[Side] = (view.name,) if view.name in SIDES else SIDES
    if SIGNALS[driver].sided and not driver.startswith(("knee", "thigh", "hip")):
        return [tuple((f"{side}_{part}",) for part in ("shoulder", "elbow", "wrist")) for side in sides]
    return [(*(((f"{side}_{part}",)) for part in ("ankle", "knee", "hip")), (f"{side}_shoulder",)) for side in sides]


def _find_best_rep(analysis: Analysis) -> Rep | None:
    """The rep that went farthest."""
    ranges = {
        rep.number: compute_driver_range(Window(rep, analysis.signals, analysis.driver, False))
        for rep in analysis.review.reps
    }
    known = [rep for rep in analysis.review.reps if isfinite(ranges[rep.number])]
    return max(known, key=lambda rep: ranges[rep.number], default=None)


def _find_moment_at(analysis: Analysis, rep: Rep, share: float) -> float | None:
    """When a rep has first gone through a share of its own range, seconds."""
    inside = (analysis.signals.t >= rep.start_s) & (analysis.signals.t <= rep.end_s) & np.isfinite(analysis.driver)
    if not inside.any():
        return None
    t, values = analysis.signals.t[inside], analysis.driver[inside]
    gone = np.abs(values - values[0]) / max(float(np.ptp(values)), 1e-9)
    return float(t[np.argmax(gone >= min(share, float(gone.max())))])


def _make_level(scene: _Scene) -> Trace | None:
    """Hands at different heights: a level line from the higher one, and how far the lower one is below it."""
    if scene.check.measure not in ("hand_height_difference_top", "arm_line_difference", "arm_peak_difference"):
        return None
    lower: Side = "right" if scene.value > 0 else "left"
    low, high = (f"{lower}_wrist",), (f"{'left' if lower == 'right' else 'right'}_wrist",)
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        below, above = _locate(pixels, low), _locate(pixels, high)
        if below is None or above is None:
            return None
        over = (below[0], min(above[1], below[1]))
        strokes = [Stroke("target", (above, over)), Stroke("limb", (below, over))]
        if short:
            strokes += [Stroke("gap", (above, over, below)), *_point_from(below, over)]
        return MarkDrawing(tuple(strokes), (below[0], below[1] + 0.25 * _measure_trunk(pixels)))

    return trace


_WIDTHS = {"stance_width": "ankle", "grip_width": "wrist", "knee_spread_min": "knee"}
"""Measure → what is how far apart."""


def _make_width(scene: _Scene) -> Trace | None:
    """Two landmarks as far apart as they are, and short lines where they should be."""
    if scene.check.measure not in _WIDTHS:
        return None
    part = _WIDTHS[scene.check.measure]
    share, short = scene.limit / scene.value if scene.value else 1.0, scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        ends = [_locate(pixels, (f"{side}_{part}",)) for side in SIDES]
        if ends[0] is None or ends[1] is None:
            return None
        one, other = ends[0], ends[1]
        middle = ((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)
        tall = 0.22 * _measure_trunk(pixels)
        strokes = [Stroke("limb", (one, other))]
        for end in (one, other):
            goal = tuple(middle[axis] + share * (end[axis] - middle[axis]) for axis in range(2))
            strokes.append(Stroke("target", ((goal[0], goal[1] - tall), (goal[0], goal[1] + tall))))
            strokes += _point_from(end, (goal[0], goal[1])) if short else []
        return MarkDrawing(tuple(strokes), (middle[0], middle[1] - 1.4 * tall))

    return trace


def _make_line(scene: _Scene) -> Trace | None:
    """How high a hand, or how far ahead an elbow is: a line where it should be, counted in upper-arm lengths."""
    name, side = scene.check.measure, scene.side
    if name not in ("hand_height_low", "elbow_ahead_bottom") or side is None:
        return None
    arm = np.linalg.norm(
        scene.recording.pixels[:, INDEX[f"{side}_elbow"]] - scene.recording.pixels[:, INDEX[f"{side}_shoulder"]], axis=1
    )
    length = compute_full_length(arm)
    upright = name == "elbow_ahead_bottom"
    way = (get_facing_sign(scene.view), 0.0) if upright else (0.0, -1.0)
    moving: Place = (f"{side}_elbow",) if upright else (f"{side}_wrist",)
    short, limit = scene.is_short, scene.limit
    if not isfinite(length):
        return None

    def trace(pixels: Array) -> MarkDrawing | None:
        from_, at = _locate(pixels, (f"{side}_shoulder",)), _locate(pixels, moving)
        if from_ is None or at is None:
            return None
        goal = (from_[0] + limit * length * way[0], at[1]) if upright else (at[0], from_[1] + limit * length * way[1])
        half = 0.6 * length
        ends = (
            ((goal[0], goal[1] - half), (goal[0], goal[1] + half))
            if upright
            else ((goal[0] - half, goal[1]), (goal[0] + half, goal[1]))
        )
        strokes = [Stroke("target", ends), Stroke("limb", (goal, at))]
        if short:
            strokes += _point_from(at, goal)
        return MarkDrawing(tuple(strokes), _find_beside(pixels, [at]))

    return trace


def _make_time(scene: _Scene) -> Trace | None:
    """How long something took: a stopwatch beside the shoulders, run so far, with a hand at what is asked for.

    Once round is twice the time asked for, so that half a turn is always the target.
    """
    if MEASURES[scene.check.measure].unit != "s" or scene.limit <= 0:
        return None
    across = scene.recording.clip.width
    run, goal = (min(part / (2 * scene.limit), 1.0) * 2 * pi - pi / 2 for part in (scene.value, scene.limit))
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        at, radius = _locate(pixels, _find_places("shoulders", None)), 0.3 * _measure_trunk(pixels)
        if at is None or radius <= 0:
            return None
        # Beside the head, above what the arms do, on the side that has more room.
        away = 1.0 if at[0] < across / 2 else -1.0
        x = min(max(at[0] + away * 3.4 * radius, 1.3 * radius), across - 1.3 * radius)
        middle = (x, max(at[1] - 2.2 * radius, 1.7 * radius))
        strokes = [
            Stroke("base", _trace_arc(middle, radius, 0.0, 2 * pi)),
            Stroke("base", (_go(middle, -pi / 2, radius), _go(middle, -pi / 2, 1.3 * radius))),
            Stroke("arc", _trace_arc(middle, radius, -pi / 2, run)),
            Stroke("limb", (middle, _go(middle, run, 0.8 * radius))),
            Stroke("target", (middle, _go(middle, goal, 1.25 * radius))),
        ]
        if short:
            strokes.append(Stroke("gap", (middle, *_trace_arc(middle, radius, run, goal))))
        return MarkDrawing(tuple(strokes), (middle[0], middle[1] + 1.7 * radius))

    return trace


def _make_reach(scene: _Scene) -> Trace | None:
    """How far the bar is ahead of the face, or where a hand ends along the trunk: a line across where it should be."""
    name = scene.check.measure
    if name not in ("bar_distance_min", "bar_distance_max", "hand_along_trunk_top"):
        return None
    side: Side = scene.side or (scene.view.name if scene.view.name in SIDES else "left")
    hand, ahead = (f"{side}_wrist",), get_facing_sign(scene.view)
    arm = scene.recording.pixels[:, INDEX[f"{side}_elbow"]] - scene.recording.pixels[:, INDEX[f"{side}_shoulder"]]
    length, limit, short = compute_full_length(np.linalg.norm(arm, axis=1)), scene.limit, scene.is_short
    if not isfinite(length):
        return None

    def trace(pixels: Array) -> MarkDrawing | None:
        at, nose = _locate(pixels, hand), _locate(pixels, ("nose",))
        hip, shoulder = _locate(pixels, (f"{side}_hip",)), _locate(pixels, (f"{side}_shoulder",))
        if at is None:
            return None
        if name == "hand_along_trunk_top":
            if hip is None or shoulder is None:
                return None
            along = atan2(shoulder[1] - hip[1], shoulder[0] - hip[0])
            trunk = hypot(shoulder[0] - hip[0], shoulder[1] - hip[1])
            seen = (at[0] - hip[0]) * cos(along) + (at[1] - hip[1]) * sin(along)
            base, goal = (hip, shoulder), _go(at, along, limit * trunk - seen)
        else:
            if nose is None:
                return None
            along, goal = 0.0, (nose[0] + ahead * limit * length, at[1])
            base = ((nose[0], nose[1]), (nose[0], at[1]))
        half = 0.5 * length
        across = (_go(goal, along - pi / 2, half), _go(goal, along + pi / 2, half))
        strokes = [Stroke("base", base), Stroke("target", across), Stroke("limb", (goal, at))]
        return MarkDrawing((*strokes, *(_point_from(at, goal) if short else ())), _find_beside(pixels, [at]))

    return trace


_SPOTS: dict[str, str] = {
    "arm": "elbow",
    "elbow": "elbow",
    "hand": "wrist",
    "bar": "wrist",
    "knee": "knee",
    "shoulder": "shoulder",
    "lean": "shoulder",
}


def _make_spot(scene: _Scene) -> Trace | None:
    """A ring where the number was read, when no line in the picture says it."""
    if MEASURES[scene.check.measure].unit in ("deg/s", "none"):
        return None
    part = next((part for word, part in _SPOTS.items() if scene.check.measure.startswith(word)), None)
    return None if part is None else _ring(tuple(f"{side}_{part}" for side in ((scene.side,) if scene.side else SIDES)))


def _ring(place: Place) -> Trace:
    def trace(pixels: Array) -> MarkDrawing | None:
        radius, strokes, ends = 0.13 * _measure_trunk(pixels), [], []
        for part in place:
            at = _locate(pixels, (part,))
            if at is not None and radius > 0:
                strokes.append(Stroke("arc", _trace_arc(at, radius, 0.0, 2 * pi)))
                ends.append(at)
        return MarkDrawing(tuple(strokes), _find_beside(pixels, ends)) if ends else None

    return trace


_KINDS: tuple[Callable[[_Scene], Trace | None], ...] = (
    _make_turn,
    _make_ghost,
    _make_level,
    _make_width,
    _make_line,
    _make_reach,
    _make_time,
    _make_spot,
)


# ---------------------------------------------------------------- points and lines


def _find_places(part: str, side: Side | None) -> Place:
    if part in ("hips", "shoulders"):
        return tuple(f"{one}_{part[:-1]}" for one in SIDES)
    return (part.replace("#", side),) if side is not None else tuple(part.replace("#", one) for one in SIDES)


def _locate(pixels: Array, place: Place) -> Point | None:
    """The middle of some landmarks; None where one of them was not seen."""
    found = pixels[[INDEX[name] for name in place]].mean(axis=0)
    return (float(found[0]), float(found[1])) if np.isfinite(found).all() else None


def _find_direction(pixels: Array, start: Place, end: Place) -> float | None:
    """Direction in the picture, radians: 0 to the right, growing clockwise."""
    one, other = _locate(pixels, start), _locate(pixels, end)
    return None if one is None or other is None else atan2(other[1] - one[1], other[0] - one[0])


def _go(start: Point, direction: float, length: float) -> Point:
    return start[0] + length * cos(direction), start[1] + length * sin(direction)


def _wrap(angle: float) -> float:
    return (angle + pi) % (2 * pi) - pi


def _trace_arc(middle: Point, radius: float, start: float, end: float) -> tuple[Point, ...]:
    steps = max(2, round(abs(degrees(end - start)) / 6) + 1)
    return tuple(_go(middle, float(angle), radius) for angle in np.linspace(start, end, steps))


def _lay_upon(start: Point, chain: Sequence[Point]) -> list[Point]:
    """A chain moved so that it begins at a point."""
    return [(start[0] + x - chain[0][0], start[1] + y - chain[0][1]) for x, y in chain]


def _point_from(start: Point, end: Point) -> list[Stroke]:
    """The head of an arrow from one point to another; none where they are the same."""
    length = hypot(end[0] - start[0], end[1] - start[1])
    if length < 1.0:
        return []
    way, size = atan2(end[1] - start[1], end[0] - start[0]), min(0.6 * length, 14.0)
    back = _go(end, way + pi, size)
    return [Stroke("head", (end, _go(back, way + pi / 2, 0.55 * size), _go(back, way - pi / 2, 0.55 * size)))]


def _measure_trunk(pixels: Array) -> float:
    one, other = _locate(pixels, _find_places("shoulders", None)), _locate(pixels, _find_places("hips", None))
    return 0.0 if one is None or other is None else hypot(other[0] - one[0], other[1] - one[1])


def _find_beside(pixels: Array, ends: Sequence[Point]) -> Point:
    """A place for a number beside what it is about: outward from the body, a little above."""
    x, y = max(ends, key=lambda end: abs(end[0] - float(np.nanmean(pixels[:, 0]))))
    trunk = _measure_trunk(pixels)
    away = copysign(1.0, x - float(np.nanmean(pixels[:, 0])))
    return x + away * 0.2 * trunk, y - 0.3 * trunk
