"""What a word of the vocabulary carries."""

from dataclasses import dataclass
from typing import Literal

Plane = Literal["frontal", "sagittal", "any"]
"""The plane of the lifter's body a quantity lives in.

``frontal`` is seen from the front or the back, ``sagittal`` from the left or the right side,
``any`` does not depend on where the camera stands.
"""

Unit = Literal["deg", "deg/s", "s", "ratio", "none"]
"""``none``: a number without a unit that is not a ratio of two things of the same kind."""


@dataclass(frozen=True, slots=True)
class SignalTerm:
    """One time series the analysis can give."""

    name: str
    unit: Unit
    sided: bool
    plain: str
    """What it is, in words a lifter understands."""


@dataclass(frozen=True, slots=True)
class MeasureTerm:
    """One number the analysis can give for a rep (and a side, when ``sided``)."""

    name: str
    unit: Unit
    sided: bool
    plain: str
    meaning: str
