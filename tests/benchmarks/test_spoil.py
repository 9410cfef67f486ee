"""Bad pictures against what their definitions say."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

GREY = np.full((120, 160, 3), 128, dtype=np.uint8)


def taken(pictures: list[NDArray[np.uint8]], **how: Any) -> list[NDArray[np.uint8]]:
    from spoil import Spoil, spoiled

    return list(spoiled(iter(pictures), Spoil(**how), seed=3))


def test_nothing_asked_changes_nothing() -> None:
    pictures = [np.arange(120 * 160 * 3, dtype=np.uint8).reshape(120, 160, 3)] * 3
    for before, after in zip(pictures, taken(pictures), strict=True):
        np.testing.assert_array_equal(after, before)


def test_noise_has_the_asked_size_at_half_brightness() -> None:
    """Shared and coloured grain add up as 0.8² + 0.6² = 1; values are cut to whole numbers (variance 1/12 more)."""
    spread = np.std(taken([GREY], noise=10.0)[0].astype(float))
    assert spread == pytest.approx(np.hypot(10.0, 12**-0.5), rel=0.03)


def test_noise_is_the_same_each_time_and_new_in_each_picture() -> None:
    first, second = taken([GREY, GREY], noise=8.0)
    np.testing.assert_array_equal(first, taken([GREY, GREY], noise=8.0)[0])
    assert np.abs(first.astype(int) - second).mean() > 2


def test_low_light_is_brightened_half_way_back_in_stops() -> None:
    """A share of the light is left, and its square root is made up for: 128 · 0.25 / 0.5 = 64."""
    assert taken([GREY], light=0.25)[0].mean() == pytest.approx(64, abs=1)


def test_only_what_moves_is_smeared() -> None:
    """A bright square that moves 8 pixels: its edge is spread over about 8 · exposure pixels, the still one is not."""
    rng = np.random.default_rng(5)
    texture = rng.integers(150, 255, (40, 40, 3), dtype=np.uint8)
    pictures = []
    for x in (40, 48):
        picture = np.full((120, 200, 3), 30, dtype=np.uint8)
        picture[40:80, x : x + 40] = texture
        picture[40:80, 150:190] = texture
        pictures.append(picture)
    smeared = taken(pictures, exposure=1.0)[1]
    moving = np.std(smeared[45:75, 55:80].astype(float)) / np.std(pictures[1][45:75, 55:80].astype(float))
    still = np.std(smeared[45:75, 155:185].astype(float)) / np.std(pictures[1][45:75, 155:185].astype(float))
    assert moving < 0.7
    assert still > 0.95
