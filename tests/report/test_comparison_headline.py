"""The line over a comparison: its words counted for every measure, what it claims and what it does not."""

from dataclasses import replace

import pytest

from formcheck.core.model import CameraView
from formcheck.core.vocabulary import MEASURES
from formcheck.report.comparison_headline import (
    MOST_WORDS,
    choose_difference,
    describe_other_camera,
    get_short_name,
    name_pair,
    write_headline,
)
from formcheck.report.words import WORDS
from formcheck.statistics.results import Comparison, Difference
from tests.facts import says

ITEM = Difference(
    "arm_elevation_peak", None, "deg", 6, 93.0, 84.2, -8.8, 3.1, None, None, None, 3.0, 0.01, 0.02, "changed", ""
)
PAIRS = (
    name_pair("same-day", before=1, after=2),
    name_pair("other-day", day="1 Oct 2026"),
    name_pair("other-set"),
    name_pair("ends"),
    name_pair("reps", before=2, after=11),
)


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("call", ["changed", "no_detectable_change", "too_few_reps"])
def test_no_headline_is_longer_than_twelve_words(pair: str, call: str) -> None:
    for name, measure in MEASURES.items():
        item = replace(ITEM, measure=name, unit=measure.unit, call=call)  # type: ignore[arg-type]  # a call
        assert 5 <= len(write_headline(pair, item).split()) <= MOST_WORDS, write_headline(pair, item)
    assert len(write_headline(pair, None).split()) <= MOST_WORDS


def test_short_names_are_of_measures_there_are_and_have_three_words() -> None:
    assert set(WORDS["short_measures"]) <= set(MEASURES)
    assert all(len(get_short_name(name).split()) <= 3 or MEASURES[name].unit == "deg" for name in MEASURES)


def test_a_sure_change_is_told_with_its_way_and_amount_and_an_unsure_one_without() -> None:
    assert write_headline(PAIRS[0], ITEM) == "Set 2 against set 1: highest arm elevation 9° less, sure"
    more = replace(ITEM, change=4.0)
    assert says(write_headline(PAIRS[3], more), "late", "early", "4°", "more")
    unsure = write_headline(PAIRS[0], replace(ITEM, call="no_detectable_change"))
    assert "9" not in unsure
    assert "no sure change" in unsure


def test_what_is_sure_comes_first_and_then_what_can_be_drawn() -> None:
    torso = replace(ITEM, measure="torso_inclination_range", aspect="torso")
    still = replace(ITEM, call="no_detectable_change")

    def choose(*items: Difference) -> Difference | None:
        return choose_difference(Comparison(items, True, True, (), ""), ["arm_elevation_peak"])

    assert choose(torso, ITEM) == ITEM
    assert choose(still, torso) == torso
    assert choose(replace(torso, call="no_detectable_change"), still) == still
    assert choose() is None


def test_other_camera_sides_are_one_sentence() -> None:
    front, side = CameraView("front", 0.0, 5.0, "given"), CameraView("left", 90.0, 5.0, "given")
    text = describe_other_camera(PAIRS[0], front, side)
    assert says(text, "set 2", "set 1", "front", "left", "cannot be compared")
    assert text.count(".") == 1
