"""Whether a movement looks like the exercise at all; what does not is no repetition of it.

What an exercise needs is taken from its own file: its driver, its position, how far its checks want the arms to go. The
bounds are wide: a fault is still a repetition, badly done, and is counted and told. Each bound that is not kept counts
by its distance, squared; only movements far off in one thing, or off in several, are left out.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, Mask, Message, MessageValue, Rep
from formcheck.exercises.schema import Exercise
from formcheck.recognition.posture import Body
from formcheck.reps.strokes import Excursion
from formcheck.signals.camera import plane_of

UNLIKE = 5.0
"""From this sum of squared distances on a movement is not the exercise."""
UNLIKE_ALONE = 1.0
"""The same for a movement that is the only one, seen otherwise than from the side: no other speaks for a set."""
MOST_FROM_DEPTH = 4.0
"""From the side an arm that points at the camera is known by its depth alone, which is not good: it counts less."""
DEEP = frozenset({"elbow.near", "elbow.over"})
UNSEEN_BESIDE = frozenset({"out.way", "face.top", "elbow.top"})
"""What a view from the side does not show at all."""
SEEN_BESIDE = frozenset({"level.most", "elbow.near"})
"""What only a view from the side shows."""
UNSEEN_BEHIND, BEHIND_DEG = frozenset({"lean.top"}), 120.0
"""What a view from behind, this far round, does not show: a trunk that is bent over is hidden by the hips."""
AT_AN_END_S = 0.1
"""Curves are read as their median within this time of a movement's ends."""
MOST_TOLD = 3
"""So many movements, or reasons, are named."""
HALF_WAY = (0.35, 0.65)
"""Shares of a hand's rise between which an arm is on its way."""
_ANY = 1e6
_LEAN = {"standing": (-55.0, 40.0), "seated": (-55.0, 40.0), "bent-over": (40.0, 130.0), "prone": (40.0, 130.0)}
_LEANS = {
    "standing": "torso-bent-over",
    "seated": "torso-bent-over",
    "bent-over": "torso-upright",
    "prone": "torso-upright",
}
PEAKS = ("arm_elevation_peak", "arm_raise_peak", "arm_flexion_peak")
NEEDED_SHARE = 0.65
"""Of the height an exercise asks the arms for, the best repetition of a set reaches about this much, however badly."""


@dataclass(frozen=True, slots=True)
class Need:
    """A value that a repetition keeps, how far outside counts as 1, and the code (`UNLIKE`) for when it does not."""

    low: float
    high: float
    scale: float
    code: str

    def misfit(self, value: float) -> float:
        """Squared distance outside; what is not known speaks neither for nor against."""
        outside = max(self.low - value, value - self.high, 0.0) if np.isfinite(value) else 0.0
        return (outside / self.scale) ** 2


Needs = dict[str, Need]


def needs_of(exercise: Exercise) -> Needs:
    """What a movement needs to be a repetition of an exercise.

    ``x.top`` and ``x.rest`` are values at the turn and where the movement rests, ``x.moves`` their distance, ``x.way``
    those half-way and ``x.most`` the largest (`Body`; degrees, shares and upper-arm lengths). ``both`` is the way of
    the hand that goes less far over that of the other, ``fold`` how much farther up a forearm points than its upper
    arm, ``elbow.near`` the ``elbow.top`` that depth alone tells, ``elbow.over`` how much more the elbows bend than the
    arms go up, ``arm.best`` the best ``arm.top`` of the set.
    """
    mover = exercise.driver.sagittal
    if mover == "torso_inclination":
        return {
            "lean.moves": Need(20, _ANY, 5.0, "torso-still"),
            "knee.moves": Need(-_ANY, 75, 10.0, "knees-as-in-squat"),
        }
    if mover == "knee_flexion":
        return {"knee.moves": Need(35, _ANY, 8.0, "knees-still")}
    low, high = _LEAN[exercise.position]
    needs = {
        "both": Need(0.6, _ANY, 0.1, "one-arm-only"),
        "lean.top": Need(low, high, 10.0, _LEANS[exercise.position]),
    }
    if mover == "arm_raise":
        needs["hand.top"] = Need(0.5, _ANY, 0.25, "hands-not-overhead")
        needs["hand.rest"] = Need(-1.0, _ANY, 0.25, "hands-hang")
        needs["elbow.rest"] = Need(40, _ANY, 10.0, "elbows-straight")
    elif mover == "elbow_flexion":
        needs["elbow.moves"] = Need(45, _ANY, 10.0, "elbows-still")
        needs["arm.top"] = Need(-_ANY, 75, 10.0, "upper-arms-rise")
    elif mover == "arm_extension":
        needs["hand.top"] = Need(-_ANY, 0.0, 0.25, "hands-above-shoulders")
    elif mover == "arm_opening":
        needs["arm.top"] = Need(45, 135, 10.0, "arms-not-at-shoulders")
    else:
        needs |= _raise(exercise)
    return needs


def _raise(exercise: Exercise) -> Needs:
    """Long arms that go up, to the sides or ahead."""
    asked = [check.at_least for check in exercise.checks if check.measure in PEAKS and check.at_least is not None]
    ahead = exercise.driver.sagittal == "arm_flexion"
    needs = {
        "elbow.near": Need(-_ANY, 75, 15.0, "elbows-bring-hand"),
        "elbow.top": Need(-_ANY, 65, 14.0, "elbows-bring-hand"),
        "face.top": Need(1.2, _ANY, 0.25, "hand-to-face"),
        "fold.top": Need(-_ANY, 45, 12.0, "forearms-fold"),
        "elbow.over": Need(-_ANY, 10, 8.0, "elbows-over-arms"),
        "arm.moves": Need(20, _ANY, 5.0, "upper-arms-still"),
        ("ahead" if ahead else "out") + ".way": Need(0.35, _ANY, 0.12, "arms-not-ahead" if ahead else "arms-not-aside"),
    }
    if not ahead:
        needs["level.most"] = Need(-_ANY, 0.75, 0.08, needs["out.way"].code)
    if asked:
        needed = NEEDED_SHARE * max(asked)
        needs["arm.best"] = Need(needed, _ANY, 0.1 * needed, "arms-low")
    return needs


@dataclass(frozen=True, slots=True)
class Unlike:
    """A movement that is not the exercise: its turn, seconds, and why not (`formcheck.core.vocabulary.messages`)."""

    at_s: float
    code: str


def note_unlike(unlike: Sequence[Unlike], reps: Sequence[Rep], exercise: Exercise) -> tuple[Message, ...]:
    """What the user is told of movements that are no repetitions, in one note; nothing when there are none."""
    if not unlike:
        return ()
    if not reps:
        reasons = tuple(code for code, _ in Counter(item.code for item in unlike).most_common(MOST_TOLD))
        return (Message("exercise-not-seen", {"exercise": exercise.name, "reasons": reasons}),)
    named = unlike[:MOST_TOLD]
    values: dict[str, MessageValue] = {
        "at_s": tuple(round(item.at_s, 1) for item in named),
        "reasons": tuple(item.code for item in named),
        "more": len(unlike) - len(named),
    }
    return (Message("not-counted", values),)


def select_like(
    found: Sequence[Excursion], t: Array, body: Body, exercise: Exercise, view: CameraView
) -> tuple[list[Excursion], tuple[Unlike, ...]]:
    """The movements that look like the exercise, and what is wrong with others as large as it asks for.

    Parameters
    ----------
    t : (m,) seconds, the grid of the movements and of `body`.
    """
    if not found:
        return [], ()
    needs = needs_of(exercise)
    beside = plane_of(view) == "sagittal"
    hidden = UNSEEN_BESIDE if beside else SEEN_BESIDE
    if view.name == "back" or (view.yaw_deg is not None and abs(view.yaw_deg) > BEHIND_DEG):
        hidden |= UNSEEN_BEHIND
    needs = {name: need for name, need in needs.items() if name not in hidden}
    values = [values_of(item, t, body, view) for item in found]
    single = [_misfits(needs, each, beside=beside) for each in values]
    good = [index for index, each in enumerate(single) if sum(each.values()) < UNLIKE]
    best = max((values[index]["arm.top"] for index in good), default=float("nan"))
    limit = UNLIKE_ALONE if len(good) == 1 and not beside else UNLIKE
    kept, unlike = [], []
    for index, item in enumerate(found):
        against = _misfits(needs, {**values[index], "arm.best": best}, beside=beside)
        if sum(against.values()) < limit:
            kept.append(item)
        elif item.range >= exercise.driver.minimum_range:
            worst = max(against, key=lambda name: against[name])
            unlike.append(Unlike(float(t[item.turn]), needs[worst].code))
    return kept, tuple(unlike)


def values_of(item: Excursion, t: Array, body: Body, view: CameraView) -> dict[str, float]:
    """What the needs are held against, read at a movement's ends and on its way (names: `needs_of`)."""
    inside = (t >= item.out_start) & (t <= item.back_end)
    top = np.abs(t - t[item.turn]) <= AT_AN_END_S
    # The clip may begin or end within a movement: the end farther from the turn tells where it rests.
    ends = [np.abs(t - end) <= AT_AN_END_S for end in (item.out_start, item.back_end)]
    ways = [{side: _way(body.reach[side], top, end) for side in SIDES} for end in ends]
    farther = int(np.argmax([np.nan_to_num(sum(way.values())) for way in ways]))
    rest, way = ends[farther], ways[farther]
    more = max(SIDES, key=lambda side: np.nan_to_num(way[side]))
    # From the side the farther arm is guessed: the nearer one speaks for both.
    chosen = [view.name] if view.name in SIDES else list(SIDES)
    values = {"both": min(way.values()) / max(way.values()) if max(way.values()) > 0 else float("nan")}
    for name in ("arm", "hand", "elbow", "knee"):
        seen = "lift" if name == "arm" and len(chosen) == 1 else name
        curve = np.mean([body.limbs[side][seen] for side in SIDES if side in chosen], axis=0)
        values[f"{name}.top"], values[f"{name}.rest"] = _at(curve, top), _at(curve, rest)
        values[f"{name}.moves"] = abs(values[f"{name}.top"] - values[f"{name}.rest"])
    working = view.name if view.name in SIDES else more
    for name in ("elbow", "face"):
        values[f"{name}.top"] = _at(body.limbs[working][name], top)
    values["elbow.near"] = values["elbow.top"]
    values["fold.top"] = _at(body.limbs[working]["lower"] - body.limbs[working]["lift"], top)
    values["elbow.over"] = values["elbow.moves"] - values["arm.moves"]
    values["level.most"] = _at(body.limbs[working]["level"], inside, most=True)
    half = inside & _between(body.limbs[working]["arm"], inside)
    for name in ("out", "ahead"):
        values[f"{name}.way"] = _at(np.mean([body.limbs[side][name] for side in SIDES], axis=0), half)
    lean = body.whole["lean"]
    values["lean.top"] = _at(lean, top)
    values["lean.moves"] = abs(values["lean.top"] - _at(lean, rest))
    return values


def _misfits(needs: Needs, values: dict[str, float], *, beside: bool) -> dict[str, float]:
    """Squared distances by need; from the side, what is known by depth alone counts for little together."""
    out = {name: need.misfit(values.get(name, float("nan"))) for name, need in needs.items()}
    deep = sum(out.get(name, 0.0) for name in DEEP)
    if beside and deep > MOST_FROM_DEPTH:
        out |= {name: out[name] * MOST_FROM_DEPTH / deep for name in DEEP if name in out}
    return out


def _at(curve: Array, when: Mask, *, most: bool = False) -> float:
    """Median, or largest value, of a curve at some times; NaN when it is not known then."""
    values = curve[when]
    values = values[np.isfinite(values)]
    if not len(values):
        return float("nan")
    return float(values.max() if most else np.median(values))


def _way(reach: Array, top: Mask, rest: Mask) -> float:
    """How far a hand is at the turn from where it is at the ends, as the shoulder sees it, upper-arm lengths."""
    return float(np.linalg.norm([_at(reach[:, axis], top) - _at(reach[:, axis], rest) for axis in range(3)]))


def _between(curve: Array, inside: Mask) -> Mask:
    """(m,) where a curve is in the middle of its range inside a movement."""
    values = curve[inside]
    values = values[np.isfinite(values)]
    if not len(values):
        return np.zeros(len(curve), dtype=bool)
    low, span = float(values.min()), float(np.ptp(values))
    return np.asarray((curve >= low + HALF_WAY[0] * span) & (curve <= low + HALF_WAY[1] * span))
