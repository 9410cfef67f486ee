"""Where the body is between the pictures that were tracked."""

from dataclasses import replace

import numpy as np
import pytest

from formcheck.signals.interpolation import compute_landmarks_at
from formcheck.signals.skeleton import INDEX
from tests import lifter

T = np.array([0.0, 1 / 15, 2 / 15, 1.0, 16 / 15])
FILM = lifter.film(T, left=90 * T, right=90 * T)


def test_on_the_straight_line_between_two_tracked_pictures() -> None:
    for share in (0.0, 0.25, 0.5, 0.9, 1.0):
        found = compute_landmarks_at(FILM, (1 + share) / 15)
        assert found is not None
        assert found[0] == pytest.approx((1 - share) * FILM.pixels[1] + share * FILM.pixels[2], abs=1e-6)


def test_beyond_the_ends_and_in_a_long_gap_only_what_is_near() -> None:
    assert compute_landmarks_at(FILM, 0.5) is None
    for t, index in ((0.2, 2), (0.95, 3), (16 / 15 + 0.1, 4)):
        found = compute_landmarks_at(FILM, t)
        assert found is not None
        assert np.array_equal(found[0], FILM.pixels[index])
    assert compute_landmarks_at(FILM, 2.0) is None
    empty = replace(FILM, t=T[:0], pixels=FILM.pixels[:0], world=FILM.world[:0], visibility=FILM.visibility[:0])
    assert compute_landmarks_at(empty, 0.0) is None


def test_where_the_body_was_lost_the_nearer_picture_counts() -> None:
    pixels = FILM.pixels.copy()
    pixels[1] = np.nan
    lost = replace(FILM, pixels=pixels)
    near_found, near_lost = compute_landmarks_at(lost, 0.02), compute_landmarks_at(lost, 0.05)
    assert near_found is not None
    assert np.array_equal(near_found[0], FILM.pixels[0])
    assert near_lost is not None
    assert np.isnan(near_lost[0][INDEX["nose"]]).all()
