"""What an exercise looks like, taken from its own file: position, driver signal, measures and limits.

A portrait says in which interval each coarse feature lies at the top and at the bottom of a rep. Intervals are
wide: a faulty set is still the exercise.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from formcheck.exercises.schema import Exercise

WIDE = 25.0
"""Faults and the pose model's depth move a limb this far from what an exercise asks for, degrees."""


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval, how far outside it counts as one standard deviation, and the code of what lies in it.

    The words for the code are in `formcheck.report.words`.
    """

    low: float
    high: float
    scale: float
    code: str


Portrait = Mapping[str, Interval]

_LEAN = {"standing": (-25, 30), "seated": (-25, 30), "bent-over": (45, 110), "prone": (40, 110)}
_THIGH = {"standing": (0, 35), "seated": (50, 120), "bent-over": (0, 55)}
_ANY = 1e6


def portrait(exercise: Exercise) -> Portrait:
    """Feature → interval.

    ``x.top`` and ``x.bottom`` are values at the rep's ends, ``x.moves`` is their distance; ``x.most`` and ``x.span``
    are the largest value and the range within the rep.
    """
    mover = exercise.driver.sagittal
    low, high = _LEAN[exercise.position]
    wanted = {"lean.bottom": Interval(low, high, 10.0, f"torso-{exercise.position}")}
    if mover == "torso_inclination":
        wanted["lean.bottom"] = Interval(35, 120, 10.0, "torso-bends")
        wanted["lean.moves"] = Interval(35, _ANY, 6.0, "torso-bends")
        wanted["knee.moves"] = Interval(0, 40, 10.0, "knees-still")
        wanted["arm.moves"] = Interval(0, 45, 12.0, "arms-hang")
        return wanted
    if mover == "knee_flexion":
        wanted.pop("lean.bottom")
        wanted["knee.moves"] = Interval(50, _ANY, 10.0, "knees-bend")
        wanted["thigh.bottom"] = Interval(50, 140, 12.0, "thighs-down")
        return wanted
    if exercise.position in _THIGH:
        low, high = _THIGH[exercise.position]
        wanted["thigh.bottom"] = Interval(low, high, 10.0, f"thighs-{exercise.position}")
    if exercise.position != "prone":  # on a bench the legs are half hidden
        wanted["knee.moves"] = Interval(0, 25, 10.0, "legs-still")
    wanted["lean.moves"] = Interval(0, 25, 10.0, "torso-still")
    wanted.update(_arms(exercise, mover))
    return wanted


def telling(exercise: Exercise) -> Portrait:
    """The part of a portrait that no fault changes: what contradicts it is another exercise.

    To go less far than an exercise asks is a fault, so is a bend of the elbows; left are how trunk and thighs are held,
    where the hands start, and arms or hands that go farther up than the exercise ever takes them. Of a squat and a
    hinge, whose trunk and thighs are the movement, nothing is left.
    """
    mover = exercise.driver.sagittal
    if mover in ("torso_inclination", "knee_flexion"):
        return {}
    wanted = portrait(exercise)
    kept = {name: wanted[name] for name in ("lean.bottom", "thigh.bottom", "hand.bottom") if name in wanted}
    if exercise.position == "seated":
        kept["thigh.bottom"] = replace(kept["thigh.bottom"], high=_ANY)
    if mover == "arm_raise" and "hand.bottom" in kept:  # a press that does not come all the way down
        kept["hand.bottom"] = replace(kept["hand.bottom"], high=_ANY)
    return kept | {name: replace(wanted[name], low=-_ANY) for name in ("arm.top", "hand.top") if name in wanted}


def _arms(exercise: Exercise, mover: str) -> dict[str, Interval]:
    if mover == "elbow_flexion":
        return {
            "elbow.moves": Interval(70, _ANY, 12.0, "elbows-bend-far"),
            "arm.moves": Interval(0, 25, 8.0, "upper-arms-still"),
            "hand.top": Interval(-1.2, 0.4, 0.25, "hands-to-shoulders"),
        }
    if mover == "arm_opening":
        return {
            "arm.top": Interval(60, 120, 10.0, "arms-at-shoulders"),
            "hand.bottom": Interval(-0.8, 0.9, 0.25, "hands-at-shoulders"),
            "out.moves": Interval(0.35, _ANY, 0.15, "arms-open"),
            "elbow.span": Interval(0, 45, 12.0, "elbows-keep-bend"),
            "hand.top": Interval(-0.8, 0.9, 0.25, "hands-at-shoulders"),
        }
    if mover == "arm_extension":
        return {
            "elbow.moves": Interval(35, _ANY, 10.0, "elbows-pull"),
            "hand.top": Interval(-2.0, -0.3, 0.25, "hands-below-shoulders"),
            "ahead.top": Interval(-1.0, 0.1, 0.2, "elbows-back"),
        }
    if mover == "arm_raise":
        press = {
            "elbow.bottom": Interval(60, 180, 12.0, "elbows-bent-below"),
            "elbow.moves": Interval(40, _ANY, 12.0, "elbows-straighten"),
            "hand.top": Interval(1.1, _ANY, 0.25, "hands-overhead"),
            "hand.bottom": Interval(-0.7, 1.0, 0.25, "hands-start-at-shoulders"),
        }
        return press | _hands(exercise)
    wanted = {
        "arm.moves": Interval(exercise.driver.minimum_range, _ANY, 8.0, "arms-rise"),
        "hand.bottom": Interval(-_ANY, -0.7, 0.25, "arms-hang-first"),
        "elbow.top": Interval(-_ANY, 60, 12.0, "arms-long"),
        "elbow.moves": Interval(0, 45, 12.0, "arms-long"),
    }
    for check in exercise.checks:
        if check.measure in ("arm_elevation_peak", "arm_raise_peak", "arm_flexion_peak"):
            earlier = wanted.get("arm.top", Interval(-_ANY, _ANY, 8.0, "arms-at-top"))
            low = earlier.low if check.at_least is None else check.at_least - WIDE
            high = earlier.high if check.at_most is None else check.at_most + WIDE
            wanted["arm.top"] = Interval(low, high, 8.0, earlier.code)
    # Straight overhead an arm points neither ahead nor aside; the way there tells.
    way = "ahead" if mover == "arm_flexion" else "out"
    least = 0.3 if wanted.get("arm.top", Interval(0, 0, 1, "")).low > 120 else 0.55
    code = "arms-rise-ahead" if way == "ahead" else "arms-rise-aside"
    wanted[f"{way}.most"] = Interval(least, _ANY, 0.12, code)
    return wanted


def _hands(exercise: Exercise) -> dict[str, Interval]:
    """What the hands tell of presses: a bar keeps their distance. Landmarks do not tell where the palms face."""
    if "grip_width" in {use.name for use in exercise.measures}:
        return {"gap.moves": Interval(0, 0.25, 0.08, "hands-on-bar")}
    return {}
