import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.signals.filtering import (
    compute_dual_pass_cutoff,
    differentiate,
    find_finite_stretches,
    low_pass,
    make_uniform_grid,
    resample,
)


# Source: C = (2^(1/P) - 1)^(1/(2n)) (Robertson & Dowling 2003, eq. 1) applied to tan(pi fc/fs); worked out
# from the formula. The naive form fc/0.802 gives 7.481 Hz at 30 frames a second and is wrong.
@pytest.mark.parametrize(
    ("cutoff", "rate", "adjusted"), [(6, 60, 7.3495), (4, 30, 4.8382), (6, 30, 7.0275), (8, 30, 9.0263)]
)
def test_dual_pass_cutoff(cutoff: float, rate: float, adjusted: float) -> None:
    assert compute_dual_pass_cutoff(cutoff, rate) == pytest.approx(adjusted, abs=1e-3)


def test_pass_correction_factor() -> None:
    """tan(pi fc/fs) over tan(pi fc'/fs) is the published factor of two passes of a filter of order 2."""
    rate, cutoff = 100.0, 7.0
    adjusted = compute_dual_pass_cutoff(cutoff, rate)
    assert np.tan(np.pi * cutoff / rate) / np.tan(np.pi * adjusted / rate) == pytest.approx(0.8022, abs=1e-4)


# Two-pass gain of a Butterworth filter of order 2 at 6 Hz, 1/(1 + (tan(pi f/fs)/wc)^4); worked out from the formula.
@pytest.mark.parametrize(
    ("frequency", "gain"), [(0.5, 0.99998), (1, 0.99972), (2, 0.99549), (3, 0.97715), (6, 0.70711), (12, 0.08806)]
)
def test_gain_after_both_passes(frequency: float, gain: float) -> None:
    rate = 60.0
    t = np.arange(0, 40, 1 / rate)
    wave = np.sin(2 * np.pi * frequency * t)
    middle = slice(600, -600)
    out = low_pass(wave, rate, 6.0)[middle]
    assert out.std() / wave[middle].std() == pytest.approx(gain, abs=2e-4)


def test_low_pass_has_no_lag_and_keeps_lines() -> None:
    t = np.arange(0, 10, 1 / 30)
    wave = np.sin(2 * np.pi * 0.7 * t)
    out = low_pass(wave, 30.0, 6.0)
    lags = np.correlate(out[30:-30], wave[30:-30], mode="full")
    assert lags.argmax() == len(wave[30:-30]) - 1
    np.testing.assert_allclose(low_pass(3 * t + 2, 30.0, 6.0), 3 * t + 2, atol=1e-6)
    np.testing.assert_allclose(low_pass(np.full(50, 4.2), 30.0, 6.0), 4.2)


def test_low_pass_keeps_gaps_and_treats_each_stretch_alone() -> None:
    values = np.sin(np.arange(100) / 5.0)
    values[40:60] = np.nan
    out = low_pass(values, 30.0, 6.0)
    assert np.isnan(out[40:60]).all()
    np.testing.assert_allclose(out[:40], low_pass(values[:40], 30.0, 6.0))
    assert find_finite_stretches(values) == [(0, 40), (60, 100)]


def test_low_pass_above_the_rate_changes_nothing() -> None:
    values = np.random.default_rng(0).normal(size=50)
    np.testing.assert_array_equal(low_pass(values, 10.0, 6.0), values)


def test_low_pass_removes_noise_near_the_expected_amount() -> None:
    """A 6 Hz dual-pass filter at 60 Hz lets white noise through by the root of its mean squared gain."""
    noise = np.random.default_rng(0).normal(size=60_000)
    frequency = np.linspace(0, 30, 20_001)[:-1]
    ratio = np.tan(np.pi * frequency / 60) / np.tan(np.pi * compute_dual_pass_cutoff(6, 60) / 60)
    expected = np.sqrt(np.mean((1 / (1 + ratio**4)) ** 2))
    assert low_pass(noise, 60.0, 6.0).std() == pytest.approx(expected, rel=0.03)


def test_central_difference_exact_on_a_parabola() -> None:
    """x = t^2 at 0..4: v = 2, 4, 6 inside (Winter; from memory)."""
    np.testing.assert_allclose(differentiate(np.arange(5.0) ** 2, 1.0)[1:-1], [2.0, 4.0, 6.0])


def test_central_difference_gain_on_a_sine() -> None:
    """Factor sin(w dt)/(w dt): 45 degrees at 0.5 Hz and 30 a second has peak 141.113 instead of 141.372 degrees/s."""
    t = np.arange(0, 20, 1 / 30)
    speed = differentiate(45 * np.sin(np.pi * t), 1 / 30)
    assert speed[1:-1].max() == pytest.approx(141.113, abs=1e-3)


def test_resample_fills_short_gaps_only() -> None:
    t = np.arange(0, 2, 0.1)
    values = 3 * t
    values[5] = np.nan
    values[10:15] = np.nan
    out = resample(t, values, t, max_gap_s=0.25)
    assert out[5] == pytest.approx(1.5)
    assert np.isnan(out[10:15]).all()
    assert np.isfinite(out[[9, 15]]).all()


def test_resample_uses_true_times_of_a_variable_rate() -> None:
    """Index over rate would be wrong here: half the frames are 20 ms apart, half 60 ms."""
    t = np.cumsum(np.tile([0.02, 0.06], 50))
    grid = make_uniform_grid(t, rate=25.0)
    np.testing.assert_allclose(resample(t, 7 * t, grid, max_gap_s=0.25), 7 * grid, atol=1e-9)
    assert np.ptp(np.diff(grid)) < 1e-9


def test_resample_outside_the_known_is_missing() -> None:
    t = np.arange(5.0)
    out = resample(t, np.array([np.nan, 1.0, 2.0, 3.0, np.nan]), t, max_gap_s=5.0)
    assert np.isnan(out[[0, 4]]).all()
    assert np.isnan(resample(t, np.full(5, np.nan), t, max_gap_s=5.0)).all()


@given(rate=st.floats(10, 240), length=st.floats(0.5, 30))
def test_uniform_grid_spans_the_clip(rate: float, length: float) -> None:
    grid = make_uniform_grid(np.array([0.0, length]), rate=rate)
    assert grid[0] == 0
    assert grid[-1] == pytest.approx(length)
    assert (len(grid) - 1) / length == pytest.approx(rate, rel=0.2)
