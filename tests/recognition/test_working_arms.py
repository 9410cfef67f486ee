"""Which arms work: invented curves of arms whose every stroke is known, and rendered sets with their truth."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from formcheck.core.model import SIDES, Array, Rep, Settings, Side, Sides
from formcheck.core.rep_sides import count_by_side, tell_sides
from formcheck.exercises.registry import get_exercise
from formcheck.recognition.working_arms import (
    WorkingArms,
    admit_turns,
    find_working_arms,
    note_sides,
    take_known_arms,
)
from formcheck.reps.find import find_excursions, find_reps
from formcheck.reps.strokes import Excursion

T = np.linspace(0, 40, 1201)


def raise_arm(starts: Sequence[float], top: float = 90.0) -> Array:
    """A curve (m,) that rests at 5°, and goes to `top` and back within 2.4 s from each start on."""
    curve = np.full(len(T), 5.0)
    for start in starts:
        share = np.clip((T - start) / 2.4, 0, 1)
        curve += (top - 5.0) * np.sin(np.pi * share) ** 2
    return curve


def look(left: Array, right: Array, expected: Sides = "both", astray: Array | None = None) -> WorkingArms | None:
    """What is told of two arms whose hands go a thirtieth of an upper arm for each degree.

    ``astray`` (m,) is how far both hands are seen too far ahead, upper-arm lengths.
    """
    curves: Mapping[Side, Array] = {"left": left, "right": right}
    hands: Mapping[Side, Array] = {side: np.outer(curve / 30, [0.3, 0.95, 0.0]) for side, curve in curves.items()}
    if astray is not None:
        hands = {side: hand + np.outer(astray, [0.0, 0.0, 1.0]) for side, hand in hands.items()}
    rule = get_exercise("lateral-raise").driver
    found = {side: find_reps(T, curve, rule, Settings()) for side, curve in curves.items()}
    return find_working_arms(found, T, curves, hands, expected)


def list_sides(arms: WorkingArms | None) -> list[Side]:
    assert arms is not None
    return [one.side for one in arms.strokes]


def test_arms_in_turn_are_told_stroke_by_stroke() -> None:
    assert list_sides(look(raise_arm([1, 7, 13]), raise_arm([4, 10]))) == ["left", "right", "left", "right", "left"]


def test_both_arms_at_once_are_no_strokes_of_one_however_low_one_stays() -> None:
    for top in (90.0, 60.0, 35.0):
        assert look(raise_arm([1, 4, 7, 10]), raise_arm([1, 4, 7, 10], top)) is None


def test_an_arm_that_rests_makes_no_strokes() -> None:
    # A resting arm sways with the body, by 8 of the working one's 85 degrees.
    assert list_sides(look(raise_arm([1, 4, 7, 10]), raise_arm([1, 4, 7, 10], 13.0))) == ["left"] * 4


def test_one_arm_done_with_before_the_other_is_one_at_a_time() -> None:
    arms = look(raise_arm([1, 4, 7]), raise_arm([11, 14, 17]))
    assert list_sides(arms) == ["left"] * 3 + ["right"] * 3


def test_two_movements_of_one_arm_are_none_unless_the_exercise_expects_one() -> None:
    one, rests = raise_arm([1, 5]), raise_arm([])
    assert look(one, rests) is None
    assert list_sides(look(one, rests, "one")) == ["left", "left"]


def test_a_hidden_arm_that_copies_the_nearer_one_is_told_by_its_own_strokes() -> None:
    # From the left the right arm is seen only while the left one is down, and copied from it else.
    seen = raise_arm([1, 7, 13]), raise_arm([1, 4, 7, 10, 13, 16])
    assert list_sides(look(*seen)) == ["left", "right"] * 3


def test_a_hand_that_stays_as_high_rests_however_its_depth_is_guessed() -> None:
    # Seen from an angle both hands seem to come nearer by one and a half upper arms whenever one is up.
    left, right = raise_arm([1, 7, 13]), raise_arm([4, 10, 16])
    astray = np.asarray((left + right - 10) / 85 * 1.5)
    assert list_sides(look(left, right, astray=astray)) == ["left", "right"] * 3
    # Where both arms work it tells nothing more.
    assert look(left, left, astray=np.asarray((left - 5) / 85 * 1.5)) is None


def test_strokes_that_follow_one_another_are_in_turn_though_a_resting_arm_seems_to_move() -> None:
    # Seen from behind, the right arm copies 28 % of what the left one does, and once the left one 30 % of the right.
    left, right = raise_arm([1, 7, 13]) + raise_arm([4], 25.0) - 5, raise_arm([4, 10], 70.0)
    arms = look(left, np.asarray(right + 0.28 * (raise_arm([1, 7, 13]) - 5)))
    assert list_sides(arms) == ["left", "right", "left", "right", "left"]


def find_movements(starts: Sequence[float], top: float = 90.0) -> list[Excursion]:
    return find_excursions(T, raise_arm(starts, top), 25.0, Settings())


def list_starts(found: Sequence[Excursion]) -> list[int]:
    return [round(item.out_start) for item in found]


def test_what_an_arm_does_in_each_pause_of_the_other_is_its_turn() -> None:
    other = find_reps(T, raise_arm([1, 7, 13]), get_exercise("lateral-raise").driver, Settings())
    assert list_starts(admit_turns(find_movements([4, 10]), [], other, 25.0)) == [4, 10]
    # The turn after the other arm's last stroke as well, but nothing long after it.
    assert list_starts(admit_turns(find_movements([4, 10, 16, 30]), [], other, 25.0)) == [4, 10, 16]


def test_what_is_no_turn_is_not_admitted() -> None:
    other = find_reps(T, raise_arm([1, 7, 13]), get_exercise("lateral-raise").driver, Settings())
    at_once = find_movements([1, 7, 13])
    assert admit_turns(at_once, [], other, 25.0) == []
    assert admit_turns(find_movements([4]), [], other, 25.0) == []  # in one pause of two
    assert admit_turns(find_movements([4, 10], 40.0), [], other, 60.0) == []
    assert admit_turns(find_movements([4, 10]), [], other[:2], 25.0) == []
    assert admit_turns(at_once, at_once[:2], other, 25.0) == at_once[:2]


def test_jumps_of_a_hidden_arm_are_no_strokes() -> None:
    jumps = np.full(len(T), 5.0)
    for at in (1.4, 4.6, 7.5, 10.3):
        jumps[(at < T) & (at + 0.5 > T)] = 60.0
    assert list_sides(look(raise_arm([1, 4, 7, 10]), jumps)) == ["left"] * 4


def test_a_joined_curve_is_that_of_the_arm_that_works() -> None:
    left, right = raise_arm([1, 7]), raise_arm([4, 10], 70.0)
    arms = take_known_arms(make_reps("left", "right", "left", "right"))
    assert arms is not None
    joined = arms.join_curves(T, {"left": left, "right": right})
    assert joined == pytest.approx(np.maximum(left, right), abs=1e-6)


def make_reps(*sides: Side | None) -> tuple[Rep, ...]:
    rule = get_exercise("lateral-raise").driver
    found = find_reps(T, raise_arm([1 + 3 * index for index in range(len(sides))]), rule, Settings())
    return tuple(replace(rep, side=side) for rep, side in zip(found, sides, strict=True))


def test_what_the_sides_of_reps_say_of_the_set() -> None:
    assert tell_sides(make_reps(None, None, None)) == "both"
    assert tell_sides(make_reps("left", "left", "left")) == "one"
    assert tell_sides(make_reps("left", "left", "right", "right")) == "one"
    assert tell_sides(make_reps("left", "right", "left")) == "alternating"
    assert count_by_side(make_reps("left", "right", "left")) == {"left": 2, "right": 1}
    assert count_by_side(make_reps("right", "right")) == {"right": 2}
    assert count_by_side(make_reps(None, None)) == {}
    assert take_known_arms(make_reps(None, None)) is None


def test_a_set_done_otherwise_than_expected_is_noted() -> None:
    exercise, reps = get_exercise("biceps-curl"), make_reps("left", "right", "left")
    (note,) = note_sides(exercise, "alternating", reps)
    assert note.parameters == {"done": "alternating", "expected": "both"}
    assert note_sides(exercise, "both", reps) == ()
    assert note_sides(exercise.model_copy(update={"sides": "alternating"}), "alternating", reps) == ()
    assert set(SIDES) == {"left", "right"}
