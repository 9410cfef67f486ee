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
    plain["measures"] += tuple(use.model_dump() for use in variation.measures)
    plain["checks"] = _checks(plain["checks"], variation)
    plain["untold"] += tuple(point.model_dump() for point in variation.untold)
    # Read again as if it stood in a file of its own: whatever does not fit together is refused.
    return Exercise.model_validate(plain).model_copy(update={"id": f"{exercise.id}{SEPARATOR}{variation.id}"})


def _checks(checks: tuple[dict[str, Any], ...], variation: Variation) -> tuple[dict[str, Any], ...]:
    known = {check["id"] for check in checks}
    changes = {change.check: change for change in variation.changes}
    for key in (*variation.without, *changes):
        if key not in known:
            raise ValueError(f"variations.{variation.id}: there is no check {key!r}")
    kept = []
    for check in checks:
        if check["id"] in variation.without:
            continue
        change = changes.get(check["id"])
        if change is not None:
            said = change.model_dump(exclude_none=True, exclude={"check"})
            # The fault belongs to the limit: with another limit the exercise's own says nothing.
            moved = {"at_least", "at_most"} & said.keys()
            check = {key: value for key, value in check.items() if not (moved and key == "fault_at")} | said
        kept.append(check)
    return (*kept, *(check.model_dump(exclude_none=True) for check in variation.checks))
