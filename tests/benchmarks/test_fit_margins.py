"""How the margins table is made. Expected values are closed forms of the quantile, the sum of squares and the file."""

import tomllib
from typing import TYPE_CHECKING

import numpy as np
import pytest

from formcheck.core.model import CameraView, Quality
from formcheck.measures.margins import widen_margin

if TYPE_CHECKING:
    from fit_margins import Residual

FRONT = CameraView("front", 0.0, 8.0, "given")
GOOD = Quality(1.0, 30.0, 800.0, {}, {})


def residual(clip: str, error: float, *, measure: str = "arm_peak_difference", value: float = 0.0) -> "Residual":
    from fit_margins import Residual

    return Residual(clip, True, measure, "frontal", value, error, FRONT, GOOD)


def test_quantile_is_the_smallest_value_with_enough_weight_below() -> None:
    from fit_margins import quantile

    assert quantile([3.0, 1.0, 2.0], [1.0, 1.0, 1.0], 0.5) == 2.0
    assert quantile([3.0, 1.0, 2.0], [0.1, 10.0, 0.1], 0.5) == 1.0
    assert quantile([3.0, 1.0, 2.0], [1.0, 1.0, 1.0], 1.0) == 3.0


def test_width_holds_95_percent_and_is_widened_for_few_sets_and_real_bodies() -> None:
    """100 sets off by 0.1 to 10: 95 of them by 9.5 or less; then 1 + 1/100 and the factor for real bodies."""
    from fit_margins import REAL_BODIES, fitted

    rows = [residual(str(n), n / 10) for n in range(1, 101)]
    width, _ = fitted(rows, {}, 0.0)
    assert REAL_BODIES == 1.1
    assert width == 11.0  # 9.5 * 1.01 * 1.1 = 10.55 rounded up to two digits
    few, _ = fitted([residual("a", 4.0), residual("b", 4.0)], {}, 0.0)
    assert few == pytest.approx(4.0 * 1.5 * REAL_BODIES, rel=1e-6)
    assert fitted(rows, {}, 20.0)[0] == 20.0


def test_what_the_margin_adds_by_itself_is_not_fitted_again() -> None:
    """Two ends rounded to a frame at 30 a second: 1.96/30/root 6 = 0.0267 s are there already (closed form)."""
    from fit_margins import fitted

    rows = [residual(str(n), 0.0267, measure="top_pause", value=1.0) for n in range(20)]
    width, _ = fitted(rows, {}, 0.0)
    assert width < 0.003
    row = {"frontal": 3.0, "per_yaw_deg": 0.4}
    turned = CameraView("front", 10.0, 8.0, "given")
    assert widen_margin("arm_peak_difference", row, "frontal", 0.0, turned, GOOD) == pytest.approx(np.hypot(3.0, 4.0))


def test_written_table_keeps_the_rows_set_by_hand_and_is_the_same_when_written_again() -> None:
    from fit_margins import rewritten

    text = (
        '# head\n\n[arm_raise_low]\nfrontal = 5.0\nsagittal = 12.0\nsagittal_origin = "analogy"\n'
        "[peak_speed]\nfrontal = 9.0\nshare = 0.1\n"
    )
    fits = {("arm_raise_low", "frontal"): (6.3, 0.0, 57), ("peak_speed", "frontal"): (10.0, 0.18, 1)}
    once = rewritten(text, fits)
    table = tomllib.loads(once)
    assert table["arm_raise_low"] == {"frontal": 6.3, "sagittal": 12.0, "sagittal_origin": "analogy"}
    assert table["peak_speed"] == {"frontal": 10.0, "share": 0.1, "frontal_share": 0.18}
    measured = rewritten(once, {("arm_raise_low", "sagittal"): (9.0, 0.0, 5)})
    assert tomllib.loads(measured)["arm_raise_low"] == {"frontal": 6.3, "sagittal": 9.0}  # no analogy any more
    assert "frontal = 6.3  # fitted, 57 sets" in once
    assert rewritten(once, fits) == once


def test_what_newer_exercises_ask_widens_their_row_and_not_that_of_the_benchmarks_own() -> None:
    from fit_margins import floors_of, rewritten

    shelf = {("top_pause", "sagittal"): 0.9}
    assert floors_of("top_pause", "sagittal", {}, shelf) == (0.0, 0.9)
    assert floors_of("concentric_smoothness", "behind", {}, {}) == (0.35, 0.35)
    text = "[top_pause]\nsagittal = 0.9\n"
    both = rewritten(text, {("top_pause", "sagittal"): (0.9, 0.0, 3), ("top_pause", "sagittal_known"): (0.2, 0.0, 3)})
    assert tomllib.loads(both)["top_pause"] == {"sagittal": 0.9, "sagittal_known": 0.2}
    again = rewritten(both, {("top_pause", "sagittal"): (1.0, 0.0, 3)})
    assert tomllib.loads(again)["top_pause"] == {"sagittal": 1.0}


def test_errors_of_the_newer_exercises_are_read_from_the_page() -> None:
    from fit_margins import shelf_floors

    page = "top_pause                 sagittal in plane      24   62    0.02    0.05    0.13     0.24    100%\n"
    assert shelf_floors(page) == {("top_pause", "sagittal in plane"): pytest.approx(0.13 * 25 / 24)}
