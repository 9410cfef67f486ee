"""Results of the statistics of sets, each with a sentence for the reader.

In every result, values, slopes and changes are in the unit of their measure; a margin is the half-width of a 95 %
interval; ``detectable`` is the minimal detectable change; ``p_family`` is the chance of at least one change as clear
as this among everything looked at together, if nothing had changed. A sided measure has the mean of both sides where
``side`` is None.
"""

from dataclasses import dataclass
from typing import Literal

from formcheck.core.model import Side

Call = Literal["changed", "no_detectable_change", "too_few_reps"]
"""``changed``: beyond chance and beyond what the measurement can blur."""
Aspect = Literal["range", "speed", "lowering", "torso", "asymmetry", "smoothness", "posture"]
"""``posture``: what a finding holds against the first repetitions and no other aspect tells, such as bent knees."""


@dataclass(frozen=True, slots=True)
class Trend:
    """The course of one measure over the reps of a set (or over sessions)."""

    measure: str
    side: Side | None
    unit: str
    count: int
    slope: float | None
    """Theil–Sen slope a rep; None below two values."""
    slope_low: float | None
    """Lower end of the slope's 95 % interval; None where so few values allow none."""
    slope_high: float | None
    change: float | None
    """Slope times the reps from first to last."""
    detectable: float | None
    s: int
    """Mann–Kendall's S: rising pairs minus falling pairs."""
    p: float | None
    """Exact two-sided probability of such an S or a larger one without any trend; None below five values."""
    p_family: float | None
    call: Call
    sentence: str
    of_sides: bool = False
    """It is the course of the left less the right."""


@dataclass(frozen=True, slots=True)
class Onset:
    """The rep from which one aspect of form is different."""

    aspect: Aspect
    measure: str
    unit: str
    rep: int
    """Number of the first changed rep."""
    likely: tuple[int, ...]
    """Rep numbers that together hold at least 95 % of the probability of being the first changed one."""
    chances: tuple[tuple[int, float], ...]
    """Rep number and its probability of being the first changed one."""
    grows: bool
    """The change grows with each rep; else it comes at once and stays."""
    before: float
    after: float
    """By the set's last rep."""
    change: float
    margin: float
    detectable: float
    p_family: float
    worse: bool
    """Whether the change is one for the worse: less range or speed, more torso movement, less even, less smooth."""
    call: Call
    sentence: str


@dataclass(frozen=True, slots=True)
class Breakdown:
    """The rep from which form changed for the worse, read from every aspect that may have begun to change there."""

    rep: int
    likely: tuple[int, ...]
    """Rep numbers that together hold at least 95 % of the probability."""
    first: tuple[Onset, ...]
    """Changes for the worse that may well have begun at one rep, the surest first."""
    later: tuple[Onset, ...]
    """Changes for the worse that came after them."""
    sentence: str


@dataclass(frozen=True, slots=True)
class SpeedLoss:
    """Lifting speed against the set's own fastest rep."""

    measure: str
    fastest_rep: int
    reps: tuple[int, ...]
    loss_percent: tuple[float, ...]
    """One a rep: 0 in the fastest, larger when slower."""
    margin_percent: float
    """95 % half-width of one loss, from the measuring alone."""
    last_percent: float
    threshold_percent: float | None
    """Set by the coach; None when not set."""
    reached_rep: int | None
    """First rep whose loss is beyond the threshold by more than its margin."""
    call: Call
    sentence: str
    caveat: str


@dataclass(frozen=True, slots=True)
class SetCourse:
    """What happened to form within one set."""

    reps: int
    trends: tuple[Trend, ...]
    onsets: tuple[Onset, ...]
    """Confirmed changes, earliest first."""
    breakdown: Breakdown | None
    """None when no change for the worse can be told."""
    speed_loss: SpeedLoss | None
    notes: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class Difference:
    """One measure in two groups of reps."""

    measure: str
    aspect: Aspect | None
    unit: str
    reps: int
    """Reps on each side of the comparison."""
    before: float
    after: float
    change: float
    margin: float
    """95 % half-width of the change: scatter between reps and what the camera may add."""
    effect: float | None
    """Change over the scatter between reps (Hedges' g); None without scatter."""
    effect_low: float | None
    effect_high: float | None
    detectable: float
    p: float
    """Exact two-sided permutation probability of this measure alone."""
    p_family: float
    call: Call
    sentence: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sets, two sessions, or the early and the late reps of one set."""

    differences: tuple[Difference, ...]
    """Measures of an aspect of form first, in the order of the aspects, then the others."""
    same_camera: bool
    """Same camera, same body: what the measurement always adds cancels."""
    fatigue_can_be_told: bool
    """False when the loads differ or are not known."""
    notes: tuple[str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class OneRepMax:
    """Estimated one-repetition maximum in kg, or the reason why there is none."""

    load_kg: float
    reps: int
    epley_kg: float | None
    brzycki_kg: float | None
    low_kg: float | None
    """The smaller of both."""
    high_kg: float | None
    """The larger of both."""
    sentence: str
    caveat: str
