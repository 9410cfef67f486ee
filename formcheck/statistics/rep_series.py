"""A review's measures as series over the reps, and which of them stand for which aspect of form."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from formcheck.core.model import SIDES, Array, ClipPart, Review, Side
from formcheck.core.vocabulary import get_title
from formcheck.signals.camera import Plane, get_plane
from formcheck.statistics.change_text import format_amount
from formcheck.statistics.detectable_change import compute_rep_error
from formcheck.statistics.results import Aspect

Worse = Literal["lower", "higher", "farther_from_zero"]
ASPECTS: tuple[tuple[Aspect, tuple[tuple[str, Worse], ...]], ...] = (
    (
        "range",
        (
            ("range_of_motion", "lower"),
            ("arm_flexion_range", "lower"),
            ("arm_extension_range", "lower"),
            ("elbow_flexion_range", "lower"),
            ("knee_flexion_range", "lower"),
            ("range_share", "lower"),
        ),
    ),
    ("speed", (("mean_concentric_speed", "lower"), ("concentric_time", "higher"))),
    ("lowering", (("eccentric_time", "lower"),)),
    ("torso", (("torso_inclination_range", "higher"), ("torso_side_lean_range", "higher"))),
    (
        "asymmetry",
        (
            ("arm_line_difference", "farther_from_zero"),
            ("hand_height_difference_top", "farther_from_zero"),
            ("arm_peak_difference", "farther_from_zero"),
        ),
    ),
    ("smoothness", (("concentric_smoothness", "lower"),)),
)
"""What each aspect is read from: the first measure the set has, with the direction that is for the worse."""
TORSO_IS_THE_LIFT = "torso_inclination_min"
"""A measure of exercises whose very movement is that of the torso: there it says nothing of sway."""
TORSO_RANGE = "torso_inclination_range"


@dataclass(frozen=True, eq=False)
class Series:
    """One measure over the reps in which it has a value, n of them."""

    measure: str
    side: Side | None
    unit: str
    reps: tuple[int, ...]
    """(n,) rep numbers, rising."""
    values: Array
    """(n,) in the measure's unit."""
    margin: float
    """Mean 95 % half-width of one value."""
    scatter: float
    """Standard deviation of what measuring adds to one rep and not to the next."""

    @property
    def title(self) -> str:
        """The measure as a reader knows it, such as ``Range of motion (left)``."""
        return get_title(self.measure, self.side)

    @property
    def by_rep(self) -> dict[int, float]:
        """Rep number → value."""
        return dict(zip(self.reps, self.values.tolist(), strict=True))

    def format(self, value: float, margin: float | None = None) -> str:
        """A value of this measure as a reader sees it, such as ``9° ± 4°``."""
        return format_amount(value, self.unit, margin, measure=self.measure)


OTHER_DEFINITIONS = (
    "One of the sets was reviewed by an earlier formcheck, which read angles otherwise, so only times are compared: "
    "make that review anew (formcheck renew)."
)


def take_comparable(reviews: Sequence[Review]) -> tuple[Review, ...]:
    """The reviews, those whose measures were read by earlier definitions than the newest ones' with their times alone.

    A number of one name that comes to mean another never stands in one series with what it meant before.
    """
    newest = max((review.measures_version for review in reviews), default=1)
    return tuple(
        review
        if review.measures_version == newest
        else replace(review, measures=tuple(item for item in review.measures if item.unit == "s"))
        for review in reviews
    )


def list_series_by_side(review: Review) -> tuple[Series, ...]:
    """Every measure and side that has a value in at least one rep, in the review's order."""
    plane = get_plane(review.view)
    found: dict[tuple[str, Side | None], list[tuple[int, float, float]]] = {}
    for item in review.measures:
        if item.rep is not None and item.value is not None and item.margin is not None:
            found.setdefault((item.name, item.side), []).append((item.rep, item.value, item.margin))
    units = {item.name: item.unit for item in review.measures}
    return tuple(_make_series(name, side, units[name], sorted(rows), plane) for (name, side), rows in found.items())


def list_series(review: Review) -> tuple[Series, ...]:
    """One series a measure: of a sided one the mean of both sides, or the one side the camera saw better."""
    sided: dict[str, list[Series]] = {}
    for item in list_series_by_side(review):
        sided.setdefault(item.measure, []).append(item)
    return tuple(_average_sides(items) for items in sided.values())


def find_aspects(series: tuple[Series, ...]) -> Iterator[tuple[Aspect, Worse, Series]]:
    """The series that stand for an aspect, in the aspects' order."""
    known = {item.measure: item for item in series}
    torso_lifts = TORSO_IS_THE_LIFT in known
    for aspect, candidates in ASPECTS:
        if aspect == "range" and torso_lifts:
            candidates = ((TORSO_RANGE, "lower"), *candidates)
        for measure, worse in candidates:
            if measure in known and not (aspect == "torso" and torso_lifts and measure == TORSO_RANGE):
                yield aspect, worse, known[measure]
                break


def list_measures(aspect: Aspect) -> frozenset[str]:
    """Every measure that may speak for an aspect."""
    return frozenset(measure for name, candidates in ASPECTS if name == aspect for measure, _ in candidates)


def take_side(review: Review, side: Side) -> Review:
    """The review of one arm: the reps it makes alone or together with the other, and the measures of it in them."""
    reps = tuple(rep for rep in review.reps if rep.side in (side, None))
    numbers = {None, *(rep.number for rep in reps)}
    mine = tuple(item for item in review.measures if item.rep in numbers and item.side in (side, None))
    return replace(review, reps=reps, measures=mine)


def take_longest_run(review: Review) -> Review:
    """The review of the longest run of reps without a cut, the earliest of several; reps keep their numbers.

    A clip without cuts is one run, and the review is handed back as it is.
    """
    if len([part for part in review.parts if part.reps]) < 2:
        return review
    part = max(review.parts, key=lambda part: len(part.reps))
    numbers = set(part.reps)
    return replace(
        review,
        view=part.view,
        reps=tuple(rep for rep in review.reps if rep.number in numbers),
        measures=tuple(item for item in review.measures if item.rep is None or item.rep in numbers),
        parts=(part,),
    )


def find_part(review: Review, number: int) -> ClipPart | None:
    """The part a rep lies in; None in a clip without cuts, or where there is no such rep."""
    return next((part for part in review.parts if number in part.reps), None)


def is_worse(worse: Worse, before: float, after: float) -> bool:
    """Whether a change goes in the direction that is for the worse."""
    if worse == "farther_from_zero":
        return abs(after) > abs(before)
    return after < before if worse == "lower" else after > before


def _make_series(name: str, side: Side | None, unit: str, rows: list[tuple[int, float, float]], plane: Plane) -> Series:
    margin = float(np.mean([row[2] for row in rows]))
    return Series(
        measure=name,
        side=side,
        unit=unit,
        reps=tuple(row[0] for row in rows),
        values=np.array([row[1] for row in rows]),
        margin=margin,
        scatter=compute_rep_error(name, plane, margin),
    )


def average_both_sides(one: Series, other: Series) -> Series:
    """The mean of both sides in the reps in which both have a value.

    What measuring adds is alike on both, so the mean's margin is not taken for smaller.
    """
    reps = tuple(sorted(one.by_rep.keys() & other.by_rep.keys()))
    return replace(
        one,
        side=None,
        reps=reps,
        values=np.array([(one.by_rep[rep] + other.by_rep[rep]) / 2 for rep in reps]),
        margin=max(one.margin, other.margin),
        scatter=max(one.scatter, other.scatter),
    )


def _average_sides(items: list[Series]) -> Series:
    fuller = max(items, key=lambda item: len(item.reps))
    if len(items) == len(SIDES):
        both = average_both_sides(*items)
        if 2 * len(both.reps) > len(fuller.reps):
            return both
    return replace(fuller, side=None)
