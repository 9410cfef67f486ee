"""The odds of a fault before a set is seen, fitted to what was said and what is true."""

import pytest


def test_the_odds_given_to_invented_truths_are_found_again() -> None:
    """Of 1000 values each said to be beyond with 0.5, 200 are: 200 to 800, so odds of a quarter."""
    from fit_prior import fit_odds, round_odds

    pairs = [(0.5, number < 200) for number in range(1000)]
    assert fit_odds(pairs) == pytest.approx(0.25, abs=1e-6)
    # Said 0.8, or 4 to 1, and true in 1 of 2: a quarter again. What is certain says nothing of the odds.
    assert fit_odds([(0.8, number < 50) for number in range(100)] + [(1.0, True), (0.0, False)]) == pytest.approx(0.25)
    assert [round_odds(odds) for odds in (0.255, 0.28, 0.224, 0.001)] == [0.25, 0.3, 0.2, 0.05]


def test_what_was_said_is_taken_without_the_prior_and_changes_are_left_out() -> None:
    from fit_prior import pairs_of
    from formcheck.verdicts import get_prior_odds, weigh_prior
    from grades import Said

    said = weigh_prior(0.7, get_prior_odds())
    level, change = (Said(kind, "m", "close", said, True) for kind in ("level", "change"))  # type: ignore[arg-type]
    assert pairs_of([level, change]) == [(pytest.approx(0.7), True)]
