"""Lengths in the picture against a figure whose measures are known."""

import numpy as np
import pytest

from formcheck.core.model import Array
from formcheck.signals.lengths import (
    compute_full_length,
    compute_full_trunk_length,
    compute_usual_trunk_length,
    measure_trunk,
    measure_width,
    select_both_sides,
)
from formcheck.signals.skeleton import TRUNK_PER_SHOULDER_WIDTH, get_index


def figure(trunk: Array, width: float = 120.0) -> Array:
    """(n, 33, 2) landmarks of somebody whose trunk is seen this long, standing askew in the picture."""
    pixels = np.full((len(trunk), 33, 2), np.nan)
    up = np.array([0.6, -0.8])  # 3-4-5 triangle
    for side, sign in (("left", 0.5), ("right", -0.5)):
        across = sign * width * np.array([0.8, 0.6])
        pixels[:, get_index("hip", side)] = [300.0, 500.0] + 0.7 * across  # type: ignore[arg-type]
        pixels[:, get_index("shoulder", side)] = [300.0, 500.0] + across + trunk[:, None] * up  # type: ignore[arg-type]
    return pixels


def test_trunk_and_width_at_each_moment() -> None:
    trunk = np.array([200.0, 150.0, np.nan])
    pixels = figure(trunk)
    shoulders = select_both_sides(pixels, "shoulder")
    assert measure_trunk(shoulders, select_both_sides(pixels, "hip")) == pytest.approx(trunk, nan_ok=True)
    assert measure_width(shoulders) == pytest.approx([120.0, 120.0, np.nan], nan_ok=True)


def test_full_length_is_where_it_is_seen_longest() -> None:
    """95th percentile of 0..100 is 95 (linear interpolation: Hyndman and Fan 1996, definition 7)."""
    assert compute_full_length(np.array([*range(101), np.nan], dtype=float)) == pytest.approx(95.0)
    assert np.isnan(compute_full_length(np.full(3, np.nan)))


def test_full_and_usual_trunk_length_differ_where_the_lifter_bends_for_most_of_the_clip() -> None:
    pixels = figure(np.array([190.0] * 30 + [250.0] * 10))
    assert compute_full_trunk_length(pixels) == pytest.approx(250.0)
    assert compute_usual_trunk_length(
        select_both_sides(pixels, "shoulder"), select_both_sides(pixels, "hip")
    ) == pytest.approx(190.0)


def test_a_trunk_seen_short_is_scaled_by_the_shoulders() -> None:
    pixels = figure(np.full(20, 60.0))
    least = TRUNK_PER_SHOULDER_WIDTH * 120.0
    assert compute_full_trunk_length(pixels) == pytest.approx(least)
    assert compute_usual_trunk_length(
        select_both_sides(pixels, "shoulder"), select_both_sides(pixels, "hip")
    ) == pytest.approx(least)


def test_nobody_has_no_length() -> None:
    pixels = np.full((5, 33, 2), np.nan)
    assert np.isnan(compute_full_trunk_length(pixels))
    assert np.isnan(compute_usual_trunk_length(select_both_sides(pixels, "shoulder"), select_both_sides(pixels, "hip")))
    pixels[:, get_index("shoulder", "left")], pixels[:, get_index("shoulder", "right")] = 1.0, 2.0  # hips never seen
    assert np.isnan(compute_full_trunk_length(pixels))
