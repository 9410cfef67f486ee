"""What the lifter says about a set: effort, pain, sleep. Everything is optional; pain outranks every number."""

import math
from dataclasses import dataclass

from formcheck.core.errors import UsageError

LONGEST_TEXT = 500


@dataclass(frozen=True, slots=True)
class SetNote:
    """The lifter's note on one set; None is what was not said."""

    reps_in_reserve: float | None = None
    """How many more reps could have been done, 0..20."""
    effort: float | None = None
    """How hard the set was, 0 (rest) to 10 (nothing left)."""
    pain: bool | None = None
    pain_where: str | None = None
    """Given only with pain."""
    sleep_h: float | None = None
    """Hours slept the night before, 0..24."""
    remark: str | None = None

    def __post_init__(self) -> None:
        for value, most, name in (
            (self.reps_in_reserve, 20, "reps in reserve (how many more could have been done) are"),
            (self.effort, 10, "effort is"),
            (self.sleep_h, 24, "sleep is"),
        ):
            if value is not None and not (math.isfinite(value) and 0 <= value <= most):
                raise UsageError(f"In a note, {name} between 0 and {most}.")
        for text in (self.pain_where, self.remark):
            if text is not None and not 0 < len(text) <= LONGEST_TEXT:
                raise UsageError(f"A text in a note has between 1 and {LONGEST_TEXT} characters.")
        if self.pain_where is not None and not self.pain:
            raise UsageError("A note that says where it hurts also says that it hurts.")
