"""Where the number of a finding lies on the body: the angle's arc, its limb, and the line where it should be.

The one geometry behind player, stills, overlay film and report: each takes the strokes of a moment and only draws them
(`formcheck.video.mark_drawing`, the player's ``marks.js``). Angles have a module of their own, `body_angles`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import atan2, copysign, cos, hypot, isfinite, pi, sin

import numpy as np

from formcheck.core.model import SIDES, Analysis, Array, CameraView, Grade, LandmarkRecording, Message, Rep, Side
from formcheck.core.vocabulary import MEASURES, SIGNALS
from formcheck.exercises.schema import Check
from formcheck.measures.across_reps import SET_READERS
from formcheck.measures.per_rep import READERS, compute_driver_range
from formcheck.measures.window import Window
from formcheck.report.body_angles import Scene, Trace, find_beside_head, make_plan, make_turn, ring
from formcheck.report.body_lines import (
    Place,
    Point,
    find_beside,
    go,
    lay_upon,
    locate,
    measure_trunk,
    point_from,
    trace_arc,
)
from formcheck.report.cue_trend import CueTrend
from formcheck.signals.camera import get_facing_sign
from formcheck.signals.interpolation import compute_landmarks_at
from formcheck.signals.lengths import compute_full_length, compute_full_trunk_length
from formcheck.signals.skeleton import INDEX
from formcheck.video.mark_drawing import MarkDrawing, Stroke

SHOWN_S = 0.4
"""A mark is shown so long before and after its moment."""


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
    scene = Scene(analysis, recording, check, rep, side, measure.value, at_s, body[0])
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
    reps = analysis.review.reps
    windows = [Window(one, analysis.signals, analysis.driver, one.number == len(reps)) for one in reps]
    place = next(index for index, one in enumerate(reps) if one.number == rep.number)
    if measure in SET_READERS:
        value = SET_READERS[measure](windows)[place]
    else:
        value = READERS[measure](windows[place], side) if measure in READERS else None
    if value is None or isinstance(value, Message) or not isfinite(value.at_s):
        return rep.top_s
    return value.at_s


# ---------------------------------------------------------------- range, levels, widths


def _make_ghost(scene: Scene) -> Trace | None:
    """Where the limbs were at another moment: the best rep's as far as is asked for, or where a pause was not held."""
    name = scene.analysis.driver_name
    chains = _list_chains(name, scene.view)
    wanted = _find_held_moment(scene) if scene.check.measure in _PAUSES else _find_asked_moment(scene)
    body = None if wanted is None else compute_landmarks_at(scene.recording, wanted)
    if body is None:
        return None
    short, model = scene.is_short, body[0]

    def trace(pixels: Array) -> MarkDrawing | None:
        strokes, ends = [], []
        for chain in chains:
            here, there = [locate(pixels, part) for part in chain], [locate(model, part) for part in chain]
            if None in here or None in there:
                continue
            line = [point for point in here if point is not None]
            ghost = lay_upon(line[0], [point for point in there if point is not None])
            strokes += [Stroke("limb", tuple(line)), Stroke("target", tuple(ghost))]
            if short:
                strokes += [Stroke("gap", (*line[1:], *reversed(ghost[1:]))), *point_from(line[-1], ghost[-1])]
            ends.append(line[-1])
        return MarkDrawing(tuple(strokes), find_beside(pixels, ends)) if ends else None

    return trace


def _find_asked_moment(scene: Scene) -> float | None:
    """Of a rep that went less far: when the best rep was as far as is asked for, seconds."""
    best = _find_best_rep(scene.analysis)
    if scene.check.measure != "range_share" or best is None or scene.value <= 0:
        return None
    return _find_moment_at(scene.analysis, best, scene.limit)


_PAUSES: dict[str, Callable[[Rep], float]] = {
    "top_drift": lambda rep: rep.tempo.top_pause_s,
    "bottom_drift": lambda rep: rep.tempo.bottom_pause_s,
}
"""Measure → how long the pause is that should be held still, seconds."""


def _find_held_moment(scene: Scene) -> float | None:
    """Of a pause that ends at the number's moment: when the lift was farthest from where it ends, seconds."""
    t, driver = scene.analysis.signals.t, scene.analysis.driver
    begin = scene.at_s - _PAUSES[scene.check.measure](scene.rep)
    inside = (t >= begin) & (t <= scene.at_s) & np.isfinite(driver)
    if not inside.any():
        return None
    values = driver[inside]
    return float(t[inside][np.argmax(np.abs(values - values[-1]))])


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


def _make_level(scene: Scene) -> Trace | None:
    """Hands at different heights: a level line from the higher one, and how far the lower one is below it."""
    if scene.check.measure not in ("hand_height_difference_top", "arm_line_difference", "arm_peak_difference"):
        return None
    lower: Side = "right" if scene.value > 0 else "left"
    low, high = (f"{lower}_wrist",), (f"{'left' if lower == 'right' else 'right'}_wrist",)
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        below, above = locate(pixels, low), locate(pixels, high)
        if below is None or above is None:
            return None
        over = (below[0], min(above[1], below[1]))
        strokes = [Stroke("target", (above, over)), Stroke("limb", (below, over))]
        if short:
            strokes += [Stroke("gap", (above, over, below)), *point_from(below, over)]
        return MarkDrawing(tuple(strokes), (below[0], below[1] + 0.25 * measure_trunk(pixels)))

    return trace


_WIDTHS = {"stance_width": "ankle", "grip_width": "wrist", "knee_spread_min": "knee"}
"""Measure → what is how far apart."""


def _make_width(scene: Scene) -> Trace | None:
    """Two landmarks as far apart as they are, and short lines where they should be."""
    if scene.check.measure not in _WIDTHS:
        return None
    part = _WIDTHS[scene.check.measure]
    share, short = scene.limit / scene.value if scene.value else 1.0, scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        ends = [locate(pixels, (f"{side}_{part}",)) for side in SIDES]
        if ends[0] is None or ends[1] is None:
            return None
        one, other = ends[0], ends[1]
        middle = ((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)
        tall = 0.22 * measure_trunk(pixels)
        strokes = [Stroke("limb", (one, other))]
        for end in (one, other):
            goal = tuple(middle[axis] + share * (end[axis] - middle[axis]) for axis in range(2))
            strokes.append(Stroke("target", ((goal[0], goal[1] - tall), (goal[0], goal[1] + tall))))
            strokes += point_from(end, (goal[0], goal[1])) if short else []
        return MarkDrawing(tuple(strokes), (middle[0], middle[1] - 1.4 * tall))

    return trace


@dataclass(frozen=True, slots=True)
class _Reach:
    """How far a landmark is from another, along a way, in lengths of a limb as it is seen longest."""

    moving: str
    origin: str
    """A landmark, or ``leg``: the line from hip over knee to ankle, at the height of what moves."""
    way: str
    """``ahead`` or ``up`` in the picture, or ``trunk``: from hip to shoulder, in lengths of that line."""
    unit: tuple[str, str] = ("shoulder", "elbow")


_REACHES = {
    "hand_height_low": _Reach("wrist", "shoulder", "up"),
    "elbow_ahead_bottom": _Reach("elbow", "shoulder", "ahead"),
    "bar_distance_min": _Reach("wrist", "nose", "ahead"),
    "bar_distance_max": _Reach("wrist", "nose", "ahead"),
    "hand_along_trunk_top": _Reach("wrist", "hip", "trunk"),
    "hand_from_leg_max": _Reach("wrist", "leg", "ahead", ("hip", "knee")),
}


def _make_reach(scene: Scene) -> Trace | None:
    """How far a hand or an elbow is from what it is counted from, and a line across where it should be."""
    shape = _REACHES.get(scene.check.measure)
    if shape is None:
        return None
    side: Side = scene.side or (scene.view.name if scene.view.name in SIDES else "left")
    one, other = (scene.recording.pixels[:, INDEX[f"{side}_{part}"]] for part in shape.unit)
    length, limit, short = compute_full_length(np.linalg.norm(other - one, axis=1)), scene.limit, scene.is_short
    ahead = 0.0 if get_facing_sign(scene.view) > 0 else pi
    if not isfinite(length):
        return None

    def trace(pixels: Array) -> MarkDrawing | None:
        at = locate(pixels, (f"{side}_{shape.moving}",))
        line = _trace_origin(pixels, shape, side, at)
        if at is None or line is None:
            return None
        origin, along, size = line[0], ahead if shape.way == "ahead" else -pi / 2, length
        if shape.way == "trunk":
            along, size = atan2(line[1][1] - origin[1], line[1][0] - origin[0]), hypot(*np.subtract(line[1], origin))
        elif shape.origin == "leg":
            origin = (_cross(line, at[1]), at[1])
        seen = (at[0] - origin[0]) * cos(along) + (at[1] - origin[1]) * sin(along)
        goal, half = go(at, along, limit * size - seen), 0.5 * length
        across = (go(goal, along - pi / 2, half), go(goal, along + pi / 2, half))
        base = line if len(line) > 1 else (origin, go(at, along, -seen))
        strokes = [Stroke("base", base), Stroke("target", across), Stroke("limb", (goal, at))]
        if shape.origin == "leg":
            strokes.append(Stroke("arc", (origin, at)))
        return MarkDrawing((*strokes, *(point_from(at, goal) if short else ())), find_beside(pixels, [at]))

    return trace


def _trace_origin(pixels: Array, shape: _Reach, side: Side, at: Point | None) -> tuple[Point, ...] | None:
    """What a reach is counted from: one landmark, or those of a line; None where one was not seen."""
    parts = {"leg": ("hip", "knee", "ankle"), "hip": ("hip", "shoulder")}.get(shape.origin, (shape.origin,))
    found = [locate(pixels, (part if part == "nose" else f"{side}_{part}",)) for part in parts]
    seen = tuple(point for point in found if point is not None)
    return seen if len(seen) == len(found) else None


def _cross(line: Sequence[Point], y: float) -> float:
    """X at which a line from top to bottom is at a height; beyond its ends the end's."""
    return float(np.interp(y, [point[1] for point in line], [point[0] for point in line]))


def _make_shrug(scene: Scene) -> Trace | None:
    """Shoulders nearer to the ears than in the first reps: their line, and how high it may be at most."""
    trunk = compute_full_trunk_length(scene.recording.pixels)
    if scene.check.measure != "shoulder_creep" or not isfinite(trunk):
        return None
    down, short = (scene.value - scene.limit) * trunk, scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        shoulders = [locate(pixels, (f"{side}_shoulder",)) for side in SIDES]
        ears = [locate(pixels, (f"{side}_ear",)) for side in SIDES]
        (left, right), tall = shoulders, 0.12 * trunk
        if left is None or right is None or ears[0] is None or ears[1] is None:
            return None
        out = copysign(0.3 * trunk, left[0] - right[0])
        goal = ((left[0] + out, left[1] + down), (right[0] - out, right[1] + down))
        strokes = [Stroke("base", (ear, (ear[0], _level(left, right, ear[0])))) for ear in ears if ear is not None]
        strokes += [Stroke("limb", (left, right)), Stroke("target", goal)]
        if short:
            under = [(x, y + down) for x, y in (right, left)]
            strokes += [Stroke("gap", (left, right, *under)), *point_from(left, under[1]), *point_from(right, under[0])]
        outer = max(goal, key=lambda point: point[0])
        return MarkDrawing(tuple(strokes), (outer[0] + 2 * tall, outer[1] - 3 * tall))

    return trace


def _level(one: Point, other: Point, x: float) -> float:
    """Y of the line through two points at x; their middle's where it stands upright."""
    if abs(other[0] - one[0]) < 1.0:
        return (one[1] + other[1]) / 2
    return one[1] + (x - one[0]) * (other[1] - one[1]) / (other[0] - one[0])


def _make_time(scene: Scene) -> Trace | None:
    """How long something took: a stopwatch beside the shoulders, run so far, with a hand at what is asked for.

    Once round is twice the time asked for, so that half a turn is always the target.
    """
    if MEASURES[scene.check.measure].unit != "s" or scene.limit <= 0:
        return None
    across = scene.recording.clip.width
    run, goal = (min(part / (2 * scene.limit), 1.0) * 2 * pi - pi / 2 for part in (scene.value, scene.limit))
    short = scene.is_short

    def trace(pixels: Array) -> MarkDrawing | None:
        place = find_beside_head(pixels, across)
        if place is None:
            return None
        middle, radius = place
        strokes = [
            Stroke("base", trace_arc(middle, radius, 0.0, 2 * pi)),
            Stroke("base", (go(middle, -pi / 2, radius), go(middle, -pi / 2, 1.3 * radius))),
            Stroke("arc", trace_arc(middle, radius, -pi / 2, run)),
            Stroke("limb", (middle, go(middle, run, 0.8 * radius))),
            Stroke("target", (middle, go(middle, goal, 1.25 * radius))),
        ]
        if short:
            strokes.append(Stroke("gap", (middle, *trace_arc(middle, radius, run, goal))))
        return MarkDrawing(tuple(strokes), (middle[0], middle[1] + 1.7 * radius))

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


def _make_spot(scene: Scene) -> Trace | None:
    """A ring where the number was read, when no line in the picture says it."""
    if MEASURES[scene.check.measure].unit in ("deg/s", "none"):
        return None
    part = next((part for word, part in _SPOTS.items() if scene.check.measure.startswith(word)), None)
    return None if part is None else ring(tuple(f"{side}_{part}" for side in ((scene.side,) if scene.side else SIDES)))


_KINDS: tuple[Callable[[Scene], Trace | None], ...] = (
    make_turn,
    _make_ghost,
    _make_level,
    _make_width,
    _make_reach,
    _make_shrug,
    make_plan,
    _make_time,
    _make_spot,
)
