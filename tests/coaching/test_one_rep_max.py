"""One-repetition maximum against the formulas' published tables."""

import pytest

from formcheck.coaching.one_rep_max import brzycki, epley, estimate_one_rep_max
from formcheck.core.errors import UsageError


# Epley 1985 and Brzycki 1993 (JOPERD 64:88) for 100 kg, as common tables print them; primaries from memory.
@pytest.mark.parametrize(
    ("reps", "by_epley", "by_brzycki"),
    [(2, 106.67, 102.86), (5, 116.67, 112.50), (8, 126.67, 124.14), (10, 133.33, 133.33), (12, 140.00, 144.00)],
)
def test_tables(reps, by_epley, by_brzycki):
    assert epley(100, reps) == pytest.approx(by_epley, abs=0.005)
    assert brzycki(100, reps) == pytest.approx(by_brzycki, abs=0.005)
    estimate = estimate_one_rep_max(100, reps, reps_in_reserve=0)
    assert (estimate.epley_kg, estimate.brzycki_kg) == (epley(100, reps), brzycki(100, reps))
    assert estimate.low_kg == pytest.approx(min(by_epley, by_brzycki), abs=0.005)
    assert estimate.high_kg == pytest.approx(max(by_epley, by_brzycki), abs=0.005)
    assert "raises" in estimate.caveat


def test_reserve_counts_as_reps_to_failure():
    assert estimate_one_rep_max(40, 6, reps_in_reserve=2).epley_kg == pytest.approx(epley(40, 8))


def test_one_rep_to_failure_is_the_maximum_itself():
    estimate = estimate_one_rep_max(60, 1, reps_in_reserve=0)
    assert (estimate.low_kg, estimate.high_kg) == (60, 60)


@pytest.mark.parametrize(
    ("reps", "reserve", "why"), [(8, None, "not known"), (6, 5, "before failure"), (13, 0, "12"), (11, 2, "12")]
)
def test_no_estimate_where_the_formulas_do_not_hold(reps, reserve, why):
    estimate = estimate_one_rep_max(20, reps, reps_in_reserve=reserve)
    assert estimate.low_kg is estimate.high_kg is estimate.epley_kg is estimate.brzycki_kg is None
    assert why in estimate.sentence


def test_warns_above_ten_reps():
    assert "unreliable" in estimate_one_rep_max(20, 12, reps_in_reserve=0).sentence
    assert "unreliable" not in estimate_one_rep_max(20, 10, reps_in_reserve=0).sentence


@pytest.mark.parametrize(
    ("load", "reps", "reserve"), [(0, 5, 0), (-3, 5, 0), (float("nan"), 5, 0), (20, 0, 0), (20, 5, -1)]
)
def test_nonsense_is_refused(load, reps, reserve):
    with pytest.raises(UsageError):
        estimate_one_rep_max(load, reps, reps_in_reserve=reserve)
