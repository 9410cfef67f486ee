"""Over several sessions: the trend of each measure from set to set."""

from collections.abc import Sequence

import numpy as np

from formcheck.core.errors import UsageError
from formcheck.core.model import Review
from formcheck.statistics.detectable_change import mean_error
from formcheck.statistics.rep_series import Series, series_by_measure
from formcheck.statistics.results import Trend
from formcheck.statistics.set_trends import trends_of


def find_session_trends(reviews: Sequence[Review]) -> tuple[Trend, ...]:
    """The trend of each measure's mean over sets in order of time, such as one set a session.

    Between sessions the camera is set up anew, so the whole margin blurs. Raises UsageError when the sets are of
    different exercises.
    """
    if len({review.exercise.id for review in reviews}) > 1:
        raise UsageError("A course over sessions can be told when all sets are of one exercise.")
    found: dict[str, list[tuple[int, Series]]] = {}
    for number, review in enumerate(reviews, start=1):
        for item in series_by_measure(review):
            found.setdefault(item.measure, []).append((number, item))
    return trends_of([_session_means(rows) for rows in found.values()], steps="sets")


def _session_means(rows: Sequence[tuple[int, Series]]) -> Series:
    """A course over sets whose values are means over reps; each scatters by its whole error of measurement."""
    item = rows[0][1]
    errors = [mean_error(one.scatter, one.margin, len(one.reps), same_camera=False) for _, one in rows]
    return Series(
        measure=item.measure,
        side=None,
        unit=item.unit,
        reps=tuple(number for number, _ in rows),
        values=np.array([one.values.mean() for _, one in rows]),
        margin=float(np.mean([one.margin for _, one in rows])),
        scatter=float(np.sqrt(np.mean(np.square(errors)))),
    )
