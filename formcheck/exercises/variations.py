"""Variations of an exercise: the same lift with other limits, named ``exercise/variation``."""

from typing import Any

from formcheck.core.errors import UsageError
from formcheck.exercises.schema import Exercise, Variation

SEPARATOR = "/"


def apply_variation(exercise: Exercise, variation_id: str) -> Exercise:
    """The exercise as one of its variations has it; its id is ``exercise/variation``.

    Raises UsageError when the exercise has no such variation, ValueError when the variation does not fit it.
    """
    if exercise.variations == ():
        raise UsageError(f"{exercise.name} has no variations.")
    variation = next((item for item in exercise.variations if item.id == variation_id), None)
    if variation is None:
        known = ", ".join(item.id for item in exercise.variations)
        raise UsageError(f"{exercise.name} has no variation {variation_id[:60]!r}; it has {known}.")
    plain = exercise.model_dump(exclude_none=True)
    plain |= {"name": variation.name, "summary": variation.summary, "variations": ()}
    if variation.position is not None:
        plain["position"] = variation.position
    if variation.sides is not None:
        plain["sides"] = variation.sides
    plain["measures"] += tuple(use.model_dump() for use in variation.measures)
    plain["checks"] = _change_checks(plain["checks"], variation)
    plain["untold"] += tuple(point.model_dump() for point in variation.untold)
    # Read again as if it stood in a file of its own: whatever does not fit together is refused.
    return Exercise.model_validate(plain).model_copy(update={"id": f"{exercise.id}{SEPARATOR}{variation.id}"})


def _change_checks(checks: tuple[dict[str, Any], ...], variation: Variation) -> tuple[dict[str, Any], ...]:
    known = {check["id"] for check in checks}
    changes = {change.check: change for change in variation.changes}
    for key in (*variation.without, *changes):
        if key not in known:
            raise ValueError(f"there is no check {key!r}")
    changed = []
    for check in checks:
        change = changes.get(check["id"])
        new = {} if change is None else change.model_dump(exclude_none=True, exclude={"check"})
        if {"at_least", "at_most"} & new.keys():  # the fault belongs to the exercise's own limit
            check = {key: value for key, value in check.items() if key != "fault_at"}
        changed.append(check | new)
    remaining = [check for check in changed if check["id"] not in variation.without]
    return (*remaining, *(check.model_dump(exclude_none=True) for check in variation.checks))
