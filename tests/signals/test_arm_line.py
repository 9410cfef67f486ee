"""Line of the arm on points placed in space and seen by a pinhole camera whose place is known (closed form)."""

import numpy as np
import pytest

from formcheck.core.model import Array, CameraView
from formcheck.signals.arm_line import (
    AHEAD_DEG,
    compute_arm_line,
    compute_hand_difference,
    estimate_look_up,
)
from formcheck.signals.skeleton import INDEX

UPPER, FORE = 0.29, 0.25


def place_body(left_deg: float, right_deg: float, *, foot: float = 0.2) -> dict[str, Array]:
    """A standing body, metres: x to its left, y backwards, z up; straight arms so many degrees from straight down."""
    points = {}
    for side, sign, raised in (("left", 1.0, left_deg), ("right", -1.0, right_deg)):
        a, ahead = np.radians(raised), np.radians(AHEAD_DEG)
        along = np.array([sign * np.sin(a) * np.cos(ahead), -np.sin(a) * np.sin(ahead), -np.cos(a)])
        shoulder = np.array([sign * 0.19, 0.0, 1.42])
        points |= {f"{side}_shoulder": shoulder, f"{side}_elbow": shoulder + UPPER * along}
        points |= {f"{side}_wrist": shoulder + (UPPER + FORE) * along, f"{side}_hip": np.array([sign * 0.1, 0, 0.93])}
        points |= {f"{side}_knee": np.array([sign * 0.1, 0, 0.5]), f"{side}_ankle": np.array([sign * 0.1, 0, 0.08])}
        points |= {
            f"{side}_heel": np.array([sign * 0.1, 0.05, 0.02]),
            f"{side}_foot_index": np.array([sign * 0.1, 0.05 - foot, 0.02]),
        }
    return points


def stand(yaw: float) -> CameraView:
    """Where a camera around the lifter stands."""
    return CameraView("back" if abs(yaw) > 90 else "front", yaw, 8.0, "estimated")


def film(points: dict[str, Array], *, yaw: float, height: float, distance: float = 4.0) -> Array:
    """(5, 33, 2) pixels of a level camera around the body, at a height."""
    turn = np.radians(yaw)
    right = np.array([np.cos(turn), np.sin(turn), 0.0])
    back = np.array([np.sin(turn), -np.cos(turn), 0.0])
    pixels = np.full((5, len(INDEX), 2), 500.0)
    for name, point in points.items():
        depth = distance - point @ back
        pixels[:, INDEX[name]] = 500 + 1000 * np.array([point @ right, height - point[2]]) / depth
    return pixels


@pytest.mark.parametrize("yaw", [-40.0, -20.0, 0.0, 10.0, 30.0, 160.0, 180.0])
@pytest.mark.parametrize("raised", [45.0, 75.0, 90.0, 110.0, 150.0])
def test_the_line_is_read_from_any_side_of_the_front(raised: float, yaw: float) -> None:
    """From a camera at the height of the shoulders; a camera 40 m away sees no perspective."""
    pixels = film(place_body(raised, raised), yaw=yaw, height=1.42, distance=40.0)
    view = stand(yaw)
    for side in ("left", "right"):
        assert compute_arm_line(pixels, side, view, 0.0)[2] == pytest.approx(raised, abs=1.0)  # type: ignore[arg-type]


def test_a_camera_that_looks_up_sees_raised_hands_too_high() -> None:
    pixels = film(place_body(90.0, 90.0), yaw=0.0, height=0.8)
    look_up = float(np.degrees(np.arctan(0.62 / 4.0)))
    view = stand(0.0)
    assert compute_arm_line(pixels, "left", view, 0.0)[0] > 93.0
    assert compute_arm_line(pixels, "left", view, look_up)[0] == pytest.approx(90.0, abs=1.0)


@pytest.mark.parametrize("yaw", [-20.0, 0.0, 20.0])
def test_one_hand_lower_is_told_with_its_side(yaw: float) -> None:
    """Height over the arm's length is the sine: cos 80 - cos 95 for arms raised to 95 and 80 degrees."""
    true = np.degrees(np.arcsin(np.cos(np.radians(80.0)) - np.cos(np.radians(95.0))))
    for left, right, wanted in ((95.0, 80.0, true), (80.0, 95.0, -true)):
        bodies = place_body(5.0, 5.0), place_body(left, right)  # hanging, the arm is seen at its full length
        pixels = np.concatenate([film(body, yaw=yaw, height=1.42, distance=40.0) for body in bodies])
        assert compute_hand_difference(pixels, stand(yaw), 0.0)[-1] == pytest.approx(wanted, abs=0.7)


def test_feet_tell_how_far_the_camera_looks_up() -> None:
    """Toes are seen farther below the heels from high up; from behind and of one who sits nothing is told."""
    body = place_body(20.0, 20.0)
    view = stand(0.0)
    low, high = (estimate_look_up(film(body, yaw=0.0, height=height), view) for height in (0.6, 1.6))
    assert low > 3.0
    assert high < low - 5.0
    assert estimate_look_up(film(body, yaw=180.0, height=0.6), stand(180.0)) == 0.0
    seated = body | {f"{side}_knee": body[f"{side}_hip"] + [0.0, -0.4, 0.0] for side in ("left", "right")}
    assert estimate_look_up(film(seated, yaw=0.0, height=0.9), view) == 0.0


def test_shoulders_seen_on_one_another_give_no_line() -> None:
    """As where left and right change places from picture to picture."""
    pixels = film(place_body(90.0, 90.0), yaw=0.0, height=1.2)
    middle = pixels[2, [INDEX["left_shoulder"], INDEX["right_shoulder"]]].mean(axis=0)
    for side in ("left", "right"):
        pixels[2, INDEX[f"{side}_shoulder"]] = middle
    found = compute_arm_line(pixels, "left", stand(0.0), 0.0)
    assert np.isnan(found).tolist() == [False, False, True, False, False]
