"""Numbers are written with no digit their margin does not bear.

Rule: a stated uncertainty has one or two significant figures, and the value ends at the same place
(JCGM 100:2008, Guide to the Expression of Uncertainty in Measurement, 7.2.6).
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formcheck.training.wording import amount
from formcheck.vocabulary.numbers import with_margin

UNITS = ("deg", "deg/s", "s", "ratio", "none")


def figures(text: str) -> str:
    """The digits without sign, point and leading zeros."""
    return re.sub(r"\D", "", text).lstrip("0")


@given(value=st.floats(-400, 400), margin=st.floats(0.001, 300), unit=st.sampled_from(UNITS))
def test_no_digit_beyond_the_second_of_the_margin(value: float, margin: float, unit: str) -> None:
    for text in (with_margin(value, margin, unit), amount(value, unit, margin)):
        shown, spare = re.findall(r"[0-9.]+", text)
        assert len(shown.partition(".")[2]) == len(spare.partition(".")[2])
        # 99.6 is written 100: the third figure is the zero of the tens.
        assert len(figures(spare).rstrip("0")) <= 2
        assert "." not in spare or len(figures(spare)) <= 2 or figures(spare) == "100"


@pytest.mark.parametrize(
    ("value", "margin", "unit", "text"),
    [
        (87.4, 4.6, "deg", "87° ± 5°"),
        (1.26, 0.15, "s", "1.3 s ± 0.1 s"),
        (1.357, 1.04, "ratio", "1.4 ± 1.0"),
        (243.0, 118.0, "deg/s", "240 °/s ± 120 °/s"),
        (0.874, 0.001, "ratio", "0.87 ± 0.01"),
    ],
)
def test_rounded_to_what_the_margin_allows(value: float, margin: float, unit: str, text: str) -> None:
    assert with_margin(value, margin, unit).replace("\u00a0", " ") == text


def test_a_minus_is_never_put_before_a_zero() -> None:
    assert with_margin(-0.3, 2.0, "deg").startswith("0°")
