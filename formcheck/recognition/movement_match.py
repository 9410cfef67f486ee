"""Decides whether a movement looks like the exercise at all; what does not is no repetition of it.

The bounds of `formcheck.recognition.template.make_needs` are wide: a fault is still a repetition, badly done. Each
bound that is not kept counts by its distance, squared; only movements far off in one thing, or off in several, are left
out.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from formcheck.core.model import SIDES, Array, CameraView, Mask, Message, MessageValue, Rep, Side
from formcheck.exercises.schema import Exercise
from formcheck.recognition.posture import BodyCurves
from formcheck.recognition.template import Template, make_needs
from formcheck.recognition.working_arms import WorkingArms
from formcheck.reps.rhythm import readmit_regular
from formcheck.reps.strokes import Excursion
from formcheck.signals.camera import get_plane

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
ONE_ARM = "both"
"""The need of both arms, of which one may be hidden."""
UNCLEAR_SCALE = 2.0
"""How many times as far off that is where one arm is seen badly; an arm that stays still is farther off yet."""
AT_AN_END_S = 0.1
"""Curves are read as their median within this time of a movement's ends."""
MOST_NAMED = 3
"""So many movements, or reasons, are named."""
MIDDLE_SHARES = (0.35, 0.65)
"""Shares of a hand's rise between which an arm is on its way."""


@dataclass(frozen=True, slots=True)
class Unlike:
    """A movement that is not the exercise: its turn, seconds, and why not (`formcheck.core.vocabulary.messages`)."""

    at_s: float
    code: str


def note_unlike(unlike: Sequence[Unlike], reps: Sequence[Rep], exercise: Exercise) -> tuple[Message, ...]:
    """The note on movements that are no repetitions; none when there are no such movements."""
    if not unlike:
        return ()
    if not reps:
        reasons = tuple(code for code, _ in Counter(item.code for item in unlike).most_common(MOST_NAMED))
        return (Message("exercise-not-seen", {"exercise": exercise.name, "reasons": reasons}),)
    named = unlike[:MOST_NAMED]
    values: dict[str, MessageValue] = {
        "at_s": tuple(round(item.at_s, 1) for item in named),
        "reasons": tuple(item.code for item in named),
        "more": len(unlike) - len(named),
    }
    return (Message("not-counted", values),)


def select_like(
    found: Sequence[Excursion],
    t: Array,
    body: BodyCurves,
    exercise: Exercise,
    view: CameraView,
    *,
    one_arm_unclear: bool = False,
    arms: WorkingArms | None = None,
) -> tuple[list[Excursion], tuple[Unlike, ...]]:
    """The movements that look like the exercise, and what is wrong with others as large as it asks for.

    Parameters
    ----------
    t : (m,) seconds, the grid of the movements and of `body`.
    one_arm_unclear : one arm is seen far worse than the other (`formcheck.reps.driver_side`): how far it goes is
        doubtful.
    arms : of a set done with one arm at a time; the arm that rests is not looked at.
    """
    if not found:
        return [], ()
    needs = make_needs(exercise)
    beside = get_plane(view) == "sagittal"
    hidden = UNSEEN_BESIDE if beside else SEEN_BESIDE
    if view.name == "back" or (view.yaw_deg is not None and abs(view.yaw_deg) > BEHIND_DEG):
        hidden |= UNSEEN_BEHIND
    needs = {name: need for name, need in needs.items() if name not in hidden}
    if arms is not None:
        needs.pop(ONE_ARM, None)
    if one_arm_unclear and ONE_ARM in needs:
        needs[ONE_ARM] = replace(needs[ONE_ARM], scale=UNCLEAR_SCALE * needs[ONE_ARM].scale)
    values = [
        measure_movement(item, t, body, view, None if arms is None else arms.find_side_of(item)) for item in found
    ]
    single = [_compute_misfits(needs, each, beside=beside) for each in values]
    good = [index for index, each in enumerate(single) if sum(each.values()) < UNLIKE]
    best = {
        f"{limb}.best": max((values[index][f"{limb}.top"] for index in good), default=float("nan"))
        for limb in ("arm", "elbow")
    }
    limit = UNLIKE_ALONE if len(good) == 1 and not beside else UNLIKE
    misfits = [_compute_misfits(needs, each | best, beside=beside) for each in values]
    like = [item for item, against in zip(found, misfits, strict=True) if sum(against.values()) < limit]
    # An arm that is hidden for one movement of a set was not still.
    but_hidden = [
        item
        for item, against in zip(found, misfits, strict=True)
        if sum(value for name, value in against.items() if name != ONE_ARM) < limit
    ]
    like = readmit_regular(but_hidden, like)
    unlike = [
        Unlike(float(t[item.turn]), needs[max(against, key=lambda name: against[name])].code)
        for item, against in zip(found, misfits, strict=True)
        if item not in like and item.range >= exercise.driver.minimum_range
    ]
    return like, tuple(unlike)


def measure_movement(
    item: Excursion, t: Array, body: BodyCurves, view: CameraView, arm: Side | None = None
) -> dict[str, float]:
    """Features of a movement, read at its ends and half-way, by the names `formcheck.recognition.template` explains.

    ``arm`` : the arm that makes it alone.
    """
    arms = SIDES if arm is None else (arm,)
    inside = (t >= item.out_start) & (t <= item.back_end)
    top = np.abs(t - t[item.turn]) <= AT_AN_END_S
    # The clip may begin or end within a movement: the end farther from the turn tells where it rests.
    ends = [np.abs(t - end) <= AT_AN_END_S for end in (item.out_start, item.back_end)]
    distances = [{side: _measure_reach(body.reach[side], top, end) for side in arms} for end in ends]
    farther = int(np.argmax([np.nan_to_num(sum(distance.values())) for distance in distances]))
    rest, distance = ends[farther], distances[farther]
    more = max(arms, key=lambda side: np.nan_to_num(distance[side]))
    # From the side the farther arm is guessed: the nearer one speaks for both.
    nearer = view.name if arm is None else arm
    chosen = [nearer] if nearer in SIDES else list(SIDES)
    legs = [view.name] if view.name in SIDES else list(SIDES)
    values = {"both": min(distance.values()) / max(distance.values()) if max(distance.values()) > 0 else float("nan")}
    for name in ("arm", "hand", "elbow", "knee"):
        seen = "lift" if name == "arm" and view.name in SIDES else name
        curve = np.mean([body.limbs[side][seen] for side in (legs if name == "knee" else chosen)], axis=0)
        values[f"{name}.top"], values[f"{name}.rest"] = _read_at(curve, top), _read_at(curve, rest)
        values[f"{name}.moves"] = abs(values[f"{name}.top"] - values[f"{name}.rest"])
    working = nearer if nearer in SIDES else more
    for name in ("elbow", "face"):
        values[f"{name}.top"] = _read_at(body.limbs[working][name], top)
    values["elbow.near"] = values["elbow.top"]
    values["fold.top"] = _read_at(body.limbs[working]["lower"] - body.limbs[working]["lift"], top)
    values["elbow.over"] = values["elbow.moves"] - values["arm.moves"]
    values["level.most"] = _read_at(body.limbs[working]["level"], inside, most=True)
    half = inside & _select_middle(body.limbs[working]["arm"], inside)
    for name in ("out", "ahead"):
        values[f"{name}.way"] = _read_at(np.mean([body.limbs[side][name] for side in arms], axis=0), half)
    lean = body.whole["lean"]
    values["lean.top"] = _read_at(lean, top)
    values["lean.moves"] = abs(values["lean.top"] - _read_at(lean, rest))
    return values


def _compute_misfits(needs: Template, values: dict[str, float], *, beside: bool) -> dict[str, float]:
    """Squared distances by need; from the side, what is known by depth alone counts for little together."""
    out = {name: need.misfit(values.get(name, float("nan"))) for name, need in needs.items()}
    deep = sum(out.get(name, 0.0) for name in DEEP)
    if beside and deep > MOST_FROM_DEPTH:
        out |= {name: out[name] * MOST_FROM_DEPTH / deep for name in DEEP if name in out}
    return out


def _read_at(curve: Array, when: Mask, *, most: bool = False) -> float:
    """Median, or largest value, of a curve at some times; NaN when it is not known then."""
    values = curve[when]
    values = values[np.isfinite(values)]
    if not len(values):
        return float("nan")
    return float(values.max() if most else np.median(values))


def _measure_reach(reach: Array, top: Mask, rest: Mask) -> float:
    """How far a hand is at the turn from where it is at the ends, as the shoulder sees it, upper-arm lengths."""
    return float(np.linalg.norm([_read_at(reach[:, axis], top) - _read_at(reach[:, axis], rest) for axis in range(3)]))


def _select_middle(curve: Array, inside: Mask) -> Mask:
    """(m,) where a curve is in the middle of its range inside a movement."""
    values = curve[inside]
    values = values[np.isfinite(values)]
    if not len(values):
        return np.zeros(len(curve), dtype=bool)
    low, span = float(values.min()), float(np.ptp(values))
    return np.asarray((curve >= low + MIDDLE_SHARES[0] * span) & (curve <= low + MIDDLE_SHARES[1] * span))
