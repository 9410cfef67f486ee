"""Invented sets as reviews: what a front view of lateral raises would measure of a lifter whose every rep is known.

A value is the lifter's own rep (level, own scatter, planted change) and what measuring adds: a part common to the
set and one that scatters, both from formcheck's own tables of margins and repeatability. The lifter's own scatter is
invented, about what the rendered sets use: 1.5 % of the range, 5 % of times and speeds.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from formcheck.core.model import (
    Array,
    CameraView,
    ClipInfo,
    ExerciseRef,
    Measure,
    PoseModelInfo,
    Quality,
    Rep,
    Review,
    SetInfo,
    Side,
    Tempo,
)
from formcheck.core.vocabulary import MEASURES
from formcheck.measures.margins import compute_margin
from formcheck.statistics.detectable_change import Z95, compute_rep_error

RANGE_DEG = 82.0
VIEW = CameraView("front", 3.0, 4.0, "estimated")
QUALITY = Quality(1.0, 30.0, 700.0, {}, {})
Noise = Callable[[np.random.Generator, int], Array]


@dataclass(frozen=True)
class Kind:
    """Usual level of a measure in such a set, and how much the lifter's own reps differ (standard deviation)."""

    level: float
    own: float
    sides: tuple[Side | None, ...] = (None,)


KINDS: Mapping[str, Kind] = {
    "range_of_motion": Kind(RANGE_DEG, 1.2, ("left", "right")),
    "arm_peak_difference": Kind(1.0, 0.8),
    "torso_side_lean_range": Kind(1.5, 0.3),
    "peak_speed": Kind(150.0, 7.5),
    "mean_concentric_speed": Kind(85.0, 4.2),
    "eccentric_time": Kind(1.6, 0.08),
    "concentric_time": Kind(1.0, 0.05),
    "concentric_smoothness": Kind(-1.5, 0.05),
    "eccentric_smoothness": Kind(-1.6, 0.05),
}


SIDES_OVER_WEEKS: Mapping[str, Kind] = {"arm_line_difference": Kind(1.0, 0.8)}
"""What left against right is followed by from session to session."""


def normal(rng: np.random.Generator, n: int) -> Array:
    """Values of mean 0 and standard deviation 1, `n` of them."""
    return np.asarray(rng.standard_normal(n))


def heavy_tailed(rng: np.random.Generator, n: int) -> Array:
    """The same with wild ones among them: Student's t with 4 degrees of freedom."""
    return np.asarray(rng.standard_t(4, n) / np.sqrt(2))


def wandering(rng: np.random.Generator, n: int) -> Array:
    """The same with a memory: each value keeps 0.3 of the one before."""
    out, fresh = np.zeros(n), rng.standard_normal(n)
    out[0] = fresh[0]
    for index in range(1, n):
        out[index] = 0.3 * out[index - 1] + np.sqrt(1 - 0.3**2) * fresh[index]
    return out


def invented_set(
    rng: np.random.Generator,
    n: int,
    *,
    course: Mapping[str, Array] | None = None,
    noise: Noise = normal,
    common: Mapping[str, float] | None = None,
    kinds: Mapping[str, Kind] = KINDS,
) -> Review:
    """A review of n reps.

    course : measure → (n,) planted change of the lifter, in its unit. common : measure → what measuring adds to all
    reps; drawn anew where not given, so pass the same to two sets of one camera. Times of reps mean nothing here.
    """
    measures: list[Measure] = []
    offsets = draw_common(rng, kinds) if common is None else common
    for name, kind in kinds.items():
        margin, scatter, _ = errors_of(name)
        own = kind.level + kind.own * noise(rng, n) + (course or {}).get(name, np.zeros(n))
        for side in kind.sides:
            values = own + offsets[name] + scatter * noise(rng, n)
            measures += [
                Measure(name, side, rep, float(value), margin, MEASURES[name].unit)
                for rep, value in enumerate(values, start=1)
            ]
    reps = tuple(Rep(i, 3.0 * i, 3.0 * i + 1, 3.0 * i + 2.6, True, Tempo(1.6, 0.4, 1.0, 0.0)) for i in range(1, n + 1))
    return Review(
        clip=ClipInfo("invented.mp4", "0" * 64, 480, 854, 3.0 * n + 4, 90 * n + 120, 30.0, False, "h264"),
        pose_model=PoseModelInfo("invented", "0" * 64),
        exercise=ExerciseRef("lateral-raise", "Lateral raise to shoulder height"),
        set_info=SetInfo(load_kg=8.0),
        view=VIEW,
        quality=QUALITY,
        reps=reps,
        measures=tuple(measures),
        findings=(),
        cautions=(),
    )


def draw_common(rng: np.random.Generator, kinds: Mapping[str, Kind] = KINDS) -> dict[str, float]:
    """What one camera adds to all reps of a set, measure by measure."""
    return {name: float(errors_of(name)[2] * rng.standard_normal()) for name in kinds}


@cache
def errors_of(name: str) -> tuple[float, float, float]:
    """Of a measure: its margin, and the standard deviations of what scatters and of what is common to all reps."""
    margin = compute_margin(name, {**KINDS, **SIDES_OVER_WEEKS}[name].level, VIEW, QUALITY)
    assert margin is not None
    scatter = compute_rep_error(name, "frontal", margin)
    return margin, scatter, float(np.sqrt(max((margin / Z95) ** 2 - scatter**2, 0.0)))


def loss(n: int, first: int, share: float, *, grows: bool) -> dict[str, Array]:
    """Range lost from rep `first` (from 1) on: `share` of it at once, or growing evenly up to that in the last rep."""
    late = np.maximum(np.arange(1, n + 1) - first + 1, 0)
    by = late / late[-1] if grows else (late > 0).astype(float)
    return {"range_of_motion": -share * RANGE_DEG * by}
