"""What the tests of words look for is really looked for."""

import pytest

from tests.facts import says

TEXT = "Set 2 of the plan: 9 reps, 7.5\u00a0kg, tempo 2-0-1-0. Lateral raise, 94 % sure.\nNobody was filmed"


@pytest.mark.parametrize(
    "facts", [("2", "9", "7.5 kg", "2-0-1-0"), ("lateral raise", "94 %"), ("nobody",), ("Set", "plan")]
)
def test_facts_of_one_sentence_are_found(facts: tuple[str, ...]) -> None:
    assert says(TEXT, *facts)


@pytest.mark.parametrize(
    "facts",
    [
        ("9", "2", "7.5 kg"),  # another order
        ("2", "94 %"),  # of two sentences
        ("94 %", "nobody"),  # of two lines
        ("7",),  # part of a number
        ("5 kg",),
        ("rep",),  # part of a word
        ("1-0-2-0",),
    ],
)
def test_what_is_not_said_is_not_found(facts: tuple[str, ...]) -> None:
    assert not says(TEXT, *facts)


def test_no_fact_is_no_question() -> None:
    with pytest.raises(ValueError, match="no fact"):
        says(TEXT)
