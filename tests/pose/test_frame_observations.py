"""Cuts and camera sway from pictures moved by a known turn and shift (closed form: the rotation matrix)."""

from collections.abc import Callable

import numpy as np
import pytest

from formcheck.pose.cuts import SCENE_CHANGE, find_cuts
from formcheck.pose.frame_observations import (
    OBSERVATION_COUNT,
    SMALL_SIDE,
    FrameObserver,
    Grey,
    compare_pictures,
    find_background_corners,
    join_sway,
    make_rough_copy,
    make_small_copy,
    measure_camera_motion,
)
from formcheck.video.orientation import Rgb


def scene(seed: int = 0, width: int = 160, height: int = 90) -> Grey:
    """A wall with things on it: blurred blocks of random brightness."""
    import cv2

    blocks = np.random.default_rng(seed).integers(20, 235, (height // 6, width // 6), dtype=np.uint8)
    return np.asarray(cv2.GaussianBlur(cv2.resize(blocks, (width, height), interpolation=cv2.INTER_NEAREST), (3, 3), 0))


def moved(picture: Grey, roll_deg: float, right: float, down: float) -> Grey:
    import cv2

    roll = np.radians(roll_deg)
    matrix = np.array([[np.cos(roll), -np.sin(roll), right], [np.sin(roll), np.cos(roll), down]])
    return np.asarray(cv2.warpAffine(picture, matrix, picture.shape[::-1], borderMode=cv2.BORDER_REFLECT))


@pytest.mark.parametrize(
    ("roll", "right", "down"), [(0.0, 0.0, 0.0), (1.5, 2.0, -1.0), (-2.0, 5.3, 3.1), (0.4, -0.6, 0.3)]
)
def test_a_known_movement_is_found(roll: float, right: float, down: float) -> None:
    before = scene()
    found = measure_camera_motion(before, moved(before, roll, right, down), find_background_corners(before, ()))
    assert found is not None
    assert np.degrees(found[0]) == pytest.approx(roll, abs=0.15)
    assert found[1:] == pytest.approx([right, down], abs=0.3)


def test_what_stands_before_the_wall_does_not_count() -> None:
    """A third of the picture moves by itself; corners are looked for beside it only."""
    before, after = scene(), moved(scene(), 1.0, 1.0, 0.0)
    other = scene(5)
    before[:, 50:105], after[:, 50:105] = other[:, 50:105], np.roll(other, 9, axis=0)[:, 50:105]
    corners = find_background_corners(before, [(50.0, 0.0, 105.0, 90.0)])
    assert ((corners[:, 0] < 50) | (corners[:, 0] > 105)).all()
    found = measure_camera_motion(before, after, corners)
    assert found is not None
    assert np.degrees(found[0]) == pytest.approx(1.0, abs=0.2)


def test_a_bare_wall_tells_nothing() -> None:
    bare = np.full((90, 160), 128, dtype=np.uint8)
    assert len(find_background_corners(bare, ())) == 0


def watch(pictures: list[Grey], *, sways: bool, width: int = 1280) -> np.ndarray:
    observer = FrameObserver(sways, width)
    return np.array([observer.observe(np.repeat(picture[:, :, None], 3, axis=2), None) for picture in pictures])


def nobody(n: int) -> np.ndarray:
    return np.full((n, 33, 2), np.nan)


def test_a_cut_is_seen_and_a_lamp_is_not() -> None:
    dim, other = scene(0), scene(1)
    bright = np.clip(dim.astype(int) + 45, 0, 255).astype(np.uint8)
    observations = watch([dim, dim, *[bright] * 6, other, other], sways=False)
    assert observations.shape == (10, OBSERVATION_COUNT)
    assert find_cuts(np.arange(10) / 30, observations, nobody(10)) == (pytest.approx(8 / 30, abs=1e-4),)
    assert join_sway([observations]) is None


def test_one_picture_is_like_itself() -> None:
    assert compare_pictures(scene(), scene()) == (0.0, pytest.approx(1.0))


def test_nobody_watched() -> None:
    assert join_sway([np.empty((3, 0))]) is None


def test_sway_goes_on_over_the_border_of_two_chunks() -> None:
    """Chunks begin counting anew; joined they say what one piece says, but for one picture's movement."""
    course = [(0.3 * k, 0.5 * k, -0.25 * k) for k in range(9)]
    pictures = [moved(scene(), *step) for step in course]
    whole = join_sway([watch(pictures, sways=True)])
    parts = join_sway([watch(pictures[:5], sways=True), watch(pictures[4:], sways=True)[1:]])
    assert whole is not None
    assert parts is not None
    assert whole.shape == parts.shape == (9, 3)
    assert np.degrees(whole[-1, 0]) == pytest.approx(2.4, abs=0.2)
    assert np.degrees(parts[-1, 0] - whole[-1, 0]) == pytest.approx(-0.3, abs=0.3)
    assert whole[-1, 1:] == pytest.approx([8 * 4.0, -8 * 2.0], abs=4.0)


def test_the_small_copy() -> None:
    picture = np.zeros((720, 1280, 3), dtype=np.uint8)
    assert make_small_copy(picture).shape == (90, SMALL_SIDE, 3)


def grainy(seed: int, grain: int = 0, shape: tuple[int, int] = (720, 1280)) -> Rgb:
    """A scene with grain of four levels on top, as a phone's picture has."""
    import cv2

    soft = cv2.resize(scene(seed), shape[::-1], interpolation=cv2.INTER_LINEAR).astype(float)[:, :, None]
    noise = np.random.default_rng(100 + grain).normal(0, 4, (*shape, 3))
    return np.clip(soft + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("shape", [(720, 1280), (1280, 720), (607, 1080), (90, 160), (40, 60)])
def test_a_rough_copy_is_near_the_mean_of_every_pixel(shape: tuple[int, int]) -> None:
    picture = grainy(3, shape=shape)
    rough, whole = make_rough_copy(picture).astype(float), make_small_copy(picture).astype(float)
    assert rough.shape == whole.shape
    assert np.abs(rough - whole).mean() < 255 * SCENE_CHANGE / 4


@pytest.mark.parametrize("copy", [make_small_copy, make_rough_copy])
def test_either_copy_shows_a_cut_and_no_grain(copy: Callable[[Rgb], Rgb]) -> None:
    pictures = [copy(grainy(*which)) for which in ((0, 0), (0, 1), (0, 2), (1, 3), (1, 4))]
    observations = watch([picture[:, :, 0] for picture in pictures], sways=False)
    assert find_cuts(np.arange(5) / 30, observations, nobody(5)) == (pytest.approx(3 / 30, abs=1e-4),)
