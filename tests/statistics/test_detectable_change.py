"""Minimal detectable change against published worked values."""

import tomllib
from pathlib import Path

import pytest

import formcheck.statistics
from formcheck.core.vocabulary import MEASURES
from formcheck.statistics.detectable_change import (
    Z95,
    compute_detectable_change,
    compute_mean_error,
    compute_rep_error,
    get_random_share,
)

TABLE = Path(formcheck.statistics.__file__).parent / "repeatability.toml"


# Weir 2005, J Strength Cond Res 19:231: SEM = SD·√(1 − ICC), MDC = z·√2·SEM (from memory; values worked by hand).
@pytest.mark.parametrize(
    ("sd", "icc", "sem", "mdc95", "mdc90"), [(8, 0.95, 1.789, 4.958, 4.162), (10, 0.90, 3.162, 8.765, 7.357)]
)
def test_worked_values(sd, icc, sem, mdc95, mdc90):
    assert sd * (1 - icc) ** 0.5 == pytest.approx(sem, abs=5e-4)
    assert compute_detectable_change(sem) == pytest.approx(mdc95, abs=2e-3)
    assert compute_detectable_change(sem, 0.90) == pytest.approx(mdc90, abs=2e-3)


def test_three_degrees():
    assert compute_detectable_change(3.0) == pytest.approx(1.96 * 2**0.5 * 3.0, rel=1e-4)


def test_table_names_known_measures_and_shares():
    rows = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    assert rows
    for measure, row in rows.items():
        assert measure in MEASURES
        assert set(row) <= {"frontal", "sagittal", "oblique"}
        assert all(0 < share <= 1 for share in row.values())


def test_what_is_not_tabled_is_taken_for_the_worst():
    rows = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    assert get_random_share("no_such_measure", "frontal") == max(max(row.values()) for row in rows.values())
    assert get_random_share("range_of_motion", "sagittal") == max(rows["range_of_motion"].values())
    assert get_random_share("range_of_motion", "frontal") == rows["range_of_motion"]["frontal"]


def test_both_parts_of_the_margin_add_up_to_it():
    scatter = compute_rep_error("range_of_motion", "frontal", 9.0)
    assert 0 < scatter < 9.0 / Z95
    # One rep, camera set up anew: the whole margin. One camera: what scatters. Many reps: it averages out.
    assert compute_mean_error(scatter, 9.0, 1, same_camera=False) == pytest.approx(9.0 / Z95)
    assert compute_mean_error(scatter, 9.0, 1, same_camera=True) == pytest.approx(scatter)
    assert compute_mean_error(scatter, 9.0, 9, same_camera=True) == pytest.approx(scatter / 3)
