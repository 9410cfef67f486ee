"""Spectral arc length and log dimensionless jerk against published and independently computed values.

Sources: Balasubramanian, Melendez-Calderon, Burdet 2012, IEEE Trans Biomed Eng 59:2126, and Balasubramanian et al.
2015, J NeuroEng Rehabil 12:112; the Gaussian's value is the example in the code those authors published. The other
figures come from an implementation of the papers' formula that shares no code with this one.
"""

import numpy as np
import pytest

from formcheck.core.model import Array
from formcheck.measures.smoothness import compute_spectral_arc_length


def minimum_jerk_speed(duration_s: float, rate: float) -> Array:
    """Speed of a minimum-jerk movement of unit size (Flash & Hogan 1985; from memory)."""
    share = np.linspace(0.0, 1.0, round(duration_s * rate) + 1)
    return 30 * share**2 * (1 - share) ** 2


def test_the_authors_own_example() -> None:
    t = np.arange(-1, 1, 0.01)
    assert compute_spectral_arc_length(np.exp(-5 * t**2), 100) == pytest.approx(-1.41403, abs=1e-5)


@pytest.mark.parametrize(
    ("duration_s", "rate", "expected"),
    [
        (1, 30, -1.40041),
        (1, 100, -1.40583),
        (2, 30, -1.40041),
        (2, 60, -1.40041),
        (2, 100, -1.40583),
        (3, 30, -1.39635),
        (1, 1000, -1.40243),
    ],
)
def test_minimum_jerk(duration_s: float, rate: float, expected: float) -> None:
    assert compute_spectral_arc_length(minimum_jerk_speed(duration_s, rate), rate) == pytest.approx(expected, abs=1e-5)


def test_half_a_sine() -> None:
    assert compute_spectral_arc_length(np.sin(np.linspace(0, np.pi, 101)), 100) == pytest.approx(-1.56234, abs=1e-5)


def test_two_movements_are_less_smooth_than_one_and_a_rest_between_them_lowers_it_further() -> None:
    one = minimum_jerk_speed(1, 100)
    assert compute_spectral_arc_length(np.concatenate([one, one[1:]]), 100) == pytest.approx(-2.24455, abs=1e-5)
    apart = np.concatenate([one, np.zeros(49), one])
    assert compute_spectral_arc_length(apart, 100) == pytest.approx(-3.11903, abs=1e-5)


@pytest.mark.parametrize(("share", "expected"), [(0.05, -1.40580), (0.10, -1.99190)])
def test_a_ripple_counts_from_five_per_cent_of_the_spectrum(share: float, expected: float) -> None:
    speed = minimum_jerk_speed(2, 100)
    ripple = share * 1.875 * np.sin(2 * np.pi * 6 * np.arange(len(speed)) / 100)
    assert compute_spectral_arc_length(speed + ripple, 100) == pytest.approx(expected, abs=1e-5)


def test_size_does_not_matter() -> None:
    speed = minimum_jerk_speed(1.3, 60)
    assert compute_spectral_arc_length(250 * speed, 60) == pytest.approx(
        compute_spectral_arc_length(speed, 60), abs=1e-12
    )


@pytest.mark.parametrize("speed", [np.zeros(50), np.ones(3), np.array([])])
def test_no_movement_has_no_smoothness(speed: Array) -> None:
    assert np.isnan(compute_spectral_arc_length(speed, 30))
