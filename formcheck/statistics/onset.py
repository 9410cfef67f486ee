"""The value from which on a series is different, and how sure that is; for any series.

The model: values scatter normally about one level up to some value, and from that value on are higher or lower, at
once or more with each value. Every first changed value and every shape is tried; the best fit's chance under no
change comes from simulated series that went through the same search.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from formcheck.core.model import Array

FEWEST = 5
GROWTH = (0.0, 0.25, 1.0)
"""How much a change adds with each further value, in units of its first: at once; at once and growing; a ramp."""
SIMULATED = 20_000
CREDIBLE = 0.95
USUAL_WEIGHT = 8
"""So many values the usual scatter counts for: a judgement, small enough that a set which scatters twice as much is
hardly called changed oftener."""


@dataclass(frozen=True, slots=True)
class OnsetFit:
    """The likeliest first index and shape of a change; indices count from 0."""

    first: int
    """Index of the first changed value: the most probable one."""
    likely: tuple[int, ...]
    """Smallest set of indices that holds 95 % of the probability."""
    probability: tuple[float, ...]
    """Of each index to be the first changed one."""
    growth: float
    before: float
    change: float
    """By the last value."""
    margin: float
    """95 % half-width of the change, given its first index and shape."""
    p: float
    """Probability of as good a fit without any change."""


def fit_onset(values: Sequence[float] | Array, scatter: float = 0.0, usual: float = 0.0) -> OnsetFit | None:
    """Where a series of n values changes; None below five values or without any spread.

    Parameters
    ----------
    scatter : standard deviation the values have at the least (what measuring adds); it keeps a few values that
        happen to lie close from being taken for exact.
    usual : standard deviation that such values usually have, 0 where that is not known. It counts as `USUAL_WEIGHT`
        values beside those of the series (moderated variance: Smyth 2004, Stat Appl Genet Mol Biol 3:3; from memory),
        for five values hardly tell their own scatter.
    """
    from scipy.special import stdtrit

    y = np.asarray(values, dtype=float)
    n = len(y)
    spread = float(((y - y.mean()) ** 2).sum()) if n else 0.0
    if n < FEWEST or spread <= 0:
        return None
    firsts, growths, shapes = _make_shapes(n)
    explained = ((shapes - shapes.mean(axis=1, keepdims=True)) @ y) ** 2 / _sum_squares(shapes)
    left = np.maximum(spread - explained, 1e-12 * spread)
    weight = _compute_evidence(left, n, scatter)
    probability: Array = np.bincount(firsts, weights=weight, minlength=n).astype(np.float64)
    probability = probability / probability.sum()
    first = int(probability.argmax())
    best = int(np.argmax(np.where(firsts == first, weight, -1.0)))
    shape = shapes[best]
    slope = float(((shape - shape.mean()) @ y) / _sum_squares(shape[None])[0])
    sd = max(float(np.sqrt(left[best] / (n - 2))), scatter)
    error = sd / float(np.sqrt(_sum_squares(shape[None])[0])) * shape[-1]
    return OnsetFit(
        first=first,
        likely=find_credible(probability),
        probability=tuple(probability.tolist()),
        growth=float(growths[best]),
        before=float(y.mean() - slope * shape.mean()),
        change=slope * float(shape[-1]),
        margin=float(stdtrit(n - 2, 0.975) * error),
        p=_compute_chance(float(explained.max()), spread, n, usual),
    )


@dataclass(frozen=True, slots=True)
class StepFit:
    """Two levels on both sides of a given index."""

    before: float
    after: float
    margin: float
    """95 % half-width of their difference."""
    p: float
    """Probability of as large a difference without any change."""


def fit_step(values: Sequence[float] | Array, first: int, scatter: float = 0.0) -> StepFit | None:
    """How much a series differs from a given index on; None below five values, or with none on one side.

    Student's t of two means with one scatter, that of measuring at the least. The index is taken to have been sought
    among all but the first, so the probability is multiplied by their number (Bonferroni).
    """
    from scipy.special import stdtr, stdtrit

    y = np.asarray(values, dtype=float)
    n = len(y)
    if n < FEWEST or not 0 < first < n:
        return None
    groups = y[:first], y[first:]
    before, after = (float(group.mean()) for group in groups)
    left = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    error = max(math.sqrt(left / (n - 2)), scatter) * math.sqrt(1 / first + 1 / (n - first))
    if error == 0:
        return StepFit(before, after, 0.0, 0.0 if before != after else 1.0)
    p = 2 * (n - 1) * float(stdtr(n - 2, -abs(after - before) / error))
    return StepFit(before, after, float(stdtrit(n - 2, 0.975)) * error, min(p, 1.0))


def find_credible(probability: Sequence[float] | Array) -> tuple[int, ...]:
    """Smallest set of indices that holds at least 95 % of a probability over indices."""
    chances = np.asarray(probability, dtype=float)
    order = np.argsort(-chances, kind="stable")
    needed = int(np.searchsorted(chances[order].cumsum() / chances.sum(), CREDIBLE - 1e-12)) + 1
    return tuple(sorted(int(index) for index in order[:needed]))


def holm(p: Sequence[float]) -> list[float]:
    """Probabilities made good for looking at several at once (step-down, family-wise): Holm 1979, from memory."""
    adjusted, largest = [1.0] * len(p), 0.0
    for rank, index in enumerate(np.argsort(p, kind="stable")):
        largest = max(largest, min(1.0, (len(p) - rank) * p[index]))
        adjusted[int(index)] = largest
    return adjusted


def _compute_evidence(left: Array, n: int, scatter: float) -> Array:
    """Likelihood of each fit with level and size of the change free and the scatter unknown, but not below its least.

    ∫ σ^−(n−1) exp(−SSR/2σ²) dσ from the least scatter on, with level and size integrated out, in closed form by the
    incomplete gamma function; up to a factor common to all fits.
    """
    from scipy.special import gammainc

    power = (n - 2) / 2
    log = -power * np.log(left / left.min())
    if scatter > 0:
        log = log + np.log(np.maximum(gammainc(power, left / (2 * scatter**2)), 1e-300))
    return np.asarray(np.exp(log - log.max()))


def _sum_squares(shapes: Array) -> Array:
    """(k,) sums of squares of shapes about their means."""
    return np.asarray(((shapes - shapes.mean(axis=1, keepdims=True)) ** 2).sum(axis=1))


@lru_cache(maxsize=64)
def _make_shapes(n: int) -> tuple[NDArray[np.intp], Array, Array]:
    """First changed index (k,), growth (k,) and shape (k, n) of every change tried.

    Two values at least are on each side, but for a ramp, which may begin with the second value: a straight line.
    """
    found = []
    for growth in GROWTH:
        for first in range(1 if growth == 1 else 2, n - 1):
            after = np.arange(n) - first
            found.append((first, growth, np.where(after >= 0, 1 + growth * after, 0.0)))
    firsts, growths, shapes = zip(*found, strict=True)
    return np.array(firsts), np.array(growths), np.array(shapes)


def _compute_chance(explained: float, spread: float, n: int, usual: float) -> float:
    """Probability that a change explains as much of the spread, and of the usual one beside it, where there is none."""
    weight = USUAL_WEIGHT if usual > 0 else 0
    best = explained / (spread + weight * usual**2)
    return float((1 + np.sum(_simulate_null(n, weight) >= best - 1e-12)) / (SIMULATED + 1))


@lru_cache(maxsize=64)
def _simulate_null(n: int, weight: int = 0) -> Array:
    """(SIMULATED,) best shares of the spread that a change explains in series of n normal values without one.

    ``weight`` : degrees of freedom of the usual spread that is added to that of the series.
    """
    _, _, shapes = _make_shapes(n)
    centred = (shapes - shapes.mean(axis=1, keepdims=True)) / np.sqrt(_sum_squares(shapes))[:, None]
    rng = np.random.default_rng([n, SIMULATED])
    y = rng.standard_normal((SIMULATED, n))
    y -= y.mean(axis=1, keepdims=True)
    best = np.zeros(SIMULATED)
    for shape in centred:
        np.maximum(best, (y @ shape) ** 2, out=best)
    beside = rng.chisquare(weight, SIMULATED) if weight else 0.0
    return np.asarray(best / ((y**2).sum(axis=1) + beside))
