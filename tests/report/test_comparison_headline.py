"""A comparison in at most twelve words, for every measure there is."""

import pytest

from formcheck.core.vocabulary import MEASURES
from formcheck.report.comparison_headline import make_headline
from formcheck.statistics.results import Call, Comparison, Difference


def difference(measure: str, call: Call, before: float = 80.0, after: float = 92.0) -> Difference:
    return Difference(
        measure=measure, aspect="range", unit=MEASURES[measure].unit, reps=4, before=before, after=after,
        change=after - before, margin=2.0, effect=None, effect_low=None, effect_high=None, detectable=3.0,
        p=0.01, p_family=0.02, call=call, sentence="",
    )  # fmt: skip


def comparison(*differences: Difference) -> Comparison:
    return Comparison(differences, same_camera=True, fatigue_can_be_told=True, notes=(), sentence="")


@pytest.mark.parametrize("measure", sorted(MEASURES))
def test_every_measure_fits(measure: str) -> None:
    text = make_headline(comparison(difference(measure, "changed")), "set 3 of 21 November 2026")
    assert 0 < len(text.split()) <= 12


def test_it_says_what_changed_by_how_much_and_which_way() -> None:
    rose = make_headline(comparison(difference("range_of_motion", "changed")), "the late reps")
    fell = make_headline(comparison(difference("range_of_motion", "changed", 92.0, 80.0)), "the late reps")
    assert "12° more in the late reps" in rose
    assert "12° less in the late reps" in fell


def test_nothing_is_claimed_where_nothing_changed() -> None:
    same = comparison(difference("range_of_motion", "no_detectable_change"))
    few = comparison(difference("range_of_motion", "too_few_reps"))
    assert make_headline(same, "set 2") == "No change that can be told."
    assert "Too few reps" in make_headline(few, "set 2")
    assert make_headline(few, "the late reps", "Outside the target from rep 4.") == "Outside the target from rep 4."
    assert "12° more" in make_headline(comparison(difference("range_of_motion", "changed")), "set 2", "Outside.")
