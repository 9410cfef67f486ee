"""What is drawn on the body, held against plane geometry: the figure's limbs are where its curves say."""

import itertools
from dataclasses import replace
from math import atan2, degrees

import numpy as np
import pytest

from formcheck.analysis import analyse
from formcheck.core.model import Analysis, Array, Grade, LandmarkRecording, Measure, Settings, Side
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Check
from formcheck.report.body_marks import BodyMark, make_body_mark, make_trend_marks
from formcheck.report.cue_trend import make_cue_trend
from formcheck.signals.skeleton import INDEX
from formcheck.video.mark_drawing import MarkDrawing, Role, Stroke, draw_mark
from tests import lifter
from tests.web.synthetic import synthetic_analysis, synthetic_recording

CHECKS = {check.id: check for name in ("lateral-raise", "squat") for check in get_exercise(name).checks}


@pytest.fixture(scope="module")
def analysis() -> Analysis:
    return synthetic_analysis()


@pytest.fixture(scope="module")
def recording(analysis: Analysis) -> LandmarkRecording:
    return synthetic_recording(analysis)


def mark_of(
    analysis: Analysis, recording: LandmarkRecording, check: Check, rep: int, side: Side | None = None
) -> BodyMark:
    mark = make_body_mark(analysis, recording, check, analysis.review.reps[rep - 1], side, "not_met", "68° ± 4°")
    assert mark is not None
    return mark


def drawing_of(mark: BodyMark, recording: LandmarkRecording) -> MarkDrawing:
    drawing = mark.draw_at(recording, mark.at_s)
    assert drawing is not None
    return drawing


def strokes(drawing: MarkDrawing, role: Role) -> list[Stroke]:
    return [item for item in drawing.strokes if item.role == role]


def from_down(stroke: Stroke) -> float:
    """Angle of a line from straight down, degrees."""
    (x0, y0), (x1, y1) = stroke.points[0], stroke.points[-1]
    return degrees(atan2(abs(x1 - x0), y1 - y0))


def with_measure(analysis: Analysis, measure: Measure) -> Analysis:
    kept = [item for item in analysis.review.measures if (item.name, item.rep) != (measure.name, measure.rep)]
    return replace(analysis, review=replace(analysis.review, measures=(*kept, measure)))


@pytest.mark.parametrize(("side", "seen"), [("left", 71.0), ("right", 68.0)])
def test_the_limb_lies_where_it_is_and_the_target_where_it_should_be(
    analysis: Analysis, recording: LandmarkRecording, side: Side, seen: float
) -> None:
    check = CHECKS["height"]
    drawing = drawing_of(mark_of(analysis, recording, check, 6, side), recording)
    (limb,), (target,), (base,) = (strokes(drawing, role) for role in ("limb", "target", "base"))
    assert from_down(limb) == pytest.approx(seen, abs=1.0)
    assert from_down(target) == pytest.approx(check.limit, abs=1.0)
    assert from_down(base) == pytest.approx(0.0, abs=0.1)
    assert np.sign(target.points[1][0] - target.points[0][0]) == (1 if side == "left" else -1)


def test_the_way_to_the_target_is_drawn_only_where_there_is_one(
    analysis: Analysis, recording: LandmarkRecording
) -> None:
    short = drawing_of(mark_of(analysis, recording, CHECKS["height"], 6, "right"), recording)
    fine = drawing_of(mark_of(analysis, recording, CHECKS["height"], 1, "right"), recording)
    assert {item.role for item in short.strokes} - {item.role for item in fine.strokes} == {"gap", "head"}
    assert strokes(fine, "target")
    assert strokes(fine, "arc")


def test_an_angle_the_picture_does_not_show_is_only_ringed(analysis: Analysis, recording: LandmarkRecording) -> None:
    """An arm that is raised towards the camera is seen hanging: no arc may say otherwise."""
    hanging = np.array(recording.pixels)
    for end in ("elbow", "wrist"):
        hanging[:, INDEX[f"left_{end}"]] = hanging[:, INDEX["left_shoulder"]] + (0.0, 90.0)
    drawing = drawing_of(
        mark_of(analysis, replace(recording, pixels=hanging), CHECKS["height"], 1, "left"),
        replace(recording, pixels=hanging),
    )
    assert {item.role for item in drawing.strokes} == {"arc"}
    points = np.array(strokes(drawing, "arc")[0].points)
    assert points.mean(axis=0) == pytest.approx(hanging[0, INDEX["left_shoulder"]], abs=3.0)


def test_uneven_hands_are_held_against_a_level_line(analysis: Analysis, recording: LandmarkRecording) -> None:
    uneven = with_measure(analysis, Measure("arm_line_difference", None, 6, 12.0, 4.0, "deg"))
    drawing = drawing_of(mark_of(uneven, recording, CHECKS["even-sides"], 6), recording)
    (level,) = strokes(drawing, "target")
    at = np.argmin(np.abs(recording.t - uneven.review.reps[5].top_s))
    left, right = (recording.pixels[at, INDEX[f"{side}_wrist"]] for side in ("left", "right"))
    assert [y for _, y in level.points] == pytest.approx([left[1], left[1]], abs=2.0)
    (way,) = strokes(drawing, "limb")
    assert way.points[0] == pytest.approx(tuple(right), abs=2.0)


def test_a_short_rep_shows_where_the_arms_were_in_the_best_one(
    analysis: Analysis, recording: LandmarkRecording
) -> None:
    check = CHECKS["range-kept"]
    drawing = drawing_of(mark_of(analysis, recording, check, 6), recording)
    ghosts = strokes(drawing, "target")
    assert len(ghosts) == 2
    best, low = 92.0, 10.0
    wanted = low + check.limit * (best - low)
    assert max(from_down(item) for item in ghosts) == pytest.approx(wanted, abs=2.5)


@pytest.mark.parametrize(("sinks_by", "short"), [(15.0, True), (4.0, False)])
def test_hips_that_sink_in_the_pause_at_the_bottom(sinks_by: float, short: bool) -> None:
    """The knee bends on from 95° while the pause lasts: the thigh of its beginning lies over the ankle of its end."""
    lying, still = 95.0, [(95.0, 1.2), (95.0, 1.0), (5.0, 1.5), (5.0, 0.5)]
    sinking = [(lying, 1.2), (lying + sinks_by, 2.5), (5.0, 1.5), (5.0, 0.5)]
    course = follow_strokes(*still, *sinking, *still, start=5.0)
    film = lifter.film(np.arange(len(course)) / 30.0, knee=course, shin=0.25 * course, yaw=90.0)
    exercise = get_exercise("squat/paused")
    found = analyse(film, exercise, settings=Settings(correct_landmarks=False, fit_body=False))
    check = next(check for check in exercise.checks if check.id == "no-sinking")
    drawing = drawing_of(mark_of(found, film, check, 2), film)
    (limb,), (held,) = strokes(drawing, "limb"), strokes(drawing, "target")
    assert held.points[0] == limb.points[0]
    bent = [
        degrees(abs(angle_of(replace(one, points=one.points[1:3])) - angle_of(replace(one, points=one.points[:2]))))
        for one in (limb, held)
    ]
    value = found.review.measure("bottom_drift", rep=2)
    assert value is not None
    assert bent[0] - bent[1] == pytest.approx(value.value, abs=1.0)
    assert limb.points[2][1] > held.points[2][1]
    assert bool(strokes(drawing, "gap")) == bool(strokes(drawing, "head")) == short


def follow_strokes(*levels: tuple[float, float], start: float) -> Array:
    """Minimum-jerk strokes one after the other, 30 a second: (level to go to, seconds it takes)."""
    parts, level = [np.full(30, start)], start
    for goal, seconds in levels:
        share = np.arange(1, round(seconds * 30) + 1) / round(seconds * 30)
        parts.append(level + (goal - level) * lifter.minimum_jerk(share))
        level = goal
    return np.concatenate([*parts, np.full(30, level)])


def test_a_bent_knee_from_the_side(analysis: Analysis) -> None:
    """A thigh 60° and a shin 20° from upright: the knee is bent by 80°, whichever way the lifter faces."""
    still = synthetic_recording(analysis)
    check = CHECKS["height"].model_copy(update={"measure": "knee_flexion_max", "at_least": 100.0, "unit": "deg"})
    for name, ahead in (("left", -1.0), ("right", 1.0)):
        pixels = np.array(still.pixels)
        knee = np.array([300.0, 700.0])
        thigh, shin = np.radians(60.0), np.radians(20.0)
        pixels[:, INDEX["left_knee"]] = knee
        pixels[:, INDEX["left_hip"]] = knee - 200 * np.array([ahead * np.sin(thigh), np.cos(thigh)])
        pixels[:, INDEX["left_ankle"]] = knee + 200 * np.array([-ahead * np.sin(shin), np.cos(shin)])
        recording = replace(still, pixels=pixels)
        view = replace(analysis.review.view, name=name, yaw_deg=90.0)
        changed = with_measure(analysis, Measure("knee_flexion_max", "left", 1, 80.0, 5.0, "deg"))
        changed = replace(changed, review=replace(changed.review, view=view))
        drawing = drawing_of(mark_of(changed, recording, check, 1, "left"), recording)
        (target,), (limb,) = strokes(drawing, "target"), strokes(drawing, "limb")
        turned = degrees(angle_of(target) - angle_of(limb)) * ahead
        assert (turned + 180) % 360 - 180 == pytest.approx(20.0, abs=0.5)


@pytest.mark.parametrize(("name", "ahead"), [("left", -1.0), ("right", 1.0)])
def test_a_hand_is_held_against_a_line_where_it_should_be(analysis: Analysis, name: Side, ahead: float) -> None:
    """The wrist half an upper arm of 100 pixels ahead of the nose, and half-way up a trunk of 300 (plane geometry)."""
    still = synthetic_recording(analysis)
    pixels = np.array(still.pixels)
    for part, place in (("hip", (300, 700)), ("shoulder", (300, 400)), ("elbow", (300, 500))):
        pixels[:, INDEX[f"{name}_{part}"]] = place
    pixels[:, INDEX["nose"]], pixels[:, INDEX[f"{name}_wrist"]] = (300, 540), (300 + 50 * ahead, 550)
    recording, view = replace(still, pixels=pixels), replace(analysis.review.view, name=name, yaw_deg=90.0)
    asked = CHECKS["height"].model_copy(update={"at_least": None, "at_most": 0.2, "unit": "ratio"})
    for measure, goal in (
        ("bar_distance_max", (300 + 20 * ahead, 550)),
        ("hand_along_trunk_top", (300 + 50 * ahead, 640)),
    ):
        check = asked.model_copy(update={"measure": measure})
        changed = with_measure(analysis, Measure(measure, None, 1, 0.5, 0.05, "ratio"))
        changed = replace(changed, review=replace(changed.review, view=view))
        drawing = drawing_of(mark_of(changed, recording, check, 1), recording)
        (limb,), (target,), (head,) = (strokes(drawing, role) for role in ("limb", "target", "head"))
        assert limb.points == (pytest.approx(goal), pytest.approx((300 + 50 * ahead, 550)))
        middle = np.mean(target.points, axis=0)
        assert tuple(middle) == pytest.approx(goal)
        assert head.points[0] == pytest.approx(goal)


def draw_one(
    analysis: Analysis, still: LandmarkRecording, measure: Measure, check: Check, view: Side | None = None
) -> MarkDrawing:
    """What is drawn of one number of the first rep, seen from a side where one is given."""
    changed = with_measure(analysis, measure)
    if view is not None:
        seen = replace(analysis.review.view, name=view, yaw_deg=90.0)
        changed = replace(changed, review=replace(changed.review, view=seen))
    return drawing_of(mark_of(changed, still, check, 1, measure.side), still)


def asked_of(measure: str, limit: float, *, at_least: bool = False, unit: str = "ratio") -> Check:
    """A check of one measure with one limit."""
    bounds = {"at_least": limit if at_least else None, "at_most": None if at_least else limit}
    return CHECKS["height"].model_copy(update={"measure": measure, "unit": unit, **bounds})


@pytest.mark.parametrize(("name", "ahead"), [("left", -1.0), ("right", 1.0)])
def test_a_weight_ahead_of_the_leg_is_counted_from_the_leg(analysis: Analysis, name: Side, ahead: float) -> None:
    """A thigh of 200 pixels and an upright leg at 300: 0.6 of it ahead is 120 pixels, 0.2 is 40 (plane geometry)."""
    still = synthetic_recording(analysis)
    pixels = np.array(still.pixels)
    for part, y in (("hip", 500), ("knee", 700), ("ankle", 900)):
        pixels[:, INDEX[f"{name}_{part}"]] = (300, y)
    pixels[:, INDEX[f"{name}_wrist"]] = (300 + 120 * ahead, 650)
    measure = Measure("hand_from_leg_max", name, 1, 0.6, 0.05, "ratio")
    drawing = draw_one(analysis, replace(still, pixels=pixels), measure, asked_of(measure.name, 0.2), name)
    (limb,), (target,), (way,) = (strokes(drawing, role) for role in ("limb", "target", "arc"))
    goal = (300 + 40 * ahead, 650)
    assert limb.points == (pytest.approx(goal), pytest.approx((300 + 120 * ahead, 650)))
    assert way.points[0] == pytest.approx((300, 650))
    assert [x for x, _ in target.points] == pytest.approx([goal[0]] * 2)


def test_a_lean_half_way_up_is_drawn_as_a_lean(analysis: Analysis) -> None:
    """A torso that leans by 40°, 0.8 of its lean at the bottom: 0.6 of that would be 30°."""
    still = synthetic_recording(analysis)
    pixels = np.array(still.pixels)
    for side in ("left", "right"):
        pixels[:, INDEX[f"{side}_hip"]] = (400, 700)
        pixels[:, INDEX[f"{side}_shoulder"]] = (400 + 300 * np.sin(np.radians(40)), 700 - 300 * np.cos(np.radians(40)))
    measure = Measure("lean_half_way_up", None, 1, 0.8, 0.1, "ratio")
    drawing = draw_one(analysis, replace(still, pixels=pixels), measure, asked_of(measure.name, 0.6), "right")
    (limb,), (target,) = strokes(drawing, "limb"), strokes(drawing, "target")
    assert degrees(angle_of(limb)) == pytest.approx(-50.0, abs=0.1)
    assert degrees(angle_of(target)) == pytest.approx(-60.0, abs=0.1)
    assert strokes(drawing, "gap")


def test_raised_shoulders_have_a_line_below_them(analysis: Analysis, recording: LandmarkRecording) -> None:
    """0.08 trunk lengths nearer to the ears where 0.03 are let pass: the line is 0.05 of a trunk below (definition)."""
    measure = Measure("shoulder_creep", None, 1, 0.08, 0.02, "ratio")
    drawing = draw_one(analysis, recording, measure, asked_of(measure.name, 0.03))
    (limb,), (target,) = strokes(drawing, "limb"), strokes(drawing, "target")
    middles = [
        recording.pixels[0, [INDEX[f"{side}_{part}"] for side in ("left", "right")]].mean(axis=0)
        for part in ("shoulder", "hip")
    ]
    trunk = np.linalg.norm(middles[0] - middles[1])
    assert np.mean(target.points, axis=0)[1] - np.mean(limb.points, axis=0)[1] == pytest.approx(0.05 * trunk, rel=0.05)
    assert np.ptp([x for x, _ in target.points]) > np.ptp([x for x, _ in limb.points])
    assert len(strokes(drawing, "head")) == 2


@pytest.mark.parametrize(("name", "ahead"), [("left", np.pi), ("right", 0.0)])
def test_an_arm_that_opens_is_drawn_from_above(
    analysis: Analysis, recording: LandmarkRecording, name: Side, ahead: float
) -> None:
    """Opened by 60° of 80° asked for: counted from where the lifter looks, towards the camera at the drawing's foot."""
    measure = Measure("arm_opening_peak", name, 1, 60.0, 5.0, "deg")
    drawing = draw_one(analysis, recording, measure, asked_of(measure.name, 80.0, at_least=True, unit="deg"), name)
    arm, target = strokes(drawing, "limb")[-1], strokes(drawing, "target")[0]
    for stroke, opened in ((arm, 60.0), (target, 80.0)):
        way = (np.cos(ahead) * np.cos(np.radians(opened)), np.sin(np.radians(opened)))
        assert (np.cos(angle_of(stroke)), np.sin(angle_of(stroke))) == pytest.approx(way, abs=1e-6)
    points = np.array([point for item in drawing.strokes for point in item.points])
    assert (points >= 0).all()
    assert (points <= (recording.clip.width, recording.clip.height)).all()


def angle_of(stroke: Stroke) -> float:
    (x0, y0), (x1, y1) = stroke.points[0], stroke.points[-1]
    return atan2(y1 - y0, x1 - x0)


@pytest.mark.parametrize(("share", "short"), [(0.5, True), (1.0, False), (1.5, False), (3.0, False)])
def test_a_time_is_a_stopwatch_whose_half_turn_is_the_target(
    analysis: Analysis, recording: LandmarkRecording, share: float, short: bool
) -> None:
    check = CHECKS["lowering"]
    taken = with_measure(analysis, Measure("eccentric_time", None, 1, share * check.limit, 0.1, "s"))
    drawing = drawing_of(mark_of(taken, recording, check, 1), recording)
    (hand,), (target,) = strokes(drawing, "limb"), strokes(drawing, "target")
    # Clockwise from the top, as a watch runs: half a turn for the time asked for, and never more than one.
    turned = min(share / 2, 1.0) * 2 * np.pi
    way = angle_of(hand)
    assert (np.cos(way), np.sin(way)) == pytest.approx((np.sin(turned), -np.cos(turned)), abs=1e-6)
    assert angle_of(target) == pytest.approx(np.pi / 2)
    assert bool(strokes(drawing, "gap")) == short
    points = np.array([point for item in drawing.strokes for point in item.points])
    assert (points >= 0).all()
    assert (points <= (recording.clip.width, recording.clip.height)).all()


def test_a_mark_follows_the_body_about_its_moment(analysis: Analysis, recording: LandmarkRecording) -> None:
    mark = mark_of(analysis, recording, CHECKS["height"], 6, "left")
    drawn = mark.list_drawings(recording)
    assert len(drawn) > 10
    assert mark.at_s in [t for t, _ in drawn]
    limbs = {strokes(drawing, "limb")[0].points[1] for _, drawing in drawn}
    targets = {tuple(round(x) for x in strokes(drawing, "target")[0].points[1]) for _, drawing in drawn}
    assert len(limbs) > 3
    assert len(targets) == 1


@pytest.mark.parametrize("grade", ["met", "not_met", "close"])
def test_what_is_drawn_is_solid_or_dashed_and_never_leaves_the_picture(
    analysis: Analysis, recording: LandmarkRecording, grade: Grade
) -> None:
    drawing = drawing_of(mark_of(analysis, recording, CHECKS["height"], 6, "left"), recording)
    picture = np.full((1080, 900, 3), 90, np.uint8)
    draw_mark(picture, drawing, "71° ± 4°", grade)
    (limb,), (target,) = strokes(drawing, "limb"), strokes(drawing, "target")
    assert changes_along(picture, limb) < changes_along(picture, target)
    far = replace(drawing, strokes=(Stroke("limb", ((-9e6, 0.0), (9e6, 4.0))),), label=(-50.0, 5000.0))
    draw_mark(np.full((40, 60, 3), 90, np.uint8), far, "71° ± 4°", grade)


def changes_along(picture: Array, stroke: Stroke) -> int:
    """How often colour begins or ends along a line."""
    (x0, y0), (x1, y1) = stroke.points[0], stroke.points[-1]
    shares = np.linspace(0.1, 0.9, 120)
    seen = [picture[round(y0 + s * (y1 - y0)), round(x0 + s * (x1 - x0))].astype(int) for s in shares]
    light = [bool(colour.min() > 150) for colour in seen]
    return sum(one != other for one, other in itertools.pairwise(light))


def test_every_rep_of_the_trend_has_its_mark(analysis: Analysis, recording: LandmarkRecording) -> None:
    trend = make_cue_trend(analysis.review, get_exercise("lateral-raise"), None)
    assert trend is not None
    marks = make_trend_marks(analysis, recording, trend)
    assert [mark.rep for mark in marks] == [item.rep for item in trend.values]
    assert [mark.text for mark in marks] == [item.text for item in trend.values]
