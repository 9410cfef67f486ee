"""Movements that a test left out are taken in again where they are as regular as the set."""

from formcheck.reps.rhythm import readmit_regular
from formcheck.reps.strokes import Excursion


def make_movement(start: float, lasts: float = 2.0, reach: float = 90.0) -> Excursion:
    """A movement that turns half-way, by times in seconds at 30 samples a second."""
    middle = start + lasts / 2
    return Excursion(start, middle - 0.1, round(30 * middle), middle + 0.1, start + lasts, 0.0, reach, True)


SET = [make_movement(3.0 * number) for number in range(6)]


def test_a_regular_movement_inside_of_the_set_is_taken_in_again() -> None:
    """The order of time is kept."""
    assert readmit_regular(SET, [SET[0], SET[1], SET[3], SET[5]]) == SET


def test_what_comes_before_and_after_stays_out() -> None:
    """There weights are picked up and put down."""
    assert readmit_regular(SET, SET[1:5]) == SET[1:5]


def test_another_size_or_length_stays_out() -> None:
    """Half the range, or half the time, is another movement."""
    for other in (make_movement(6.0, reach=45.0), make_movement(6.0, lasts=1.0)):
        passed = [*SET[:2], *SET[3:]]
        assert readmit_regular([*SET[:2], other, *SET[3:]], passed) == passed


def test_few_say_nothing_of_many() -> None:
    """Two movements are no set, and three are none of which more than three others are left out."""
    assert readmit_regular(SET, [SET[0], SET[5]]) == [SET[0], SET[5]]
    longer = [make_movement(3.0 * number) for number in range(8)]
    passed = [longer[0], longer[3], longer[7]]
    assert readmit_regular(longer, passed) == passed
