"""A coach's own limits: what replaces an exercise's limits, tolerances and cue texts.

Pure: an exercise and the changes in, an exercise out. A changed limit names the coach as its source.
"""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field, ValidationError

from formcheck.core.errors import UsageError
from formcheck.exercises.schema import Check, Exercise, Number, Strict, Text

OWN_LIMIT = "own-limit"
"""Key of the reference that stands beside a limit set by a coach."""
LARGEST: Mapping[str, float] = {"deg": 360.0, "deg/s": 5000.0, "s": 600.0, "ratio": 100.0, "none": 1000.0}
"""Size beyond which a limit in this unit is a slip of the pen."""


class LimitChange(Strict):
    """What replaces one check's own; None leaves it as it is."""

    limit: Number | None = None
    tolerance: Annotated[Number, Field(ge=0)] | None = None
    cue: Text | None = None
    measure: Text | None = None
    """The measure the limit was set for, where the check has had more than one; None: the one it had first."""


Limits = Mapping[str, LimitChange]
"""Check id → what replaces its own; empty: the exercise as it is shipped."""


def read_limits(raw: Mapping[str, Any]) -> dict[str, LimitChange]:
    """Plain data → changes, such as ``{"height": {"limit": 80.0}}``; UsageError names check and key."""
    changes = {}
    for check, values in raw.items():
        try:
            changes[check] = LimitChange.model_validate(values)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            key = ".".join([check[:60], *(str(part)[:60] for part in first["loc"])])
            message = first["msg"].rstrip(".")
            raise UsageError(f"Own limits: {key}: {message[:1].lower()}{message[1:]}.") from None
    return changes


def dump_limits(changes: Limits) -> dict[str, dict[str, Any]]:
    """Changes → plain data that `read_limits` reads; what changes nothing is left out."""
    plain = {check: change.model_dump(exclude_none=True) for check, change in changes.items()}
    return {check: values for check, values in plain.items() if values.keys() - {"measure"}}


def apply_limits(exercise: Exercise, *changes: Limits, stored: bool = False) -> Exercise:
    """The exercise with own limits, later ones over earlier ones.

    stored : the limits were set earlier; those for a check the exercise does not have any more change nothing.

    Of those set earlier, a limit or tolerance for another measure than the check has today changes nothing either
    (`list_outdated`).

    Raises UsageError with one sentence for a check the exercise does not have, or a limit beyond reason in its unit.
    """
    checks = {check.id: check for check in exercise.checks}
    layers = [drop_outdated(exercise, limits) if stored else limits for limits in changes]
    for check_id, change in (item for limits in layers for item in limits.items()):
        if check_id in checks:
            checks[check_id] = _change_check(checks[check_id], change)
        elif not stored:
            raise UsageError(f"{exercise.name} has no check {check_id[:60]!r}; it has {', '.join(checks)}.")
    return exercise.model_copy(update={"checks": tuple(checks.values())})


def holds_for(check: Check, change: LimitChange) -> bool:
    """Whether own limit and tolerance were set for the measure by which the check is judged today."""
    return (change.measure or check.measure_was or check.measure) == check.measure


def list_outdated(exercise: Exercise, changes: Limits) -> tuple[Check, ...]:
    """The checks whose own limit or tolerance is stored and does not hold, since they are judged by another measure."""
    return tuple(
        check
        for check in exercise.checks
        if (change := changes.get(check.id)) is not None
        and (change.limit, change.tolerance) != (None, None)
        and not holds_for(check, change)
    )


def drop_outdated(exercise: Exercise, changes: Limits) -> dict[str, LimitChange]:
    """Stored own limits without those limits and tolerances that do not hold any more (`list_outdated`)."""
    gone = {check.id for check in list_outdated(exercise, changes)}
    return {name: LimitChange(cue=change.cue) if name in gone else change for name, change in changes.items()}


def note_measures(exercise: Exercise, changes: Limits) -> dict[str, LimitChange]:
    """Own limits as they are set today, with the measure they are set for where a check has had another one before."""
    checks = {check.id: check for check in exercise.checks if check.measure_was}
    return {
        name: change.model_copy(update={"measure": checks[name].measure})
        if name in checks and (change.limit, change.tolerance) != (None, None)
        else change
        for name, change in changes.items()
    }


def _change_check(check: Check, change: LimitChange) -> Check:
    for name, value in (("limit", change.limit), ("tolerance", change.tolerance)):
        if value is not None and abs(value) > LARGEST[check.unit]:
            unit = {"deg": "degrees", "ratio": "as a ratio", "none": ""}.get(check.unit, check.unit)
            raise UsageError(f"The {name} of {check.id} is at most {LARGEST[check.unit]:g} {unit}".rstrip() + ".")
    update: dict[str, Any] = {}
    if change.limit is not None and change.limit != check.limit:
        update = {"at_least" if check.at_least is not None else "at_most": change.limit, "source": OWN_LIMIT}
    if change.tolerance is not None and change.tolerance != check.tolerance:
        update |= {"tolerance": change.tolerance, "source": OWN_LIMIT}
    if change.cue is not None:
        update["cue"] = change.cue
    return check.model_copy(update=update)
