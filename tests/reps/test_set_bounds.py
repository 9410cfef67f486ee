"""Whether clip and set begin and end together. Expected values are the invented times below."""

import numpy as np
import pytest

from formcheck.core.model import Message, Rep, Tempo
from formcheck.reps.set_bounds import LONG_REST_S, note_set_bounds

T = np.arange(0.0, 60.0, 0.1)


def rep(number: int, start_s: float, *, complete: bool = True, by_hand: bool = False) -> Rep:
    return Rep(number, start_s, start_s + 1.0, start_s + 2.0, complete, Tempo(1.0, 0.0, 1.0, 0.0), by_hand=by_hand)


def test_a_whole_set_with_pauses_is_not_remarked_on() -> None:
    assert note_set_bounds([rep(1, 1.0), rep(2, 4.0, complete=False), rep(3, 7.0 + LONG_REST_S - 1.1)], T) == ()
    assert note_set_bounds([], T) == ()


def test_a_rep_that_the_clip_cuts_is_told() -> None:
    begun, ended = rep(1, 0.0, complete=False), rep(3, float(T[-1]) - 2.0, complete=False)
    assert note_set_bounds([begun, rep(2, 3.0)], T) == (Message("begins-in-rep", {"rep": 1}),)
    assert note_set_bounds([rep(2, 50.0), ended], T) == (Message("ends-in-rep", {"rep": 3}),)


@pytest.mark.parametrize("start_s", [0.0, 1.0])
def test_a_short_rep_away_from_the_clip_s_end_and_one_set_by_hand_are_not(start_s: float) -> None:
    first = rep(1, start_s, complete=False, by_hand=start_s == 0.0)
    assert note_set_bounds([first, rep(2, 4.0)], T) == ()


def test_the_first_rest_as_long_as_between_sets_is_told() -> None:
    reps = [rep(1, 1.0), rep(2, 4.0), rep(3, 26.0), rep(4, 50.0)]
    assert note_set_bounds(reps, T) == (Message("long-rest", {"before": 2, "after": 3, "rest_s": 20}),)
