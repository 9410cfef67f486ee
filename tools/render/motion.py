"""A set as it is asked for (plan) and as it runs in time: minimum-jerk phases, pauses, sway and tremor."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from body import Array

BENCH_TOP = 0.45


@dataclass(frozen=True)
class RepPlan:
    """One repetition as asked for; seconds and degrees."""

    con: float = 1.1
    top: float = 0.3
    ecc: float = 1.8
    bottom: float = 0.5
    left_lower: float = 0.0
    right_lower: float = 0.0
    torso_rise: float = 0.0
    """How far the trunk comes up with the arms."""
    swing: float = 0.0
    """Trunk first leans forwards, then backwards, by this much."""
    changes: tuple[tuple[str, Any], ...] = ()
    """For exercises of `movements`: parts of the move that are different in this rep."""
    share: float = 1.0
    """Share of the whole way out that is done (0.5 = a half rep)."""
    side: str = "both"
    """both, left or right: which arm works; the other stays where the rep begins."""
    shrug: float = 0.0
    """How far the shoulders are drawn up at the turn, degrees of the collar bones."""
    legs_first: float = 0.0
    """Share of the way back by which the knees are ahead of the trunk: hips rise before the chest."""
    drift: float = 0.0
    """How far the trunk is more upright than in the first rep, all through this one, degrees."""


@dataclass(frozen=True)
class SetPlan:
    """A whole clip's movement."""

    exercise: str
    reps: tuple[RepPlan, ...]
    seed: int
    still: float = 1.1
    setup: str = "still"
    """still or settle (small movements before the set)."""
    tail: float = 1.0
    variety: float = 1.0
    """How much reps differ by chance."""
    changes: tuple[tuple[str, Any], ...] = ()
    """For exercises of `movements`: parts of the move that are different in the whole set."""


@dataclass(frozen=True)
class Times:
    """When a repetition was planned to start, reach the top, leave it and end; seconds."""

    start: float
    top_start: float
    top_end: float
    end: float


class Track:
    """Values over time: minimum-jerk between key points, at rest before, between equal ones and after."""

    def __init__(self, value: float) -> None:
        self.keys: list[tuple[float, float]] = [(0.0, value)]

    def hold(self, until: float) -> None:
        """Stay where it is."""
        self.keys.append((until, self.keys[-1][1]))

    def to(self, start: float, end: float, value: float) -> None:
        """Rest until start, then move to value by end."""
        if start > self.keys[-1][0]:
            self.hold(start)
        self.keys.append((end, value))

    def at(self, t: Array) -> Array:
        """(n,) values."""
        out = np.full(t.shape, self.keys[0][1])
        for (t0, v0), (t1, v1) in zip(self.keys, self.keys[1:], strict=False):
            u = np.clip((t - t0) / max(t1 - t0, 1e-9), 0.0, 1.0)
            step = u**3 * (10.0 - 15.0 * u + 6.0 * u**2)
            out = np.where(t >= t0, v0 + (v1 - v0) * step, out)
        return np.asarray(out)


def wander(rng: np.random.Generator) -> Callable[[Array], Array]:
    """A slow sway with a little tremor on it, about 1 in size."""
    slow = rng.uniform(0.12, 0.55, 3), rng.uniform(0, 2 * np.pi, 3)
    quick = rng.uniform(5.0, 8.5, 2), rng.uniform(0, 2 * np.pi, 2)

    def wave(t: Array) -> Array:
        big = sum(np.sin(2 * np.pi * f * t + p) for f, p in zip(*slow, strict=True))
        small = sum(np.sin(2 * np.pi * f * t + p) for f, p in zip(*quick, strict=True))
        return np.asarray(0.6 * np.asarray(big) + 0.12 * np.asarray(small))

    return wave


def frame_times(duration: float, rate: float, *, phone_like: bool, seed: int) -> Array:
    """(n,) presentation times in seconds; phone-like clips have an uneven rate with single frames left out."""
    even = np.arange(0.0, duration, 1.0 / rate)
    if not phone_like:
        return even
    rng = np.random.default_rng(seed)
    uneven = even + rng.normal(0.0, 0.0025, even.shape).clip(-0.006, 0.006)
    kept = rng.random(even.shape) > 0.06
    kept[0] = True
    uneven = uneven[kept]
    return np.asarray(np.round((uneven - uneven[0]) * 90000) / 90000)
