"""Hints on where the phone stands, against a projected figure whose camera is known."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.model import LandmarkRecording
from formcheck.exercises.registry import get_exercise
from formcheck.signals.placement import Hint, Light, judge_placement
from formcheck.signals.skeleton import INDEX
from tests.lifter import Set, film, times

RAISE = get_exercise("lateral-raise")
OVERHEAD = get_exercise("overhead-lateral-raise")
PLAN = Set((90.0, 90.0))


def clip(**changes: float) -> LandmarkRecording:
    t = times(PLAN.length_s, changes.pop("rate", 30.0))
    return film(t, left=PLAN.course(t), right=PLAN.course(t), **{"scale": 420.0, **changes})  # type: ignore[arg-type]


def by_topic(recording: LandmarkRecording, **more: object) -> dict[str, Hint]:
    options = {"wanted": "front", "exercise": RAISE, **more}
    exercise = options.pop("exercise")
    return {item.topic: item for item in judge_placement(recording, exercise, **options)}  # type: ignore[arg-type]


def test_a_phone_straight_in_front_at_a_good_distance_is_good_enough() -> None:
    advice = judge_placement(clip(), RAISE, wanted="front", light=Light(0.5, 0.6))
    assert {item.standing for item in advice} == {"good"}


@pytest.mark.parametrize(("yaw", "way"), [(45.0, "right"), (-45.0, "left")])
def test_a_phone_beside_its_place_is_sent_back_the_way_it_came(yaw: float, way: str) -> None:
    # By definition (CameraView) a positive yaw is a camera towards the lifter's left: it goes back to the right.
    item = by_topic(clip(yaw=yaw))["direction"]
    assert item.standing == "change"
    assert item.message.parameters["way"] == way
    told = float(item.message.parameters["degrees"])  # type: ignore[arg-type]
    assert told == pytest.approx(45.0, abs=8.0)  # the margin the camera module states
    assert by_topic(clip(yaw=yaw - np.sign(yaw) * told))["direction"].standing == "good"


@pytest.mark.parametrize("yaw", [90.0, -90.0])
def test_either_side_will_do_for_a_side_view_and_neither_for_the_front(yaw: float) -> None:
    assert by_topic(clip(yaw=yaw), wanted="side")["direction"].standing == "good"
    assert by_topic(clip(yaw=yaw))["direction"].standing == "change"
    assert by_topic(clip(yaw=0.0), wanted="side")["direction"].standing == "change"


def test_following_the_advice_on_distance_makes_it_good() -> None:
    small = by_topic(clip(scale=170.0))["distance"]
    assert small.standing == "change"
    nearer = float(small.message.parameters["distance_percent"]) / 100  # type: ignore[arg-type]
    # Size in the picture goes with one over the distance.
    assert by_topic(clip(scale=170.0 / nearer))["distance"].standing == "good"
    large = by_topic(clip(scale=790.0))["distance"]
    assert large.standing == "change"
    farther = float(large.message.parameters["times"])  # type: ignore[arg-type]
    assert by_topic(clip(scale=790.0 / farther))["distance"].standing == "good"


@pytest.mark.parametrize(
    ("axis", "shift", "edge"), [(1, -1, "top"), (1, 1, "bottom"), (0, -1, "left"), (0, 1, "right")]
)
def test_a_body_that_leaves_the_picture_is_told_with_the_edge(axis: int, shift: int, edge: str) -> None:
    good = clip()
    pixels = good.pixels.copy()
    size = (good.clip.width, good.clip.height)[axis]
    reach = np.nanmax(pixels[..., axis]) if shift > 0 else np.nanmin(pixels[..., axis])
    pixels[..., axis] += (size - reach if shift > 0 else -reach) + shift * 4
    item = by_topic(replace(good, pixels=pixels))["picture edge"]
    assert item.standing == "change"
    assert item.message.parameters["edges"] == (edge,)


def test_hands_that_go_overhead_need_room_above() -> None:
    low = clip()
    pixels = low.pixels.copy()
    pixels[..., 1] -= np.nanmin(pixels[..., 1]) - 0.04 * low.clip.height
    crowded = replace(low, pixels=pixels)
    assert by_topic(crowded, exercise=OVERHEAD)["picture edge"].standing == "change"
    assert by_topic(crowded)["picture edge"].standing == "good"


@pytest.mark.parametrize(("rate", "standing"), [(15.0, "change"), (24.0, "unsure"), (30.0, "good"), (60.0, "good")])
def test_few_pictures_a_second_are_told(rate: float, standing: str) -> None:
    assert by_topic(clip(rate=rate))["pictures a second"].standing == standing


@pytest.mark.parametrize(
    ("light", "standing"), [(Light(0.05, 0.08), "change"), (Light(0.2, 0.8), "unsure"), (Light(0.4, 0.5), "good")]
)
def test_light_is_judged_only_where_it_was_measured(light: Light, standing: str) -> None:
    assert by_topic(clip(), light=light)["light"].standing == standing
    assert "light" not in by_topic(clip())


def test_nobody_in_the_clip_is_all_that_is_said() -> None:
    good = clip()
    empty = replace(good, pixels=np.full_like(good.pixels, np.nan), visibility=np.zeros_like(good.visibility))
    (item,) = judge_placement(empty, RAISE, wanted="front")
    assert (item.topic, item.standing) == ("lifter", "change")


def test_hidden_joints_are_named_but_not_those_on_the_far_side() -> None:
    good = clip(yaw=90.0)
    visibility = good.visibility.copy()
    visibility[:, [INDEX[f"right_{part}"] for part in ("elbow", "wrist", "knee")]] = 0.1
    assert by_topic(replace(good, visibility=visibility), wanted="side")["in sight"].standing == "good"
    visibility[:, INDEX["left_elbow"]] = 0.1
    item = by_topic(replace(good, visibility=visibility), wanted="side")["in sight"]
    assert item.standing == "unsure"
    assert item.message.parameters["points"] == ("left_elbow",)


def test_a_very_short_clip_is_said_to_tell_little() -> None:
    t = times(2.0)
    assert by_topic(film(t))["length"].standing == "unsure"
    assert "length" not in by_topic(clip())
