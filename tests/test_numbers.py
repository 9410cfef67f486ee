"""Numbers are written with no digit their margin does not bear.

Rule: a stated uncertainty has one or two significant figures, and the value ends at the same place
(JCGM 100:2008, Guide to the Expression of Uncertainty in Measurement, 7.2.6).
"""

import math
import re
from statistics import NormalDist

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from formcheck.core.vocabulary.numbers import format_with_margin, round_up
from formcheck.exercises.registry import get_exercise
from formcheck.exercises.schema import Check
from formcheck.report import wording
from formcheck.statistics.change_text import format_amount
from formcheck.verdicts import format_evidence, get_prior_odds, grade_value, weigh_prior

HEIGHT = next(check for check in get_exercise("lateral-raise").checks if check.id == "height")
UNITS = ("deg", "deg/s", "s", "ratio", "none")


def figures(text: str) -> str:
    """The digits without sign, point and leading zeros."""
    return re.sub(r"\D", "", text).lstrip("0")


@given(value=st.floats(-400, 400), margin=st.floats(0.001, 300), unit=st.sampled_from(UNITS))
def test_no_digit_beyond_the_second_of_the_margin(value: float, margin: float, unit: str) -> None:
    for text in (format_with_margin(value, margin, unit), format_amount(value, unit, margin)):
        shown, spare = re.findall(r"[0-9.]+", text)
        assert len(shown.partition(".")[2]) == len(spare.partition(".")[2])
        # 99.6 is written 100: the third figure is the zero of the tens.
        assert len(figures(spare).rstrip("0")) <= 2
        assert "." not in spare or len(figures(spare)) <= 2 or figures(spare) == "100"


@pytest.mark.parametrize(
    ("value", "margin", "unit", "text"),
    [
        (87.4, 4.6, "deg", "87° ± 5°"),
        (87.4, 4.1, "deg", "87° ± 5°"),
        (87.4, 4.0, "deg", "87° ± 4°"),
        (1.26, 0.15, "s", "1.3 s ± 0.2 s"),
        (1.357, 1.04, "ratio", "1.4 ± 1.1"),
        (243.0, 118.0, "deg/s", "240 °/s ± 120 °/s"),
        (0.874, 0.001, "ratio", "0.87 ± 0.01"),
    ],
)
def test_rounded_to_what_the_margin_allows(value: float, margin: float, unit: str, text: str) -> None:
    assert format_with_margin(value, margin, unit).replace("\u00a0", " ") == text


def shown(text: str) -> list[float]:
    """The numbers of a text."""
    return [float(item.replace("−", "-")) for item in re.findall(r"[−0-9.]+", text)]


@given(value=st.floats(-400, 400), margin=st.floats(0.001, 300), unit=st.sampled_from(UNITS))
def test_a_margin_is_never_shown_smaller_than_it_is(value: float, margin: float, unit: str) -> None:
    """Uncertainties are rounded up rather than down (JCGM 100:2008, 7.2.6)."""
    for text in (format_with_margin(value, margin, unit), format_amount(value, unit, margin)):
        (_, spare) = shown(text)
        assert spare >= margin * (1 - 1e-6) - 1e-6
        last = 10.0 ** -len(text.partition("± ")[2].partition(".")[2].rstrip("°/s "))
        assert spare <= margin + (last if last < 1 else max(1.0, 10.0 ** (math.floor(math.log10(margin)) - 1)))
    percent = format_with_margin(value, margin, "ratio", "range_share")
    assert shown(percent)[1] >= 100 * margin * (1 - 1e-6) - 1e-6


@given(margin=st.floats(0.001, 300), decimals=st.integers(-2, 4))
def test_rounding_up_twice_changes_nothing(margin: float, decimals: int) -> None:
    once = round_up(margin, decimals)
    assert round_up(once, decimals) == once
    assert margin * (1 - 1e-6) - 1e-6 <= once < margin + 10.0**-decimals * 1.001


LIMITS = st.builds(
    lambda limit, tolerance, least: HEIGHT.model_copy(
        update={"at_least": limit if least else None, "at_most": None if least else limit, "tolerance": tolerance}
    ),
    st.integers(-200, 1800).map(lambda tenths: tenths / 10),
    st.sampled_from([0.0, 2.0, 8.0]),
    st.booleans(),
)


NOT_MET_FROM = NormalDist().inv_cdf(weigh_prior(0.975, 1 / get_prior_odds())) / NormalDist().inv_cdf(0.975)
"""So many margins beyond the limit a value is surely not met."""


@given(check=LIMITS, value=st.floats(-200, 200), margin=st.floats(0.1, 40))
def test_the_printed_numbers_say_what_was_judged(check: Check, value: float, margin: float) -> None:
    """Near a limit a reader would else see "89° ± 8°, 82° or more" called met: as many digits are shown as it takes
    (JCGM 106:2012, 8: what is stated must bear the decision). Left out: numbers within a thousandth of the edge."""
    edges = (
        check.limit + sign * (size + beyond)
        for sign in (-1, 1)
        for size in (margin, NOT_MET_FROM * margin)
        for beyond in (0, check.tolerance)
    )
    assume(min(abs(value - edge) for edge in edges) > 2e-3)
    text = format_evidence(check, value, margin)
    for sure in ("met", "not_met"):
        assert (grade_value(check, *shown(text)) == sure) == (grade_value(check, value, margin) == sure)
    assert shown(wording.format_check_limit(check.model_copy(update={"tolerance": 0.0}))) == [check.limit]


def test_a_minus_is_never_put_before_a_zero() -> None:
    assert format_with_margin(-0.3, 2.0, "deg").startswith("0°")
