"""Which arms work in a set: both at once, one while the other rests, or one after the other.

Each arm's curve is searched for repetitions by itself. A stroke during which the other arm stays still, by its curve
and by where its hand is, was done by one arm. On the tuning sets a resting arm's curve moves by at most a fifth, and
its hand by a third, of what the working one does; of two working arms one moves by more, however badly seen.

An arm that points at the camera may not look like the exercise by itself. What it does each time the other arm rests is
taken for its turn (`admit_turns`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from formcheck.core.model import SIDES, Array, Mask, Message, Rep, Side, Sides
from formcheck.core.rep_sides import get_other_side
from formcheck.exercises.schema import Exercise
from formcheck.reps.rhythm import AS_USUAL
from formcheck.reps.strokes import Excursion

STILL_RANGE, STILL_HAND = 0.25, 0.4
"""An arm rests that moves, by its curve and by its hand's place, by less than these shares of the other's way."""
UP, MOSTLY_UP = 1, 0.7
"""Which part of a hand's place is its height, and the share of the hand's way from which on it goes mostly up. Then its
height alone tells whether it rests: the rest is guessed where an arm points at the camera."""
FEWEST = 3
"""Strokes of one arm that make a set of one: fewer may be an arm that is scratched or stretched."""
MOST_ALONE = 0.6
"""From this share of strokes by one arm on, the others are taken for such strokes whose resting arm was seen badly."""
FEWEST_IN_TURN = 4
"""Strokes of a set in turn of whose arms one is never seen to move alone, as from the side."""
AROUND_S = 0.3
"""An arm's rest is read so long before and after a stroke."""
OVERLAP = 0.5
"""Two strokes are one when they share this part of the shorter."""
SHORTEST, SMALLEST = 0.5, 0.2
"""What takes less than this share of a usual stroke's time, or goes less than this share of its way, is no stroke: a
hidden arm's landmarks jump."""
TURN_SHARES = (0.25, 0.75)
"""Shares of the time from one stroke of an arm to its next between which the middle of the other arm's turn lies."""
MOST_TURNS = 0.6
"""So many of the pauses of one arm hold a movement of the other, or those there are were no turns."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A repetition of one arm, seconds."""

    start_s: float
    end_s: float
    side: Side


@dataclass(frozen=True, slots=True)
class WorkingArms:
    """The strokes of a set done with one arm at a time, in order of time."""

    strokes: tuple[Stroke, ...]

    @property
    def found(self) -> bool:
        """Whether the strokes were found, which is after they were seen to look like the exercise."""
        return bool(np.isfinite(self.strokes[0].start_s))

    def find_side(self, at_s: float) -> Side:
        """The arm that works at a moment: that of the nearest stroke."""
        return min(self.strokes, key=lambda one: max(one.start_s - at_s, at_s - one.end_s, 0.0)).side

    def holds(self, item: Excursion) -> bool:
        """Whether a movement is one of the strokes."""
        middle = (item.out_start + item.back_end) / 2
        return any(one.start_s - AROUND_S <= middle <= one.end_s + AROUND_S for one in self.strokes)

    def find_side_of(self, item: Excursion) -> Side:
        """The arm that makes a movement."""
        return self.find_side((item.out_start + item.back_end) / 2)

    def join_curves(self, t: Array, curves: Mapping[Side, Array]) -> Array:
        """(m,) at each time the curve of the arm that works; between two strokes it changes half-way."""
        borders = [(one.end_s + other.start_s) / 2 for one, other in pairwise(self.strokes)]
        at = np.searchsorted(borders, t)
        left = np.array([one.side == "left" for one in self.strokes])[at]
        return np.where(left, curves["left"], curves["right"])


def find_working_arms(
    found: Mapping[Side, Sequence[Rep]],
    t: Array,
    curves: Mapping[Side, Array],
    hands: Mapping[Side, Array],
    expected: Sides = "both",
) -> WorkingArms | None:
    """The strokes of a set done with one arm at a time; None where both work at once, or nothing tells.

    Parameters
    ----------
    found : repetitions of each arm, found in its own curve.
    t : (m,) seconds.
    curves : (m,) each arm's own driver, degrees.
    hands : (m, 3) each hand from its shoulder (`formcheck.recognition.posture.BodyCurves.reach`).
    expected : what the exercise's file says; where that is not both, a single stroke is enough.
    """
    fewest = FEWEST if expected == "both" else 1
    looks = _list_regular([_look(side, rep, t, curves, hands) for side in SIDES for rep in found[side]])
    alone = [look.stroke for look in looks if look.alone]
    doubled: list[Stroke] = []
    for look in looks:
        if not any(_overlap(look.stroke, other) for other in (*alone, *doubled)):
            doubled.append(look.stroke)
    every = sorted((*alone, *doubled), key=lambda one: one.start_s)
    if len(alone) >= fewest and len(alone) >= MOST_ALONE * len(every):
        sides = {one.side for one in alone}
        if len(sides) == 1:
            return WorkingArms(tuple(Stroke(one.start_s, one.end_s, alone[0].side) for one in every))
        return WorkingArms(tuple(one if one in alone else _take_turn(one, alone) for one in every))
    if alone and _alternate([look.stroke for look in looks]):
        return WorkingArms(tuple(every))
    if len(every) >= FEWEST_IN_TURN and len({one.side for one in alone}) == 1:
        seen = [one in alone for one in every]
        if all(one != other for one, other in pairwise(seen)):
            other = get_other_side(alone[0].side)
            return WorkingArms(tuple(one if one in alone else Stroke(one.start_s, one.end_s, other) for one in every))
    return None


def admit_turns(
    found: Sequence[Excursion], passed: Sequence[Excursion], other: Sequence[Rep], smallest: float
) -> list[Excursion]:
    """The movements of one arm that passed a test, and those it makes in turn with the other, in order of time.

    Parameters
    ----------
    found, passed : movements in this arm's curve, all and those that look like the exercise.
    other : repetitions of the other arm, which look like it.
    smallest : range that a repetition has at least, driver units.

    A turn is as large as that, lasts about as long as the other arm's repetitions and has its middle in the pause
    between two of them, or as long after the last or before the first. None is added unless most pauses hold one.
    """
    if len(other) < FEWEST:
        return list(passed)
    middles = np.array([(rep.start_s + rep.end_s) / 2 for rep in other])
    period = float(np.median(np.diff(middles)))
    borders = np.array([middles[0] - period, *middles, middles[-1] + period])
    lasting = float(np.median([rep.end_s - rep.start_s for rep in other]))
    turns: dict[int, Excursion] = {}
    for item in found:
        middle, length = (item.out_start + item.back_end) / 2, item.back_end - item.out_start
        pause = int(np.searchsorted(borders, middle)) - 1
        if not 0 <= pause < len(borders) - 1 or not AS_USUAL[0] <= length / lasting <= AS_USUAL[1]:
            continue
        share = (middle - borders[pause]) / (borders[pause + 1] - borders[pause])
        if TURN_SHARES[0] <= share <= TURN_SHARES[1] and item.range >= smallest:
            turns[pause] = item
    between = sum(0 < pause < len(middles) for pause in turns)
    if between < MOST_TURNS * (len(middles) - 1):
        return list(passed)
    return [item for item in found if item in passed or item in turns.values()]


def make_one_arm(side: Side) -> WorkingArms:
    """One arm alone, at all times."""
    return WorkingArms((Stroke(-np.inf, np.inf, side),))


def take_known_arms(reps: Sequence[Rep]) -> WorkingArms | None:
    """The strokes of repetitions known from elsewhere; None where they are of both arms at once."""
    strokes = tuple(Stroke(rep.start_s, rep.end_s, rep.side) for rep in reps if rep.side is not None)
    return WorkingArms(strokes) if strokes and len(strokes) == len(reps) else None


def note_sides(exercise: Exercise, sides: Sides, reps: Sequence[Rep]) -> tuple[Message, ...]:
    """That a set was done otherwise than the exercise's file expects; nothing without repetitions."""
    if not reps or sides == exercise.sides:
        return ()
    return (Message("other-sides", {"done": sides, "expected": exercise.sides}),)


def note_hidden_arms(hidden: Sequence[Side]) -> tuple[Message, ...]:
    """That the camera does not show what an arm did; nothing where it shows neither, which is said otherwise."""
    return (Message("arm-not-shown", {"side": hidden[0]}),) if len(hidden) == 1 else ()


def _take_turn(one: Stroke, alone: Sequence[Stroke]) -> Stroke:
    """A stroke of which both arms seem to move, as the one that was due: the other than that before it."""
    before = [other for other in alone if other.start_s < one.start_s]
    after = [other for other in alone if other.start_s > one.start_s]
    beside = max(before, key=lambda other: other.start_s) if before else min(after, key=lambda other: other.start_s)
    return Stroke(one.start_s, one.end_s, get_other_side(beside.side))


def _alternate(strokes: Sequence[Stroke]) -> bool:
    """Whether the arms' strokes follow one another: arms that work at once make theirs at the same time."""
    ordered = sorted(strokes, key=lambda one: one.start_s)
    return len(ordered) >= FEWEST_IN_TURN and all(
        one.side != other.side and not _overlap(one, other) for one, other in pairwise(ordered)
    )


def _overlap(one: Stroke, other: Stroke) -> bool:
    shared = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return shared > OVERLAP * min(one.end_s - one.start_s, other.end_s - other.start_s)


@dataclass(frozen=True, slots=True)
class _Look:
    """One arm's stroke: how far its curve goes, and whether the other arm rests."""

    stroke: Stroke
    way: float
    alone: bool


def _look(side: Side, rep: Rep, t: Array, curves: Mapping[Side, Array], hands: Mapping[Side, Array]) -> _Look:
    """A repetition of one arm beside what the other does; an arm that is not seen does not rest."""
    quarter = (rep.end_s - rep.start_s) / 4
    top = np.asarray((t >= rep.start_s + quarter) & (t <= rep.end_s - quarter))
    rest = np.asarray((np.abs(t - rep.start_s) <= AROUND_S) | (np.abs(t - rep.end_s) <= AROUND_S))
    way, hand = (_measure_way(of_side[side], top, rest) for of_side in (curves, hands))
    other, other_hand = (_measure_way(of_side[get_other_side(side)], top, rest) for of_side in (curves, hands))
    rise, other_rise = (_measure_way(hands[each][:, UP], top, rest) for each in (side, get_other_side(side)))
    rests = other_hand <= STILL_HAND * hand or (rise >= MOSTLY_UP * hand and other_rise <= STILL_RANGE * rise)
    alone = other <= STILL_RANGE * way and rests
    return _Look(Stroke(rep.start_s, rep.end_s, side), way, alone)


def _list_regular(looks: Sequence[_Look]) -> list[_Look]:
    """The strokes about as long and as far as those of the arm with the longer and farther ones."""
    lasting, ways = [0.0], [0.0]
    for side in SIDES:
        mine = [look for look in looks if look.stroke.side == side]
        if len(mine) > 1:
            lasting.append(float(np.median([look.stroke.end_s - look.stroke.start_s for look in mine])))
            ways.append(float(np.median([look.way for look in mine])))
    return [
        look
        for look in looks
        if look.stroke.end_s - look.stroke.start_s >= SHORTEST * max(lasting) and look.way >= SMALLEST * max(ways)
    ]


def _measure_way(curve: Array, top: Mask, rest: Mask) -> float:
    """How far a curve's usual place (k values) at some times is from that at others; NaN where it is not seen."""
    values = curve.reshape(len(curve), -1)
    places = []
    for when in (top, rest):
        rows = values[when]
        rows = rows[np.isfinite(rows).all(axis=1)]
        if not len(rows):
            return float("nan")
        places.append(np.median(rows, axis=0))
    return float(np.linalg.norm(places[0] - places[1]))
