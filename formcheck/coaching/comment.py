"""What the coach says about a set, at a moment of its clip or of the set as a whole."""

import math
from dataclasses import dataclass

from formcheck.core.errors import UsageError

LONGEST_COMMENT = 600


@dataclass(frozen=True, slots=True)
class CoachComment:
    """One comment in the coach's own words."""

    text: str
    at_s: float | None = None
    """The moment it is about, seconds of the clip; None: the whole set."""

    def __post_init__(self) -> None:
        if not 0 < len(self.text) <= LONGEST_COMMENT:
            raise UsageError(f"A comment has between 1 and {LONGEST_COMMENT} characters.")
        if self.at_s is not None and not (math.isfinite(self.at_s) and self.at_s >= 0):
            raise UsageError("The moment of a comment is a time of the clip, in seconds.")
