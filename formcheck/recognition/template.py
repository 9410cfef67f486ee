"""What the movement of an exercise looks like, taken from its own file and from `template.toml`.

A template holds an interval for each coarse feature of the body (`formcheck.recognition.posture`), such as ``arm.top``.
``.top`` and ``.bottom`` are values at a rep's ends, ``.moves`` is their distance, ``.most`` the largest value and
``.span`` the range within the rep. Of a single movement ``.rest`` is the value where it rests and ``.way`` that
half-way; ``both`` is the distance the hand that goes less far covers over that of the other, ``fold`` how much farther
up a forearm points than its upper arm, ``elbow.near`` the ``elbow.top`` that depth alone gives, ``elbow.over`` how much
more the elbows bend than the arms go up, ``arm.best`` and ``elbow.best`` the best ``.top`` of the set.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import isfinite
from pathlib import Path
from typing import Any, Literal

from formcheck.exercises.schema import Exercise

WIDE = 25.0
"""Faults and the pose model's depth move a limb this far from what an exercise asks for, degrees."""
NEEDED_SHARE = 0.65
"""Of the height an exercise asks the arms for, the best repetition of a set reaches about this much, however badly."""
PEAKS = ("arm_elevation_peak", "arm_raise_peak", "arm_line_raise_peak", "arm_flexion_peak")
_ANY = 1e6


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval, how far outside of it counts as 1, and a code.

    In a template of what is typical the code is that of what lies in it (`formcheck.report.words`), in one of what is
    needed that of what lies outside (`formcheck.core.vocabulary.messages.UNLIKE`).
    """

    low: float
    high: float
    scale: float
    code: str

    def misfit(self, value: float) -> float:
        """Squared distance outside; a value that is not known (NaN) speaks neither for nor against."""
        outside = max(self.low - value, value - self.high, 0.0) if isfinite(value) else 0.0
        return (outside / self.scale) ** 2


Template = dict[str, Interval]


def make_template(exercise: Exercise) -> Template:
    """What a set of the exercise looks like."""
    driver = exercise.driver
    if template := _read_part("typical", "body", driver.sagittal):
        return template
    template = _read_part("typical", "position", exercise.position) | _read_part("typical", "arms", driver.sagittal)
    if driver.sagittal == "arm_raise" and "grip_width" in {use.name for use in exercise.measures}:
        return template | _read_part("typical", "arms", "bar")
    return template if driver.sagittal in _read_table()["typical"]["arms"] else template | _make_raise(exercise)


def select_constant_features(exercise: Exercise) -> Template:
    """The part of a template that no fault changes: what contradicts it is another exercise.

    To go less far than an exercise asks is a fault, so is a bend of the elbows; left are how trunk and thighs are held,
    where the hands start, and arms or hands that go farther up than the exercise ever takes them. Of a squat and a
    hinge, whose trunk and thighs are the movement, nothing is left.
    """
    template, mover = make_template(exercise), exercise.driver.sagittal
    if mover in _read_table()["typical"]["body"]:
        return {}
    constant = {name: template[name] for name in ("lean.bottom", "thigh.bottom", "hand.bottom") if name in template}
    if exercise.position == "seated":
        constant["thigh.bottom"] = replace(constant["thigh.bottom"], high=_ANY)
    if mover == "arm_raise" and "hand.bottom" in constant:  # a press that does not come all the way down
        constant["hand.bottom"] = replace(constant["hand.bottom"], high=_ANY)
    return constant | {name: replace(template[name], low=-_ANY) for name in ("arm.top", "hand.top") if name in template}


def make_needs(exercise: Exercise) -> Template:
    """What a movement needs to be a repetition of an exercise."""
    mover = exercise.driver.sagittal
    if needs := _read_part("needed", "body", mover):
        return needs
    needs = _read_part("needed", "position", exercise.position)
    if mover in _read_table()["needed"]["arms"]:
        return needs | _read_part("needed", "arms", mover)
    needs |= _read_part("needed", "arms", "raise")
    needs |= _read_part("needed", "arms", "ahead" if mover == "arm_flexion" else "aside")
    asked = [check.at_least for check in exercise.checks if check.measure in PEAKS and check.at_least is not None]
    if asked:
        needed = NEEDED_SHARE * max(asked)
        needs["arm.best"] = Interval(needed, _ANY, 0.1 * needed, "arms-low")
    return needs


@cache
def _read_table() -> Mapping[str, Any]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


def _read_part(kind: Literal["typical", "needed"], group: Literal["position", "body", "arms"], name: str) -> Template:
    """A part of the table; empty when it has none of this name."""
    rows = _read_table()[kind][group].get(name, {})
    return {feature: Interval(**{"low": -_ANY, "high": _ANY, **row}) for feature, row in rows.items()}


def _make_raise(exercise: Exercise) -> Template:
    """Long arms that go up, as far as the checks ask for, ahead or to the sides."""
    template = _read_part("typical", "arms", "raise")
    template["arm.moves"] = replace(template["arm.moves"], low=exercise.driver.minimum_range)
    for check in exercise.checks:
        if check.measure in PEAKS:
            earlier = template.get("arm.top", Interval(-_ANY, _ANY, 8.0, "arms-at-top"))
            low = earlier.low if check.at_least is None else check.at_least - WIDE
            high = earlier.high if check.at_most is None else check.at_most + WIDE
            template["arm.top"] = replace(earlier, low=low, high=high)
    # Straight overhead an arm points neither ahead nor aside; how it gets there shows it.
    least = 0.3 if "arm.top" in template and template["arm.top"].low > 120 else 0.55
    name, code = ("ahead", "ahead") if exercise.driver.sagittal == "arm_flexion" else ("out", "aside")
    template[f"{name}.most"] = Interval(least, _ANY, 0.12, f"arms-rise-{code}")
    return template
