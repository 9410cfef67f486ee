#!/usr/bin/env python3
"""From which value on each check names its fault, from each camera it is judged from.

    python docs/firing_table.py        prints the table of docs/checks.md (`docs/write_tables.py --write` puts it there)

The values hold for a camera straight in its place (35 degrees off the front for one at an angle), 30 pictures a second
and landmarks that shake as usual; a poorer clip has wider margins. A check must name a fault of the size its exercise
file gives as `fault_at`, within what a body can do (`docs/body_range.toml`), from every camera.
"""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from formcheck.core.model import CameraView, Grade, Quality, ViewName
from formcheck.core.vocabulary.numbers import PERCENT, format_number
from formcheck.exercises.registry import load_exercises
from formcheck.exercises.schema import Check, Exercise
from formcheck.exercises.variations import apply_variation
from formcheck.measures.margins import compute_margin, find_kind
from formcheck.verdicts import grade_value

USUAL_YAW: dict[ViewName, float] = {"front": 0.0, "back": 180.0, "left": 90.0, "right": -90.0, "oblique": 35.0}
"""Degrees around the lifter at which the table takes each camera to stand."""
USUAL_QUALITY = Quality(1.0, 30.0, None, {}, {})
CAMERA_WORDS: dict[ViewName, str] = {
    "front": "front", "back": "behind", "left": "side", "right": "side", "oblique": "at an angle",
}  # fmt: skip
HEAD = (
    "exercise",
    "point",
    "camera",
    "limit",
    "tolerance",
    "margin",
    "goes well",
    "probably named",
    "named",
    "a coach's fault",
    "a body can",
)


@dataclass(frozen=True, slots=True)
class Firing:
    """What one check says from one camera; every value in the unit of the check's measure."""

    exercise: str
    check: Check
    view: ViewName
    margin: float
    """Half-width of the 95 % interval of a value at the limit."""
    met_from: float | None
    """The value nearest to the limit that is surely met; None where no value within the body's range is."""
    probable_at: float | None
    """The value nearest to the limit that is probably not met; None where no value within the body's range is."""
    fires_at: float | None
    """The value nearest to the limit that is surely not met; None where no value within the body's range is."""
    body: tuple[float, float]


def body_range(measure: str) -> tuple[float, float]:
    """From and to where a body can bring a measure (KeyError when the file does not say)."""
    low, high = tomllib.loads((Path(__file__).parent / "body_range.toml").read_text(encoding="utf-8"))[measure]["range"]
    return low, high


def firings() -> Iterator[Firing]:
    """Every check of every exercise and camera; of variations only what differs from the exercise itself."""
    for exercise in load_exercises().values():
        own = {check.id: check for check in exercise.checks}
        yield from (one for check in exercise.checks for one in firings_of(exercise, check))
        for variation in exercise.variations:
            other = apply_variation(exercise, variation.id)
            changed = [check for check in other.checks if not _same(check, own.get(check.id))]
            yield from (one for check in changed for one in firings_of(other, check))


def _same(check: Check, other: Check | None) -> bool:
    return other is not None and (check.limit, check.tolerance) == (other.limit, other.tolerance)


def firings_of(exercise: Exercise, check: Check) -> Iterator[Firing]:
    """One check from each camera that judges it; the right side is like the left."""
    low, high = body_range(check.measure)
    good, bad = (high, low) if check.at_least is not None else (low, high)
    for view in exercise.views_for(check):
        if view == "right":
            continue
        yield Firing(
            exercise.id,
            check,
            view,
            margin_at(exercise, check, view, check.limit),
            _nearest(exercise, check, view, good, ("met",)),
            _nearest(exercise, check, view, bad, ("not_met", "probably_not_met")),
            _nearest(exercise, check, view, bad, ("not_met",)),
            (low, high),
        )


def margin_at(exercise: Exercise, check: Check, view: ViewName, value: float) -> float:
    """Half-width of the 95 % interval of a value from a camera in its usual place."""
    camera = CameraView(view, USUAL_YAW[view], None, "estimated")
    margin = compute_margin(check.measure, value, camera, USUAL_QUALITY, find_kind(exercise, camera))
    if margin is None:
        raise ValueError(f"{exercise.id}: {check.id} is judged from {view}, from where {check.measure} has no margin")
    return margin


def says(exercise: Exercise, check: Check, view: ViewName, value: float) -> Grade:
    """The grade of a value from a camera in its usual place."""
    return grade_value(check, value, margin_at(exercise, check, view, value))


def _nearest(exercise: Exercise, check: Check, view: ViewName, end: float, grades: tuple[Grade, ...]) -> float | None:
    """The value nearest to the limit, on its way to an end of the body's range, that gets one of these grades."""
    if says(exercise, check, view, end) not in grades:
        return None
    near, far = check.limit, end
    for _ in range(50):
        middle = (near + far) / 2
        near, far = (near, middle) if says(exercise, check, view, middle) in grades else (middle, far)
    return far


def table() -> list[str]:
    """The table as lines of Markdown."""
    lines = [f"| {' | '.join(HEAD)} |", "|" + " --- |" * len(HEAD)]
    for one in firings():
        check = one.check

        def written(value: float | None, check: Check = check) -> str:
            decimals = {"s": 2, "ratio": 2}.get(check.unit, 1)
            return "never" if value is None else _number(value, check, decimals)

        below, above = ("below", "from") if check.at_least is not None else ("above", "up to")
        cells = (
            one.exercise,
            check.title,
            CAMERA_WORDS[one.view],
            ("at least " if check.at_least is not None else "at most ") + written(check.limit),
            written(check.tolerance) if check.tolerance else "–",
            written(one.margin),
            f"{above} {written(one.met_from)}" if one.met_from is not None else "never",
            f"{below} {written(one.probable_at)}" if one.probable_at is not None else "never",
            f"{below} {written(one.fires_at)}" if one.fires_at is not None else "never",
            written(check.fault_at),
            f"{written(one.body[0])} to {written(one.body[1])}",
        )
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def _number(value: float, check: Check, decimals: int) -> str:
    if check.measure in PERCENT:
        return format_number(value, check.unit, percent=True)
    unit = {"deg": "°", "s": " s"}.get(check.unit, "")
    return f"{round(value, decimals):g}{unit}"


if __name__ == "__main__":
    print("\n".join(table()))
