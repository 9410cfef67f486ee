"""A set held against a rep of the client's own that the coach chose as a good one.

Two recordings of one body from nearly one place share most of what a level is off by (where the landmarks sit under the
skin), so a difference between them is known far better than either level, and worse than a change within one set, whose
camera did not move. `reference_rep.toml` holds how well, by measure and plane.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

from formcheck.core.errors import UsageError
from formcheck.core.model import SIDES, CameraView, ReferenceComparison, ReferenceDifference, Review
from formcheck.signals.camera import Plane, get_plane
from formcheck.signals.geometry import wrap_degrees
from formcheck.statistics.detectable_change import Z95
from formcheck.statistics.onset import holm
from formcheck.statistics.rep_series import Series, average_both_sides, find_part, list_series_by_side, take_comparable

MOST_YAW_DEG = 10.0
"""A camera within this of where it stood sees the lifter alike; the margins hold up to there."""
OF_ITS_SET = frozenset({"range_share", "shoulder_creep", "hand_line_drift"})
"""Measures that hold a rep against the others of its own set: between two sets they say nothing."""
YAW_MARGIN_DEG = 6.5
"""95 % of the differences of two estimated yaws lay this near the truth (rendered lifters filmed twice)."""
ALPHA = 0.03
"""Chance of telling any difference of a set that is as the reference rep."""


@cache
def _read_table() -> Mapping[str, Mapping[str, float]]:
    return tomllib.loads((Path(__file__).parent / "reference_rep.toml").read_text(encoding="utf-8"))


OF_SET = "_of_set"
"""Ending of the key that holds for the mean of a set's reps."""


def get_difference_share(measure: str, unit: str, plane: Plane, *, of_set: bool) -> float:
    """Share of two values' margins, added up as those of a difference, that is left between two recordings, 0..1.

    Parameters
    ----------
    of_set : of the mean of a set's reps less one rep; else of one rep less another.

    A measure that is not tabled in a plane takes what its unit has there, a unit not tabled all of the margins.
    """
    key, rows = plane + (OF_SET if of_set else ""), _read_table()
    return next((rows[name][key] for name in (measure, unit) if key in rows.get(name, {})), 1.0)


def compare_with_reference(review: Review, reference: Review, rep: int, *, session_on: date) -> ReferenceComparison:
    """What differs in a set from the reference rep; nothing is compared where the cameras do not stand alike.

    Parameters
    ----------
    reference, rep : the set the reference rep is of, and its number there.
    session_on : the day of that set.

    A measure is compared that a check of the exercise judges, that both have of the same side, and that one camera read
    (of a pair the first). Sides are averaged where both have both. Told is what chance makes in less than `ALPHA` of
    all sets (normal, Holm for all measures together).

    Raises UsageError when the sets are of different exercises or camera sides, or there is no such rep.
    """
    if review.exercise.id != reference.exercise.id:
        raise UsageError(f"The reference rep is of {reference.exercise.name}, and this set of {review.exercise.name}.")
    if rep not in {item.number for item in reference.reps}:
        raise UsageError(f"There is no rep {rep} in the set of the reference rep.")
    then = find_view(reference, rep)
    if review.view.name != then.name:
        raise UsageError("The reference rep was filmed from another side than this set.")
    off = compute_yaw_difference(review.view, then)
    alike = off is not None and abs(off) <= MOST_YAW_DEG
    return ReferenceComparison(
        clip_name=reference.clip.name,
        clip_sha256=reference.clip.sha256,
        rep=rep,
        session_on=session_on,
        yaw_difference_deg=off,
        yaw_margin_deg=None if off is None else YAW_MARGIN_DEG,
        alike=alike,
        differences=_list_differences(review, reference, rep) if alike else (),
    )


def find_view(review: Review, rep: int) -> CameraView:
    """Where the camera stood in a rep: of a clip with cuts, in the rep's part of it."""
    return (find_part(review, rep) or review).view


def compute_yaw_difference(now: CameraView, then: CameraView) -> float | None:
    """How far one camera stands from the other around the lifter, -180..180 degrees; None where one is not known."""
    if now.yaw_deg is None or then.yaw_deg is None or not (now.known and then.known):
        return None
    return wrap_degrees(now.yaw_deg - then.yaw_deg)


def _list_differences(review: Review, reference: Review, rep: int) -> tuple[ReferenceDifference, ...]:
    from scipy.special import ndtr

    judged = dict.fromkeys(finding.measure for finding in review.findings if finding.measure)
    judged = {name: None for name in judged if name not in OF_ITS_SET}
    comparable = take_comparable((review, reference))
    now, then = (list_series_by_side(_keep_first_camera(one)) for one in comparable)
    whole, plane = _list_whole(review), get_plane(review.view)
    found = []
    for name in judged:
        mine, other = _pair_sides([item for item in now if item.measure == name], then, name)
        if mine is not None and other is not None and rep in other.reps:
            item = compute_difference(mine, other.by_rep[rep], other.margin, whole, plane)
            found += [] if item is None else [item]
    chances = [float(2 * ndtr(-Z95 * abs(item.difference) / max(item.margin, 1e-9))) for item in found]
    told = [chance <= ALPHA for chance in holm(chances)]
    return tuple(replace(item, told=one) for item, one in zip(found, told, strict=True))


def _pair_sides(now: Sequence[Series], then: Sequence[Series], name: str) -> tuple[Series | None, Series | None]:
    """The measure in both: the mean of both sides where both have them, else the side that both have."""
    mine, other = ({item.side: item for item in series if item.measure == name} for series in (now, then))
    shared = [side for side in mine if side in other]
    if len(shared) == len(SIDES):
        return average_both_sides(*(mine[side] for side in SIDES)), average_both_sides(*(other[side] for side in SIDES))
    return (mine[shared[0]], other[shared[0]]) if shared else (None, None)


def compute_difference(
    series: Series, reference: float, reference_margin: float, whole: set[int], plane: Plane
) -> ReferenceDifference | None:
    """A set's values of one measure less that of the reference rep; None where no whole rep has one."""
    kept = [at for at, rep in enumerate(series.reps) if rep in whole]
    if not kept:
        return None
    values = series.values[kept]
    margins = math.hypot(series.margin, reference_margin)
    return ReferenceDifference(
        measure=series.measure,
        side=series.side,
        unit=series.unit,
        reference=reference,
        difference=float(values.mean()) - reference,
        margin=get_difference_share(series.measure, series.unit, plane, of_set=True) * margins,
        told=False,
        reps=tuple(series.reps[at] for at in kept),
        by_rep=tuple(float(value) - reference for value in values),
        rep_margin=get_difference_share(series.measure, series.unit, plane, of_set=False) * margins,
    )


def _list_whole(review: Review) -> set[int]:
    """Whole reps filmed from the review's own side."""
    return {
        rep.number for rep in review.reps if rep.complete and find_view(review, rep.number).name == review.view.name
    }


def _keep_first_camera(review: Review) -> Review:
    return replace(review, measures=tuple(item for item in review.measures if item.camera in (None, "first")))
